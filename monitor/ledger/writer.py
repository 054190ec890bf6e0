"""Writing one version of the ledger: all of it or nothing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.aside_writer import AsideWriter
from monitor.ledger.database import read_about, write_about
from monitor.ledger.files import PartFiles
from monitor.ledger.fold_writer import FoldWriter
from monitor.ledger.merge_bulk import BulkMerge
from monitor.ledger.merge_strokes import join_strokes, merge_strokes
from monitor.ledger.merge_tables import merge_table
from monitor.ledger.outcome import Merge
from monitor.ledger.parts import Part, find_parts
from monitor.ledger.schema import (
    BULK,
    FILES,
    LOADS,
    PARTS,
    PLANTS,
    PROFILES,
    ROWS,
    VERSIONS,
    live,
)
from shared.calendar import Calendar
from shared.errors import DamagedPart
from shared.tables import TABLES


class Writer(FoldWriter, AsideWriter):
    """The version being written; what it reads includes what it has written.  Made by `Ledger.writer`."""

    def __init__(self, connection: sa.Connection, files: PartFiles, version: int, calendar: Calendar) -> None:
        super().__init__(connection, files, version, calendar)
        self._load: tuple[int, sa.NestedTransaction, int] | None = None

    # Loads

    def load_id_of(self, sha256: str) -> int | None:
        """Load of a file by the digest of its bytes; None where it has not been taken yet or was refused."""
        query = sa.select(LOADS.c.load_id).where(LOADS.c.sha256 == sha256, LOADS.c.refused == "", LOADS.c.lost == 0)
        return self._connection.scalar(query)

    def loads_of_file(self, file: str, table: str) -> list[tuple[int, int, str]]:
        """Loads that took a file of this name: load, size [bytes] and digest."""
        query = sa.select(LOADS.c.load_id, LOADS.c.size, LOADS.c.sha256).order_by(LOADS.c.load_id)
        query = query.where(LOADS.c.file == file, LOADS.c.table == table, LOADS.c.refused == "", LOADS.c.lost == 0)
        return [(load_id, size, sha256) for load_id, size, sha256 in self._all(query)]

    def begin_load(
        self,
        file: str,
        table: str,
        sha256: str,
        size: int,
        profile: str = "",
        entered_by: str = "",
        undoes: int = 0,
    ) -> int:
        """Begin the load of a file; what is merged until `finish_load` counts for it and goes if it is refused.

        `profile` is the name and version of the column profile it is read by; `entered_by` is who enters it by hand,
        `undoes` the entry that it takes back.
        """
        if self._load is not None:
            raise RuntimeError(f"load {self._load[0]} is not finished")
        again = (LOADS.c.sha256 == sha256) & (LOADS.c.file == file) & (LOADS.c.refused != "")
        self._execute(sa.delete(LOADS).where(again))
        values = {"file": file, "table": table, "sha256": sha256, "size": size, "loaded_at": self._now_us()}
        load_id = self._insert_load({**values, "profile": profile, "entered_by": entered_by, "undoes": undoes})
        self._load = load_id, self._connection.begin_nested(), len(self.parts.written)
        return load_id

    def finish_load(
        self,
        load_id: int,
        *,
        rows: int = 0,
        outside: int = 0,
        read: int = 0,
        new: int = 0,
        repeated: int = 0,
        corrected: int = 0,
        set_aside: int = 0,
        refused: str = "",
    ) -> None:
        """End a load with its counts; a reason in `refused` undoes all it merged and keeps the reason alone."""
        if self._load is None or self._load[0] != load_id:
            raise RuntimeError(f"load {load_id} is not under way")
        _, savepoint, written = self._load
        self._load = None
        if refused:
            savepoint.rollback()
            self.parts.wait()
            self._files.remove(self.parts.written[written:])
        else:
            savepoint.commit()
        counts = {
            "rows": rows,
            "outside": outside,
            "read": read,
            "new": new,
            "repeated": repeated,
            "corrected": corrected,
            "set_aside": set_aside,
        }
        self._execute(sa.update(LOADS).where(LOADS.c.load_id == load_id).values(**counts, refused=refused))

    def recount(self, load_id: int, *, new: int = 0, repeated: int = 0, corrected: int = 0) -> None:
        """Move rows of a load from set aside to what became of them since."""
        moved = {"new": new, "repeated": repeated, "corrected": corrected, "set_aside": -(new + repeated + corrected)}
        changed = {name: LOADS.c[name] + count for name, count in moved.items()}
        self._execute(sa.update(LOADS).where(LOADS.c.load_id == load_id).values(**changed))

    def uncount(self, load_id: int, rows: int) -> None:
        """Count rows of a load as set aside that were counted as new, or as corrected where no more are."""
        taken = sa.func.min(rows, LOADS.c.new)
        changed = {"new": LOADS.c.new - taken, "corrected": LOADS.c.corrected - (rows - taken)}
        values = {**changed, "set_aside": LOADS.c.set_aside + rows}
        self._execute(sa.update(LOADS).where(LOADS.c.load_id == load_id).values(**values))

    def merge(
        self,
        table: str,
        rows: pa.Table,
        load_id: int,
        correct: bool = False,
        burst: Mapping[str, int] | None = None,
    ) -> Merge:
        """Merge a batch of rows of a table with their `line`.

        The same key with the same values is a repeat; other values replace the stored ones where they were recorded
        later, or with `correct`, and are conflicts otherwise.  `burst` gives, by press, the greatest counter
        difference of two readings at one time.
        """
        self.changed = True
        if table == "strokes":
            return merge_strokes(self.parts, rows, load_id, self._given, burst or {}, correct)
        contract = TABLES[table]
        if table in BULK:
            return BulkMerge(self.parts, contract, self._given).merge(rows, load_id, correct)
        return merge_table(self._connection, self.version, contract, rows, load_id, self._given, correct)

    def withdraw(self, table: str, keys: Collection[str]) -> int:
        """Let rows of a small table hold no more from this version on, by `Stay.key`; returns how many did."""
        return self._end(ROWS[table], ROWS[table].c.row_key.in_(sorted(keys)))

    def let_go_damaged(self, load_id: int) -> bool:
        """Let go of damaged parts that hold rows of a load, so that it can be taken again; returns whether there were.

        Other loads with rows in these parts have lost them too, and can be taken again as well.
        """
        damaged = sa.select(FILES.c.file).where(FILES.c.damaged_at > 0)
        where = PARTS.c.file.in_(damaged) & PARTS.c.loads.contains(f";{load_id};") & live(PARTS, self.version)
        texts = [row[0] for row in self._all(sa.select(PARTS.c.loads).where(where))]
        lost = sorted({int(number) for text in texts for number in text.split(";") if number})
        if lost:
            self._execute(sa.update(PARTS).where(where).values(removed=self.version))
            self._execute(sa.update(LOADS).where(LOADS.c.load_id.in_(lost)).values(lost=1))
        return bool(lost)

    # Plant, profiles and remarks

    def put_plant(self, text: str) -> None:
        """Keep the text of plant.toml from this version on."""
        if text != self.plant_text():
            self._end(PLANTS, sa.true())
            self._execute(sa.insert(PLANTS), [{"text": text, "added": self.version}])
            self.__dict__.pop("_calendar", None)

    def put_profile(self, name: str, text: str) -> None:
        """Keep the text of a column profile from this version on, in the place of an earlier one of its name."""
        if text != self.profile_texts().get(name):
            self._end(PROFILES, PROFILES.c.name == name)
            self._execute(sa.insert(PROFILES), [{"name": name, "text": text, "added": self.version}])

    def noted(self, name: str) -> str:
        """A remark kept with the ledger, empty where there is none."""
        return read_about(self._connection, name)

    def put_note(self, name: str, text: str) -> None:
        """Keep a remark with the ledger, if a version is made at all."""
        write_about(self._connection, name, text)

    # Upkeep

    def compact(self, before: str, most_rows: int) -> int:
        """Merge the parts of press-days before a day that lie in several; returns how many rows were rewritten.

        Takes the oldest day first and stops after a press-day with which `most_rows` are reached.
        """
        rows, last = 0, ""
        for table, press_id, day in self._scattered(before):
            if table != last:  # A file holds row groups of one table.
                self.parts.flush()
                last = table
            of_day = (PARTS.c.press_id == press_id) & (PARTS.c.day == day)
            due = find_parts(self._connection, table, live(PARTS, self.version) & of_day)
            rows += self._join(table, due)
            if rows >= most_rows:
                break
        self.parts.flush()
        self.changed = self.changed or rows > 0
        return rows

    def _join(self, table: str, due: list[Part]) -> int:
        try:
            if table == "strokes":
                join_strokes(self.parts, due)
            else:
                BulkMerge(self.parts, TABLES[table], self._given).join(due)
        except DamagedPart:
            return 0  # A check names it; the other days are tidied all the same.
        return sum(part.rows for part in due)

    def _scattered(self, before: str) -> Sequence[Any]:
        names = (PARTS.c.table, PARTS.c.press_id, PARTS.c.day)
        query = sa.select(*names).where(live(PARTS, self.version), PARTS.c.day < before).group_by(*names)
        return self._all(query.having(sa.func.count() > 1).order_by(PARTS.c.day, PARTS.c.table, PARTS.c.press_id))

    # Versions

    def record_version(self) -> None:
        """Make everything written durable except the commit itself, and name the version."""
        if self._load is not None:
            raise RuntimeError(f"load {self._load[0]} is not finished")
        self._register_files()
        values = {"version": self.version, "committed_at": self._now_us()}
        self._connection.execute(sa.insert(VERSIONS), [values])

    def _register_files(self) -> None:
        written = self.parts.finished()
        # Files of a refused load are written too, and gone by now.
        held = self._connection.scalars(sa.select(PARTS.c.file).where(PARTS.c.added == self.version).distinct())
        rows = [written[file]._asdict() for file in held if file in written]
        if rows:
            self._connection.execute(sa.insert(FILES), rows)

    def _insert_load(self, values: Mapping[str, object]) -> int:
        self.changed = True
        insert = sa.insert(LOADS).values(**values, added=self.version).returning(LOADS.c.load_id)
        return int(self._connection.execute(insert).scalar_one())
