"""Keeps the rows of tables whose rows have to add up over the whole file until it has been read."""

from __future__ import annotations

from dataclasses import dataclass, field

from monitor.intake.chunk import Chunk
from monitor.intake.settle import joined, rest
from shared.errors import RefusedFile
from shared.phrases import phrase
from shared.reasons.files import FEWER_ROWS, SPLIT_FILE, TOO_MANY_ROWS
from shared.table import Table

_TABLES = frozenset({"inspections"})
#: Years of a plant's inspections (common practice, no source); it keeps a file from filling the memory.
MOST_ROWS = 4_000_000


@dataclass
class Together:
    """Rows kept back; of a table whose rows stand alone, none."""

    table: Table
    where: str
    chunks: list[Chunk] = field(default_factory=list)
    rows: int = 0

    def keep(self, chunk: Chunk) -> Chunk:
        """Keep the sound rows of a chunk where they have to add up; the rest goes on.  Raises RefusedFile."""
        if self.table.name not in _TABLES:
            return chunk
        sound = chunk.sound()
        self.rows += int(sound.sum())
        if self.rows > MOST_ROWS:
            seen = phrase(TOO_MANY_ROWS, n=f"{MOST_ROWS:,}", table=self.table.name)
            raise RefusedFile(self.where, seen, phrase(FEWER_ROWS), phrase(SPLIT_FILE))
        self.chunks.append(rest(chunk, sound))
        return rest(chunk, ~sound)

    def all(self) -> Chunk | None:
        """All rows kept, None where there are none."""
        return joined(self.chunks) if self.rows else None
