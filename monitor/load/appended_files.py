"""Files that were appended to since they were loaded: what was set aside of them then is not set aside twice."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.intake import Rejected, open_plain
from monitor.ledger import SetAside, Writer

_READ_BLOCK = 1 << 20


@dataclass(frozen=True)
class Digest:
    """Digest, size and time of change of a file, and the digests of what stood in it up to some earlier sizes."""

    sha256: str
    size: int
    upto: dict[int, str]
    mtime_ns: int = 0


def digest(path: Path, label: str, sizes: Collection[int] = ()) -> Digest:
    """Digest of a file; `label` is part of it, since another column profile makes other rows of the same bytes.

    Raises RefusedFile for what is no plain file, OSError.
    """
    running, done, upto = hashlib.sha256(label.encode()), 0, {}
    marks = sorted(size for size in sizes if size)
    with open_plain(path) as file:
        mtime_ns = os.fstat(file.fileno()).st_mtime_ns
        while block := file.read(min(_READ_BLOCK, marks[0] - done) if marks else _READ_BLOCK):
            running.update(block)
            done += len(block)
            if marks and done == marks[0]:
                upto[marks.pop(0)] = running.hexdigest()
    return Digest(running.hexdigest(), done, upto, mtime_ns)


def has_changed(path: Path, label: str, found: Digest) -> bool:
    """Whether a file no longer begins with the bytes of a digest.

    One that has only grown, or was taken away after it was read, has not changed.
    """
    try:
        stat = path.stat()
    except FileNotFoundError:
        return False
    if (stat.st_size, stat.st_mtime_ns) == (found.size, found.mtime_ns):
        return False
    return stat.st_size < found.size or digest(path, label, {found.size}).upto.get(found.size) != found.sha256


@dataclass
class EarlierLoads:
    """Rows set aside when the beginning of a file was loaded, by line and the row as it came.

    `later` are loads of corrections beside which a plain load of the same comes first, whichever was loaded first.
    """

    still: dict[tuple[int, str], SetAside] = field(default_factory=dict)
    let_in: frozenset[tuple[int, str]] = frozenset()
    later: frozenset[int] = frozenset()
    _again: set[int] = field(default_factory=set)

    @classmethod
    def of(cls, writer: Writer, alike: Collection[int], others: Collection[int], correct: bool) -> EarlierLoads:
        """Return rows set aside by the loads of the beginning, those released since included.

        `alike` are corrections as this load is, or plain as it is; of the `others` a row that waits will come in for
        itself, since it has another rank.
        """
        still, let_in = writer.set_aside_by([*alike, *others])
        held = {(row.line, row.row): row for row in still if row.load_id in alike or not row.waits_for}
        later = frozenset() if correct else frozenset(others)
        mine = frozenset((row.line, row.row) for row in let_in if row.load_id in alike)
        return cls(held, mine, later)

    def set_aside_by_corrections(self, rejected: Iterable[Rejected]) -> list[SetAside]:
        """Rows that corrections set aside first, and that are set aside by this plain load now."""
        found = (self.still.get((row.line, row.row)) for row in rejected)
        return [row for row in found if row and row.load_id in self.later]

    def fresh(self, rejected: Sequence[Rejected]) -> list[Rejected]:
        """Rows that were not set aside before."""
        self._again.update(row.line for row in rejected)
        return [row for row in rejected if not self._held(row)]

    def add_repeats(self, lines: Iterable[int]) -> None:
        """Add lines that repeat a row set aside: they are not loaded either."""
        self._again.update(lines)

    def _held(self, row: Rejected) -> bool:
        return (row.line, row.row) in self.still or (row.line, row.row) in self.let_in

    def completed(self) -> list[SetAside]:
        """Rows that were set aside, of lines that are loaded now: they had been cut short."""
        return [row for row in self.still.values() if row.line not in self._again]
