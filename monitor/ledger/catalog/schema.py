"""The catalogue: SQL tables made from the table contracts and from the facts, and those that keep the ledger.

Every row of a versioned table names the version that added it and, once it no longer holds, the version that removed
it.  Nothing is changed in place, so a reader of a version sees exactly what was true then.
"""

from __future__ import annotations

import hashlib
from typing import Any

import sqlalchemy as sa

from shared.facts import FACTS, FactKind, FactTable
from shared.fields import Kind
from shared.table import Table
from shared.tables import TABLES

FORMAT = 3
BULK = tuple(table.name for table in TABLES.values() if table.logged)
KEYS_A_QUERY = 5_000

_SQL_TYPES: dict[Kind, type[sa.types.TypeEngine[Any]]] = {
    Kind.TEXT: sa.Text,
    Kind.COUNT: sa.BigInteger,
    Kind.NUMBER: sa.Double,
    Kind.TIME: sa.BigInteger,
    Kind.DATE: sa.Text,
    Kind.FLAG: sa.SmallInteger,
}
_FACT_TYPES: dict[FactKind, type[sa.types.TypeEngine[Any]]] = {
    FactKind.TEXT: sa.Text,
    FactKind.INTEGER: sa.BigInteger,
    FactKind.REAL: sa.Double,
}

METADATA = sa.MetaData()


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger, nullable=False, server_default="0")


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _lifetime() -> tuple[sa.Column[int], sa.Column[int]]:
    return sa.Column("added", sa.Integer, nullable=False), sa.Column("removed", sa.Integer)


ABOUT = sa.Table("about", METADATA, sa.Column("name", sa.Text, primary_key=True), _text("value"))

VERSIONS = sa.Table(
    "versions",
    METADATA,
    sa.Column("version", sa.Integer, primary_key=True),
    _number("committed_at"),
    # 1: can no longer be read; the row stays until all that only this version needed is gone.
    _number("expired"),
)

PINS = sa.Table(
    "pins", METADATA, sa.Column("name", sa.Text, primary_key=True), _number("version"), _number("pinned_at")
)

LOADS = sa.Table(
    "loads",
    METADATA,
    sa.Column("load_id", sa.Integer, primary_key=True),
    _text("file"),
    _text("table"),
    _text("sha256"),
    *(_number(name) for name in ("size", "rows", "outside", "read", "new", "repeated", "corrected", "set_aside")),
    _number("loaded_at"),
    # Code and values of why it was refused, empty where it was taken.
    _text("refused"),
    _text("refused_values"),
    # Name and version of the column profile it was read by, empty without one.
    _text("profile"),
    # 1: rows of it were lost with a damaged file, so it may be taken once more.
    _number("lost"),
    # Who entered it by hand, empty for a file; the entry it undoes, 0 for none.
    _text("entered_by"),
    _number("undoes"),
    # When it was given as a correction [us]; 0 for what was not.
    _number("given_at"),
    sa.Column("added", sa.Integer, nullable=False),
)
# A file that was refused may be mended or read again with other settings, so only an accepted one is unique.
_IN = (LOADS.c.refused == "") & (LOADS.c.lost == 0)
sa.Index("loads_taken_once", LOADS.c.sha256, unique=True, sqlite_where=_IN)
sa.Index("loads_file", LOADS.c.file)

SET_ASIDE = sa.Table(
    "set_aside",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("load_id", sa.Integer, nullable=False),
    _text("table"),
    _text("file"),
    _number("line"),
    # Code and values of the reason, as `shared.reasons.kept` writes them.
    _text("code"),
    _text("code_values"),
    _text("row"),
    _text("waits_for"),
    _number("set_aside_at"),
    # Who let the row in, when, and the row as it was mended; empty while it is set aside.
    _text("released_by"),
    _number("released_at"),
    _text("released_row"),
    *_lifetime(),
)
sa.Index("set_aside_waits", SET_ASIDE.c.waits_for)
sa.Index("set_aside_load", SET_ASIDE.c.load_id)

#: Deliveries of a row that do not hold, of keys that were delivered more than once with something else to say: the row
#: was corrected, or is set aside.  Together with the row that holds they tell how each counts in its load.
DELIVERIES = sa.Table(
    "deliveries",
    METADATA,
    sa.Column("delivery_id", sa.Integer, primary_key=True),
    _text("table"),
    _text("row_key"),
    # Of counter readings, which are sought by press and time; else empty.
    _text("press_id"),
    _number("time_us"),
    # What it says, as a list in JSON; when it was recorded [us], -1 where it does not say so.
    _text("said"),
    _number("recorded_at"),
    _number("load_id"),
    _number("line"),
    # 1: it contradicts another and is set aside.
    _number("lost"),
)
sa.Index("deliveries_key", DELIVERIES.c.table, DELIVERIES.c.row_key)
sa.Index("deliveries_when", DELIVERIES.c.table, DELIVERIES.c.press_id, DELIVERIES.c.time_us)
sa.Index("deliveries_load", DELIVERIES.c.load_id, DELIVERIES.c.line)

