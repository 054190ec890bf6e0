"""The numbered steps that bring a catalogue of an older format up to this one; new columns come by themselves."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path, PurePosixPath

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import sqlalchemy as sa

from monitor.ledger.catalog.old_reasons import coded_reason, coded_refusal
from monitor.ledger.catalog.schema import FILES, FORMAT, PARTS
from monitor.ledger.catalog.values import loads_text

Step = Callable[[sa.Connection, Path], None]


def upgrade(connection: sa.Connection, root: Path, found: int) -> None:
    """Do the steps from format `found` to the format of this release, in order, in the transaction given."""
    for number in range(found + 1, FORMAT + 1):
        UPGRADES[number](connection, root)


def _know_files(connection: sa.Connection, root: Path) -> None:
    """Format 2: every file has a digest, every part names its loads, a load whose rows were lost may be taken again."""
    connection.exec_driver_sql("DROP INDEX IF EXISTS loads_once")
    for file in connection.scalars(sa.select(PARTS.c.file).distinct().order_by(PARTS.c.file)).all():
        path = root.joinpath(*PurePosixPath(file).parts)
        size, digest = _digest(path)
        connection.execute(sa.insert(FILES), [{"file": file, "size": size, "sha256": digest}])
        if digest:
            _name_loads(connection, file, path)


def _digest(path: Path) -> tuple[int, str]:
    """Size and digest of a file; no digest where it cannot be read, so that a check finds it."""
    try:
        with path.open("rb") as source:
            return path.stat().st_size, hashlib.file_digest(source, "sha256").hexdigest()
    except OSError:
        return 0, ""


def _name_loads(connection: sa.Connection, file: str, path: Path) -> None:
    try:
        with pq.ParquetFile(path) as source:
            found = [source.read_row_group(group, ["load_id"]) for group in range(source.num_row_groups)]
    except (pa.ArrowException, OSError):
        return
    for group, rows in enumerate(found):
        this = (PARTS.c.file == file) & (PARTS.c.row_group == group)
        connection.execute(
            sa.update(PARTS).where(this).values(loads=loads_text(pc.unique(rows["load_id"]).to_pylist()))
        )


def _code_reasons(connection: sa.Connection, root: Path) -> None:
    """Format 3: a reason is kept as its code and values, no longer as a sentence."""
    for table, sentence, code, values, coded in (
        ("set_aside", "reason", "code", "code_values", coded_reason),
        ("fact_glitches", "reason", "code", "code_values", coded_reason),
        ("loads", "refused", "refused", "refused_values", coded_refusal),
    ):
        if sentence not in {column["name"] for column in sa.inspect(connection).get_columns(table)}:
            continue
        held = connection.exec_driver_sql(f"SELECT rowid, {sentence} FROM {table} WHERE {sentence} <> ''").all()  # noqa: S608
        # The sentence goes: it would be a second truth beside the code.
        emptied = "" if sentence == code else f", {sentence} = ''"
        update = f"UPDATE {table} SET {code} = ?, {values} = ?{emptied} WHERE rowid = ?"  # noqa: S608
        if held:
            connection.exec_driver_sql(update, [(*coded(text), number) for number, text in held])


UPGRADES: Mapping[int, Step] = {2: _know_files, 3: _code_reasons}
