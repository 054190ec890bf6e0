"""Rows in Arrow, in SQL and as keys."""

from __future__ import annotations

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.ledger.catalog.values import arrow_rows, canonical, row_keys, stored_values
from shared.fields import Kind
from shared.tables import TABLES
from tests.ledger.given import DAY, START_US, rows

COIL_TEST = TABLES["coil_tests"]
TEXT = st.text(max_size=8)
SAMPLES = {
    Kind.TEXT: "a",
    Kind.COUNT: 7,
    Kind.NUMBER: 1.5,
    Kind.TIME: START_US,
    Kind.DATE: DAY,
    Kind.FLAG: False,
}


@given(st.lists(st.tuples(TEXT, TEXT, TEXT, st.one_of(st.none(), st.floats(0, 10))), max_size=6))
def test_keys_are_the_same_for_the_same_key_only(keys: list[tuple[str, str, str, float | None]]) -> None:
    columns = {name: [key[at] for key in keys] for at, name in enumerate(COIL_TEST.key)}
    columns |= {name: [None] * len(keys) for name in COIL_TEST.columns if name not in columns}
    made = row_keys(COIL_TEST, [columns[name] for name in COIL_TEST.columns])
    for one, key in zip(made, keys, strict=True):
        assert [other == one for other in made] == [other == key for other in keys]


@pytest.mark.parametrize("table", ["characteristics", "inspections", "coils", "presses", "holds"])
def test_rows_come_back_from_sql_as_they_went(table: str) -> None:
    contract = TABLES[table]
    full = {name: SAMPLES[contract.field(name).kind] for name in contract.columns}
    given_rows = canonical(contract, rows(table, [full, dict.fromkeys(contract.columns)]))
    again = arrow_rows(contract, stored_values(contract, given_rows))
    assert again == given_rows.drop_columns("line")


def test_columns_the_contract_does_not_name_are_left_out() -> None:
    odd = rows("materials", [{"material": "DC01"}]).append_column("colour", pa.array(["red"]))
    assert canonical(TABLES["materials"], odd).column_names == [*TABLES["materials"].columns, "line"]
