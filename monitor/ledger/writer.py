"""Writing one version of the ledger: all of it or nothing."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.bulk.parts import BulkPart, find_parts
from monitor.ledger.catalog.database import ACCOUNTS_SINCE, read_about, write_about
from monitor.ledger.catalog.schema import (
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
from monitor.ledger.catalog.values import loads_of
from monitor.ledger.fold_writer import FoldWriter
from monitor.ledger.merge.accounts import Move, judge
from monitor.ledger.merge.bulk import BulkMerge
from monitor.ledger.merge.deliveries import Deliveries
from monitor.ledger.merge.outcome import Merge
from monitor.ledger.merge.strokes import join_strokes, merge_strokes
from monitor.ledger.merge.tables import merge_table, stored_rows
from monitor.ledger.set_aside_writer import AsideWriter, SetAside
from shared.calendar import Calendar
from shared.errors import DamagedPart
from shared.reasons.kept import kept
from shared.tables import TABLES


class Writer(FoldWriter, AsideWriter):
    """The version being written; what it reads includes what it has written.  Made by `Ledger.writer`."""

    def __init__(self, connection: sa.Connection, files: PartFiles, version: int, calendar: Calendar) -> None:
        super().__init__(connection, files, version, calendar)
        self._load: tuple[int, sa.NestedTransaction, int] | None = None
        self._deliveries = Deliveries(connection)
        # Versions up to which rows that were superseded are known by themselves alone; 0 in a ledger made since.
        self._known_since = int(read_about(connection, ACCOUNTS_SINCE) or 0)

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
        correct: bool = False,
    ) -> int:
        """Begin the load of a file; what is merged until `finish_load` counts for it and goes if it is refused.

        With `correct` its rows are corrections, given now.  `profile` is the name and version of the column profile it
        is read by; `entered_by` is who enters it by hand, `undoes` the entry that it takes back.
        """
        if self._load is not None:
            raise RuntimeError(f"load {self._load[0]} is not finished")
        again = (LOADS.c.sha256 == sha256) & (LOADS.c.file == file) & (LOADS.c.refused != "")
        self._execute(sa.delete(LOADS).where(again))
        values = {"file": file, "table": table, "sha256": sha256, "size": size, "loaded_at": self._now_us()}
        values |= {"profile": profile, "entered_by": entered_by, "undoes": undoes}
        load_id = self._insert_load({**values, "given_at": self._given_now() if correct else 0})
        if correct:
            self._deliveries.__dict__.pop("corrected", None)
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
        code, values = kept(refused)
        counts = {
            "rows": rows,
            "outside": outside,
            "read": read,
            "new": new,
            "repeated": repeated,
            "corrected": corrected,
            "set_aside": set_aside,
        }
        told = {**counts, "refused": code, "refused_values": values}
        self._execute(sa.update(LOADS).where(LOADS.c.load_id == load_id).values(told))

    def _given_now(self) -> int:
        """Return a moment [us] after all at which corrections were given."""
        last = self._connection.scalar(sa.select(sa.func.max(LOADS.c.given_at))) or 0
        return max(self._now_us(), last + 1)

    def recount(self, moves: Mapping[Move, int]) -> None:
        """Let rows of loads count otherwise than they did: how many, by load, as what, and as what now."""
        counts = (LOADS.c.new, LOADS.c.corrected, LOADS.c.repeated, LOADS.c.set_aside)
        for (load_id, was, now), rows in moves.items():
            of_load = LOADS.c.load_id == load_id
            held = dict(self._connection.execute(sa.select(*counts).where(of_load)).one()._mapping)
            held[now] += rows
            for name in (was, *held):
                # A ledger of before deliveries were kept may have counted some of them as something else.
                taken = min(rows, held[name]) if name != now else 0
                held[name], rows = held[name] - taken, rows - taken
            self._execute(sa.update(LOADS).where(of_load).values(**held))

    def counted(self, table: str, keys: Collection[str]) -> dict[str, str]:
        """As what the rows count that hold of keys of a small table."""
        held = stored_rows(self._connection, TABLES[table], list(keys), self.version, self._deliveries)
        kept = self._deliveries.of_keys(table, keys)
        return {key: judge([row, *kept.get(key, ())])[row].counts_as for key, row in held.items()}

    def file_of(self, load_id: int) -> str:
        """Name of the file of a load."""
        return self._connection.scalar(sa.select(LOADS.c.file).where(LOADS.c.load_id == load_id)) or ""

    def merge(
        self,
        table: str,
        rows: pa.Table,
        load_id: int,
        burst: Mapping[str, int] | None = None,
        entered: bool = False,
    ) -> Merge:
        """Merge a batch of rows of a table with their `line`.

        The same key with the same values is a repeat; of other values those recorded later hold, or given later as a
        correction, and those of one rank contradict one another; see `accounts`.  `burst` gives, by press, the
        greatest counter difference of two readings at one time.  What is `entered` by hand holds whatever is stored.
        """
        self.changed = True
        if table == "strokes":
            return merge_strokes(
                self.parts,
                rows,
                load_id,
                calendar=self._given,
                burst=burst or {},
                deliveries=self._deliveries,
                known_since=self._known_since,
            )
        contract = TABLES[table]
        if table in BULK:
            bulk = BulkMerge(self.parts, contract, self._given, self._deliveries, self._known_since)
            return bulk.merge(rows, load_id)
        return merge_table(
            self._connection,
            self.version,
            contract,
            rows,
            load_id=load_id,
            calendar=self._given,
            deliveries=self._deliveries,
            known_since=self._known_since,
            entered=entered,
        )

    def forget(self, row: SetAside) -> None:
        """Forget that a row set aside was delivered: it is let in, as it came or as it was mended."""
        self._deliveries.forget(row.table, row.load_id, [row.line])

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
        lost = loads_of(texts)
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

    def _join(self, table: str, due: list[BulkPart]) -> int:
        try:
            if table == "strokes":
                join_strokes(self.parts, due)
            else:
                BulkMerge(self.parts, TABLES[table], self._given, self._deliveries, self._known_since).join(due)
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