PARTS = sa.Table(
    "stored_parts",
    METADATA,
    sa.Column("part_id", sa.Integer, primary_key=True),
    _text("table"),
    _text("file"),
    _number("row_group"),
    _text("press_id"),
    _text("day"),
    _number("rows"),
    _number("min_us"),
    _number("max_us"),
    # Loads its rows came with, as ";1;17;", to be named if the file is damaged.
    _text("loads"),
    *_lifetime(),
)
sa.Index("stored_parts_when", PARTS.c.table, PARTS.c.press_id, PARTS.c.max_us)
sa.Index("stored_parts_file", PARTS.c.file)

FILES = sa.Table(
    "stored_files",
    METADATA,
    sa.Column("file", sa.Text, primary_key=True),
    _number("size"),
    _text("sha256"),
    # When it was found damaged or missing, 0 for a sound file.
    _number("damaged_at"),
)

SEEN = sa.Table(
    "seen_files",
    METADATA,
    sa.Column("folder", sa.Text, primary_key=True),
    sa.Column("path", sa.Text, primary_key=True),
    _number("size"),
    _number("mtime_ns"),
    _number("seen_at"),
)

PLANTS = sa.Table("plants", METADATA, sa.Column("plant_id", sa.Integer, primary_key=True), _text("text"), *_lifetime())

PROFILES = sa.Table(
    "profiles",
    METADATA,
    sa.Column("profile_id", sa.Integer, primary_key=True),
    _text("name"),
    _text("text"),
    *_lifetime(),
)

FOLDS = sa.Table(
    "folds",
    METADATA,
    sa.Column("fold_id", sa.Integer, primary_key=True),
    _text("press_id"),
    _text("day"),
    _text("carry"),
    sa.Column("settled", sa.SmallInteger, nullable=False),
    *_lifetime(),
)
sa.Index("folds_when", FOLDS.c.press_id, FOLDS.c.day)


def _rows_table(table: Table) -> sa.Table:
    columns = [sa.Column(name, _SQL_TYPES[table.field(name).kind]) for name in table.columns]
    kept = (
        sa.Column("row_key", sa.Text, nullable=False),
        sa.Column("line", sa.BigInteger, nullable=False),
        sa.Column("load_id", sa.Integer, nullable=False),
    )
    made = sa.Table(
        f"rows_{table.name}",
        METADATA,
        sa.Column("row_id", sa.Integer, primary_key=True),
        *columns,
        *kept,
        *_lifetime(),
    )
    sa.Index(f"rows_{table.name}_key", made.c.row_key)
    if table.time:
        where = [made.c.press_id] if "press_id" in table.columns else []
        sa.Index(f"rows_{table.name}_when", *where, made.c[table.time])
    for name in _looked_up(table):
        sa.Index(f"rows_{table.name}_{name}", made.c[name])
    return made


def _looked_up(table: Table) -> set[str]:
    """Columns by which single rows are sought: the table's own id and those that name a row that is not of the book."""
    referring = {**table.refers, **table.mentions}
    names = {name for name, others in referring.items() if any(TABLES[other].group != "book" for other in others)}
    return names | ({table.id_column} - {"press_id", table.time}) | set(table.sought_by)


def _fact_table(fact: FactTable) -> sa.Table:
    columns = [sa.Column(name, _FACT_TYPES[kind]) for name, kind in fact.columns]
    made = sa.Table(f"fact_{fact.name}", METADATA, *columns, *_lifetime())
    sa.Index(f"fact_{fact.name}_fold", made.c.press_id, made.c.day)
    when = made.c["shift_date" if "shift_date" in fact.names else "day"]
    sa.Index(f"fact_{fact.name}_when", when)
    if "die_id" in fact.names:
        sa.Index(f"fact_{fact.name}_die", made.c.die_id, when)
    if {"mounting_id", "from_us"} <= set(fact.names):
        sa.Index(f"fact_{fact.name}_made", made.c.press_id, made.c.from_us)
    for name in ("mounting_id", "coil_id"):
        if name in fact.names:
            sa.Index(f"fact_{fact.name}_{name}", made.c[name])
    if fact.name == "strokes":
        # How worn an edge is: the strokes of a die since a moment.
        sa.Index("fact_strokes_worn", made.c.die_id, made.c.to_us)
    return made


ROWS: dict[str, sa.Table] = {name: _rows_table(table) for name, table in TABLES.items() if name not in BULK}
FACT_ROWS: dict[str, sa.Table] = {name: _fact_table(fact) for name, fact in FACTS.items()}

#: Tables of which superseded rows go with the versions that need them.  Superseded rows of the input tables and rows
#: set aside stay: they are few, and tell that a row which comes again is no news.
EXPIRING: tuple[sa.Table, ...] = (PARTS, PLANTS, FOLDS, *FACT_ROWS.values())
for _table in EXPIRING:
    sa.Index(f"{_table.name}_removed", _table.c.removed, sqlite_where=_table.c.removed.is_not(None))


def live(table: sa.Table, version: int) -> sa.ColumnElement[bool]:
    """Condition that a row holds at a version."""
    return (table.c.added <= version) & (table.c.removed.is_(None) | (table.c.removed > version))


def fingerprint() -> str:
    """Digest of all table, column and index names, to see that a catalogue lacks what the contract has gained."""
    tables = METADATA.sorted_tables
    names = [f"{table.name}.{column.name}" for table in tables for column in table.columns]
    names += sorted(str(index.name) for table in tables for index in table.indexes)
    return hashlib.sha256("\n".join(names).encode()).hexdigest()
