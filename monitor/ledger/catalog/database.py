"""Opening the SQLite catalogue: pragmas, transactions, creation, upgrade and the check of its format."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.schema import CreateColumn

from monitor.ledger.catalog.schema import ABOUT, FORMAT, METADATA, VERSIONS, fingerprint
from monitor.ledger.catalog.upgrades import upgrade
from shared.errors import LedgerError
from shared.phrases import phrase
from shared.reasons.ledger import FOLDER_WITH_SPACE, MEND_DISK, NOTHING_KEPT

#: What the catalogue raises where the disk or its rights are at fault, and no row is.
CatalogueFault = sa.exc.OperationalError

BUSY_TIMEOUT_S = 30

#: Remark: the last version that was written before the ledger kept deliveries of rows that do not hold.
ACCOUNTS_SINCE = "accounts_since"

_PRAGMAS = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA temp_store = MEMORY",
    "PRAGMA cache_size = -65536",
)


@contextmanager
def disk_errors(root: Path) -> Iterator[None]:
    """Say of whatever the disk refuses while a ledger is written that nothing of it is kept; raises LedgerError."""
    try:
        yield
    except (OSError, CatalogueFault) as error:
        cause = error.orig if isinstance(error, CatalogueFault) else error
        raise LedgerError(
            str(root),
            phrase(NOTHING_KEPT, why=str(cause)),
            phrase(FOLDER_WITH_SPACE),
            phrase(MEND_DISK),
        ) from error


def connect(path: Path, read_only: bool = False) -> sa.Engine:
    """Engine on the catalogue file; a transaction begun with the option `writes` takes the write lock at once.

    A `read_only` one refuses to write.
    """
    url = sa.URL.create("sqlite", database=str(path))
    engine = sa.create_engine(url, poolclass=sa.QueuePool, connect_args={"timeout": BUSY_TIMEOUT_S})
    sa.event.listen(engine, "connect", _set_up_to_read if read_only else _set_up)
    sa.event.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: Any, _record: object) -> None:
    # The driver's own transaction handling would end savepoints; ours begins them by hand (see _begin).
    connection.isolation_level = None
    for pragma in _PRAGMAS:
        connection.execute(pragma)


def _set_up_to_read(connection: Any, record: object) -> None:
    _set_up(connection, record)
    connection.execute("PRAGMA query_only = ON")


def _begin(connection: sa.Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def format_of(engine: sa.Engine) -> int:
    """Format number of the catalogue, 0 where it holds nothing yet."""
    with engine.connect() as connection:
        if not sa.inspect(connection).has_table(ABOUT.name):
            return 0
        value = connection.scalar(sa.select(ABOUT.c.value).where(ABOUT.c.name == "format"))
    return int(value or 0)


def check_format(engine: sa.Engine, where: str) -> int:
    """Format number of the catalogue; raises LedgerError for one that is newer than this release or no catalogue."""
    try:
        found = format_of(engine)
    except sa.exc.OperationalError as error:
        raise LedgerError(
            where,
            f"{error.orig}",
            "a folder with free space that can be written to, for readers too",
            "mend the disk or its rights",
        ) from None
    except sa.exc.DatabaseError as error:
        raise LedgerError(
            where, f"a file that cannot be read ({error.orig})", "the catalogue of a ledger", "restore it from a copy"
        ) from None
    if found > FORMAT:
        raise LedgerError(
            where,
            f"a ledger of format {found}, written by a newer release",
            f"format {FORMAT} or older",
            "install the newer release on this computer",
        )
    return found


def is_current(engine: sa.Engine) -> bool:
    """Whether the catalogue has every table and column this release knows."""
    with engine.connect() as connection:
        return connection.scalar(sa.select(ABOUT.c.value).where(ABOUT.c.name == "contract")) == fingerprint()


def create_missing(engine: sa.Engine, root: Path) -> None:
    """Create what the catalogue lacks: all of it in a new one, new tables, columns and indexes in an older one."""
    found = format_of(engine)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        METADATA.create_all(connection)
        inspector = sa.inspect(connection)
        for table in METADATA.sorted_tables:
            present = {column["name"] for column in inspector.get_columns(table.name)}
            for column in table.columns:
                if column.name not in present:
                    name = connection.dialect.identifier_preparer.format_table(table)
                    definition = CreateColumn(column).compile(dialect=connection.dialect)
                    connection.exec_driver_sql(f"ALTER TABLE {name} ADD COLUMN {definition}")
            for index in table.indexes:
                index.create(connection, checkfirst=True)
        if found:
            upgrade(connection, root, found)
        connection.execute(sa.delete(ABOUT).where(ABOUT.c.name.in_(("format", "contract"))))
        about = {"format": str(FORMAT), "contract": fingerprint()}
        if not read_about(connection, ACCOUNTS_SINCE):
            about[ACCOUNTS_SINCE] = str(connection.scalar(sa.select(sa.func.max(VERSIONS.c.version))) or 0)
        connection.execute(sa.insert(ABOUT), [{"name": name, "value": value} for name, value in about.items()])


def read_about(connection: sa.Connection, name: str) -> str:
    """A remark of the catalogue, empty where there is none."""
    return connection.scalar(sa.select(ABOUT.c.value).where(ABOUT.c.name == name)) or ""


def write_about(connection: sa.Connection, name: str, text: str) -> None:
    """Put a remark in the place of an earlier one of its name."""
    connection.execute(sa.delete(ABOUT).where(ABOUT.c.name == name))
    connection.execute(sa.insert(ABOUT), [{"name": name, "value": text}])


def insert_rows(
    connection: sa.Connection, table: sa.Table, names: tuple[str, ...], rows: Sequence[tuple[object, ...]]
) -> None:
    """Insert rows with values for the named columns, which stand in the order of the table.

    Five times as quick as handing a dict a row to SQLAlchemy, which counts with hundreds of facts a press-day.
    """
    if rows:
        connection.exec_driver_sql(_insert(table, names, connection.dialect), list(rows))


@lru_cache(maxsize=128)
def _insert(table: sa.Table, names: tuple[str, ...], dialect: sa.Dialect) -> str:
    compiled = sa.insert(table).compile(dialect=dialect, column_keys=names)
    in_table_order = tuple(column.name for column in table.columns if column.name in names)
    if names != in_table_order:
        raise ValueError(f"{table.name} has its columns in the order {in_table_order}, not {names}")
    return str(compiled)
