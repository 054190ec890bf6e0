"""Inspecting what a ledger has stored: its catalogue, its files and the sums of its loads."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq
import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.catalog.schema import EXPIRING, FILES, LOADS, PARTS, SET_ASIDE, VERSIONS
from monitor.ledger.catalog.values import loads_of

_COUNTS = ("new", "repeated", "corrected", "set_aside")


class Finding(NamedTuple):
    """Something that is not as it should be, and how to mend it."""

    what: str
    mend: str


class Inspector:
    """Made by `Keeper.inspector`."""

    def __init__(self, root: Path, engine: sa.Engine, files: PartFiles) -> None:
        self._root = root
        self._engine = engine
        self._files = files

    def catalogue(self) -> list[Finding]:
        """Whether the catalogue holds together, and its versions are in order."""
        with self._engine.connect() as connection:
            told = connection.exec_driver_sql("PRAGMA quick_check(5)").scalars().all()
            newest = connection.scalar(sa.select(sa.func.max(VERSIONS.c.version))) or 0
            late = {
                table.name
                for table in (*EXPIRING, SET_ASIDE)
                if (connection.scalar(sa.select(sa.func.max(table.c.added))) or 0) > newest
            }
        found = [Finding(f"the catalogue is damaged: {text}", "restore a backup") for text in told if text != "ok"]
        return found + [
            Finding(f"{name} names a version after {newest}, the newest", "restore a backup") for name in late
        ]

    def files(self) -> tuple[list[Finding], set[str], set[str]]:
        """Findings about the files of parts, the names of those that are damaged and those sound."""
        with self._engine.connect() as connection:
            digests = {row.file: row for row in connection.execute(sa.select(FILES))}
            held = connection.scalars(sa.select(PARTS.c.file).distinct().order_by(PARTS.c.file)).all()
        found, damaged = [], set()
        for file in held:
            fault = self._fault(file, digests.get(file))
            if fault:
                damaged.add(file)
                found.append(Finding(f"{file} {fault}", self._mend(file)))
        return found, damaged, set(held) - damaged

    def mark(self, damaged: set[str], sound: set[str]) -> None:
        """Keep which files are damaged: loading what was in them takes those loads once more."""
        changes = [(file, True) for file in damaged] + [(file, False) for file in sound]
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            now_us = time.time_ns() // 1_000
            marked = set(connection.scalars(sa.select(FILES.c.file).where(FILES.c.damaged_at > 0)))
            for file, is_damaged in changes:
                if is_damaged == (file in marked):
                    continue
                changed = sa.update(FILES).where(FILES.c.file == file).values(damaged_at=now_us if is_damaged else 0)
                if not connection.execute(changed).rowcount and is_damaged:
                    connection.execute(sa.insert(FILES), [{"file": file, "damaged_at": now_us}])

    def rows(self, sound: set[str]) -> list[Finding]:
        """Whether the sound files hold as many rows as the catalogue says."""
        names = (PARTS.c.file, PARTS.c.row_group, PARTS.c.rows)
        with self._engine.connect() as connection:
            parts = connection.execute(sa.select(*names).order_by(*names)).all()
        counted: dict[str, list[int]] = {}
        found = []
        for file, group, rows in parts:
            if file in sound and file not in counted:
                counted[file] = self._row_counts(file)
            if file in sound and counted[file][group : group + 1] != [rows]:
                found.append(
                    Finding(f"{file} holds other rows in group {group} than the {rows:,} noted", self._mend(file))
                )
        return found

    def loads(self) -> list[Finding]:
        """Whether the sums of every load close, with the rows that are set aside now; loads whose rows were lost."""
        aside = sa.select(SET_ASIDE.c.load_id, sa.func.count()).where(SET_ASIDE.c.removed.is_(None))
        with self._engine.connect() as connection:
            held = {row[0]: row[1] for row in connection.execute(aside.group_by(SET_ASIDE.c.load_id))}
            loads = connection.execute(sa.select(LOADS).where(LOADS.c.refused == "").order_by(LOADS.c.load_id)).all()
        again = {load.sha256 for load in loads if not load.lost}
        return [finding for load in loads for finding in _load_findings(load, held.get(load.load_id, 0), again)]

    def idle_files(self) -> int:
        """Files that no part lies in; upkeep deletes them."""
        with self._engine.connect() as connection:
            held = set(connection.scalars(sa.select(PARTS.c.file).distinct()))
        return len(self._files.names() - held)

    def _fault(self, file: str, kept: sa.Row[tuple[object, ...]] | None) -> str:
        seen = self._files.digest(file)
        if seen is None:
            return "is missing or cannot be read"
        if kept is None or not kept.sha256:
            return "has no digest, so nobody can tell whether it is whole"
        if seen.size != kept.size:
            return f"has {seen.size:,} bytes instead of {kept.size:,}"
        return "" if seen.sha256 == kept.sha256 else "holds other bytes than were written"

    def _mend(self, file: str) -> str:
        with self._engine.connect() as connection:
            where = (PARTS.c.file == file) & PARTS.c.removed.is_(None)
            texts = connection.scalars(sa.select(PARTS.c.loads).where(where)).all()
            ids = loads_of(texts)
            query = sa.select(LOADS.c.load_id, LOADS.c.file).where(LOADS.c.load_id.in_(ids)).order_by(LOADS.c.load_id)
            loads = connection.execute(query).all()
        if not texts:
            return "only older versions need it; put it back from a backup, or let upkeep forget them"
        if not ids:
            return "put it back from a backup; which loads it holds is not known"
        names = ", ".join(f"{name} (load {load_id})" for load_id, name in loads)
        return f"put it back from a backup, or load these files again, all at once and in this order: {names}"

    def _row_counts(self, file: str) -> list[int]:
        try:
            told = pq.read_metadata(self._files.path(file))
        except (OSError, pa.ArrowException):
            return []
        return [told.row_group(group).num_rows for group in range(told.num_row_groups)]


def _load_findings(load: sa.Row[tuple[object, ...]], aside: int, again: Sequence[str] | set[str]) -> Iterator[Finding]:
    told = load._mapping
    where = f"load {told['load_id']} ({told['file']})"
    parts = sum(told[name] for name in _COUNTS)
    if told["read"] != parts:
        yield Finding(f"{where} read {told['read']:,} rows but accounts for {parts:,}", "restore a backup")
    if told["set_aside"] != aside:
        seen = f"{where} counts {told['set_aside']:,} rows set aside but {aside:,} are"
        yield Finding(seen, "restore a backup")
    if told["lost"] and told["sha256"] not in again:
        yield Finding(f"rows of {where} were lost with a damaged file", f"load {told['file']} again")
