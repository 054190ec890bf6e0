import pyarrow as pa
import pytest

from shared.arrow import arrow_schema
from shared.fields import Kind
from shared.table import Table
from shared.tables import TABLES

TABLE_LIST = list(TABLES.values())


@pytest.mark.parametrize("table", TABLE_LIST, ids=lambda t: t.name)
def test_columns_are_named_once_and_hold_the_key(table: Table) -> None:
    assert len(set(table.columns)) == len(table.columns)
    assert set(table.key) <= set(table.columns)
    assert {f.name for f in table.own} <= set(table.columns)
    assert table.time is None or table.time in table.columns


@pytest.mark.parametrize("table", TABLE_LIST, ids=lambda t: t.name)
def test_what_a_table_must_know_is_loaded_before_it(table: Table) -> None:
    order = list(TABLES)
    for targets in table.refers.values():
        for target in targets:
            assert order.index(target) < order.index(table.name)


@pytest.mark.parametrize("table", TABLE_LIST, ids=lambda t: t.name)
def test_references_name_columns_and_tables_that_exist(table: Table) -> None:
    for column, targets in {**table.refers, **table.mentions}.items():
        assert column in table.columns
        assert set(targets) <= set(TABLES)
    # A row can only wait for what it must have.
    assert set(table.refers) <= set(table.required)


@pytest.mark.parametrize("table", TABLE_LIST, ids=lambda t: t.name)
def test_pairs_in_order_are_of_one_kind(table: Table) -> None:
    for first, last in table.ordered:
        assert table.field(first).kind == table.field(last).kind


@pytest.mark.parametrize("table", TABLE_LIST, ids=lambda t: t.name)
def test_moments_are_instants_of_a_press(table: Table) -> None:
    assert {table.field(name).kind for name in table.moments} <= {Kind.TIME}
    assert "press_id" in table.required or not table.moments
    assert table.moments or not table.exact
    assert set(table.sought_by) <= set(table.columns)


def test_a_change_of_the_plant_book_is_part_of_its_key_and_nowhere_else() -> None:
    for table in TABLE_LIST:
        assert ("valid_from" in table.key) == (table.group == "book")
        assert "recorded_at" in table.optional


def test_a_column_the_table_does_not_have_is_an_error() -> None:
    with pytest.raises(KeyError):
        TABLES["strokes"].field("coil_id")


def test_a_column_may_mean_something_else_in_one_table() -> None:
    assert TABLES["holds"].field("value").choices == ()
    assert TABLES["reasons"].field("kind").choices != TABLES["inspections"].field("kind").choices


def test_arrow_schema_follows_the_columns() -> None:
    assert arrow_schema(TABLES["strokes"]) == pa.schema(
        [
            ("time", pa.timestamp("us", "UTC")),
            ("press_id", pa.string()),
            ("counter", pa.int64()),
            ("feeds", pa.int64()),
            ("recorded_at", pa.timestamp("us", "UTC")),
        ]
    )
    assert arrow_schema(TABLES["presses"], ("valid_from",)) == pa.schema([("valid_from", pa.date32())])
