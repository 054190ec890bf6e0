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

FORMAT = 1
BULK = ("strokes", "measurements")
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
    _text("refused"),
    # Name and version of the column profile it was read by, empty without one.
    _text("profile"),
    sa.Column("added", sa.Integer, nullable=False),
)
# A file that was refused may be mended or read again with other settings, so only an accepted one is unique.
sa.Index("loads_once", LOADS.c.sha256, unique=True, sqlite_where=LOADS.c.refused == "")

SET_ASIDE = sa.Table(
    "set_aside",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("load_id", sa.Integer, nullable=False),
    _text("table"),
    _text("file"),
    _number("line"),
    _text("reason"),
    _text("row"),
    _text("waits_for"),
    _number("set_aside_at"),
    *_lifetime(),
)
sa.Index("set_aside_waits", SET_ASIDE.c.waits_for)

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
    *_lifetime(),
)
sa.Index("stored_parts_when", PARTS.c.table, PARTS.c.press_id, PARTS.c.max_us)

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
    return names | ({table.id_column} - {"press_id", table.time})


def _fact_table(fact: FactTable) -> sa.Table:
    columns = [sa.Column(name, _FACT_TYPES[kind]) for name, kind in fact.columns]
    made = sa.Table(f"fact_{fact.name}", METADATA, *columns, *_lifetime())
    sa.Index(f"fact_{fact.name}_fold", made.c.press_id, made.c.day)
    if "shift_date" in fact.names:
        sa.Index(f"fact_{fact.name}_when", made.c.shift_date)
    for name in ("mounting_id", "coil_id"):
        if name in fact.names:
            sa.Index(f"fact_{fact.name}_{name}", made.c[name])
    return made


ROWS: dict[str, sa.Table] = {name: _rows_table(table) for name, table in TABLES.items() if name not in BULK}
FACT_ROWS: dict[str, sa.Table] = {name: _fact_table(fact) for name, fact in FACTS.items()}
VERSIONED: tuple[sa.Table, ...] = (SET_ASIDE, PARTS, PLANTS, PROFILES, FOLDS, *ROWS.values(), *FACT_ROWS.values())


def live(table: sa.Table, version: int) -> sa.ColumnElement[bool]:
    """Condition that a row holds at a version."""
    return (table.c.added <= version) & (table.c.removed.is_(None) | (table.c.removed > version))


def fingerprint() -> str:
    """Digest of all table and column names, to see that a catalogue lacks what the contract has gained."""
    names = [f"{table.name}.{column.name}" for table in METADATA.sorted_tables for column in table.columns]
    return hashlib.sha256("\n".join(names).encode()).hexdigest()
