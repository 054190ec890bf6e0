"""Every input table, whatever its columns: a row made from what the table says of itself is kept as it came."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator

import pytest

from monitor.ledger import Ledger, Snapshot
from monitor.load.files import load
from shared.fields import Field, Kind
from shared.table import Table
from shared.tables import TABLES

MOMENT = dt.datetime(2026, 11, 2, 8, tzinfo=dt.UTC)
NOW_US = int(dt.datetime(2026, 11, 3, tzinfo=dt.UTC).timestamp()) * 1_000_000
PLANT = 'timezone = "UTC"\n[[shifts]]\nname = "day"\nstart = "06:00"\nend = "22:00"\n'
MADE = {Kind.TIME: MOMENT.isoformat(), Kind.DATE: "2026-11-02", Kind.FLAG: "true"}
DOWNLOADS = {Kind.TIME: MOMENT, Kind.DATE: MOMENT.date(), Kind.FLAG: True}


def cell(table: Table, column: str) -> object:
    """What a row says in a column: a reference names the one row there is of the table it refers to."""
    field = table.field(column)
    others = table.refers.get(column) or table.mentions.get(column)
    if others and field.kind is Kind.TEXT:
        other = TABLES[others[0]]
        return cell(other, other.id_column) if other is not table else ""
    return value(field)


def value(field: Field) -> object:
    if field.choices:
        return field.choices[0]
    if field.kind is Kind.TEXT:
        return "1" if field.listed else f"any {field.name}"
    low, high = (1.0 if end is None else end for end in (field.low, field.high))
    number = max(low, min(1.0, high))
    return int(number) if field.kind is Kind.COUNT else MADE.get(field.kind, number)


def row_of(table: Table) -> dict[str, object]:
    return {column: cell(table, column) for column in table.columns if column != "valid_from"}


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """A ledger with one row of every table."""
    files = tmp_path_factory.mktemp("files")
    (files / "plant.toml").write_text(PLANT)
    for table in TABLES.values():
        row = row_of(table)
        with (files / f"{table.name}.csv").open("w", newline="") as file:
            csv.writer(file).writerows([list(row), list(row.values())])
    with Ledger.open(tmp_path_factory.mktemp("plant") / "ledger", create=True) as ledger:
        load([files], ledger, now_us=NOW_US)
        yield ledger


def test_no_row_is_set_aside(plant: Ledger) -> None:
    aside = plant.snapshot().set_aside_rows()
    assert aside[["table", "reason"]].to_numpy().tolist() == []


def kept_row(snapshot: Snapshot, table: Table) -> dict[str, object]:
    """The one row that the ledger has of a table."""
    if table.name == "strokes":
        press = str(value(table.field("press_id")))
        (row,) = snapshot.strokes(press, 0, NOW_US).to_pylist()
        return {"press_id": press, **row}
    (row,) = snapshot.rows(table.name).to_pylist()
    return dict(row)


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda table: table.name)
def test_row_is_kept_as_it_came(plant: Ledger, table: Table) -> None:
    kept, came_in = kept_row(plant.snapshot(), table), row_of(table)
    if table.name == "strokes":
        came_in.pop("recorded_at")  # Which of two readings is newer is settled as they are loaded.
    for column, came in came_in.items():
        taken = DOWNLOADS.get(table.field(column).kind, came)
        assert kept[column] == (None if taken == "" else taken), column
