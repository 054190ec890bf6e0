import datetime as dt
from decimal import Decimal
from typing import Any

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.values import WrongType, parse
from shared.fields import FIELDS, Field, count, flag, identifier, number, text
from shared.tables import TABLES

COUNTER = count("counter", "strokes", "")
LOOSE_NUMBER = number("value", "", "")


def result(cells: list[Any], field: Field, kind: pa.DataType | None = None) -> list[Any]:
    """Canonical cells, with "BAD" where one could not be taken."""
    parsed = parse(pa.array(cells, kind), field)
    assert len(parsed.values) == len(parsed.bad) == len(cells)
    values = parsed.values.to_pylist()
    assert all(value is None for value, bad in zip(values, parsed.bad, strict=True) if bad)
    return ["BAD" if bad else value for value, bad in zip(values, parsed.bad, strict=True)]


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("4812330", 4812330), ("007", 7), (" 12 ", 12), ("+5", 5), ("12.0", 12), ("12.", 12), ("", None), ("  ", None),
        ("12.5", "BAD"), ("4.812.330", "BAD"), ("4,812,330", "BAD"), ("1e6", "BAD"), ("0x10", "BAD"), ("-1", "BAD"),
        ("x", "BAD"), ("9223372036854775808", "BAD"), ("99999999999999999999999", "BAD"), ("٣", "BAD"), ("nan", "BAD"),
    ],
)  # fmt: skip
def test_counts_from_text(cell: str, expected: object) -> None:
    assert result([cell], COUNTER) == [expected]
    assert result(["1", cell, "2"], COUNTER) == [1, expected, 2]


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("0.8", 0.8), ("-1.5e-3", -0.0015), (".5", 0.5), ("5.", 5.0), ("+3", 3.0), (" 2 ", 2.0), ("", None),
        ("0,8", "BAD"), ("nan", "BAD"), ("inf", "BAD"), ("1e400", "BAD"), ("0.8mm", "BAD"), ("-", "BAD"),
        ("1_0", "BAD"),
    ],
)  # fmt: skip
def test_numbers_from_text(cell: str, expected: object) -> None:
    assert result([cell], LOOSE_NUMBER) == [expected]
    assert result(["1", cell, "2"], LOOSE_NUMBER) == [1.0, expected, 2.0]


@pytest.mark.parametrize(
    ("cell", "good"), [("0.5", True), ("5000", True), ("0.49", False), ("5001", False), ("-3", False)]
)
def test_a_number_outside_its_range_cannot_be_taken(cell: str, good: bool) -> None:
    assert (result(["100", cell], FIELDS["width_mm"])[1] == "BAD") == (not good)


@pytest.mark.parametrize("damaged", ["4.21E+11", "4,21E+11", "4E+11", "-1.2e+05", "4.21E+011"])
def test_an_identifier_a_spreadsheet_has_rounded_is_not_taken(damaged: str) -> None:
    assert result([damaged, "C-1"], identifier("coil_id", "")) == ["BAD", "C-1"]
    assert result([damaged], text("note", "")) == [damaged]


def test_identifiers_are_kept_as_they_came() -> None:
    cells = ["007", "3-11", "4E12", "=A1", "<b>", "P 07", "Ö-1", "null", "true"]
    assert result(cells, identifier("coil_id", "")) == cells
    assert result([" C-1 ", "", " "], identifier("coil_id", "")) == ["C-1", None, None]


def test_choices_and_lists_of_choices() -> None:
    kinds = TABLES["inspections"].field("kind")
    assert result(["sample", "Full", "tub ", "", "half"], kinds) == ["sample", "full", "tub", None, "BAD"]
    operations = TABLES["stations"].field("operation")
    assert result(["pierce; FORM", "pierce;", "idle", "weld", "pierce;weld"], operations) == [
        "pierce;form", "pierce", "idle", "BAD", "BAD",
    ]  # fmt: skip


def test_a_list_without_choices_holds_numbers() -> None:
    assert result(["1;3", " 2 ; 4", "1;x", ""], FIELDS["outs_running"]) == ["1;3", "2;4", "BAD", None]


def test_flags() -> None:
    cells = ["true", "FALSE", "1", "0", "yes", "No", "", "maybe"]
    assert result(cells, flag("key", "")) == [True, False, True, False, True, False, None, "BAD"]
    assert result([True, None], flag("key", "")) == [True, None]
    assert result([1, 0, 2], flag("key", "")) == [True, False, "BAD"]


def test_dates() -> None:
    field = FIELDS["valid_from"]
    day = dt.date(2026, 5, 1)
    cells = [
        "2026-05-01",
        "2026-05-01 00:00:00",
        "2026-05-01T06:00",
        "01.05.2026",
        "2026-02-30",
        "",
        "20260501x",
        "1026-05-01",
    ]
    assert result(cells, field) == [day, day, "BAD", "BAD", "BAD", None, "BAD", "BAD"]
    assert result([day, None], field) == [day, None]
    assert result([dt.datetime(2026, 5, 1), dt.datetime(2026, 5, 1, 6)], field, pa.timestamp("us")) == [day, "BAD"]


def test_native_counts_of_every_width() -> None:
    for kind in (pa.int8(), pa.int16(), pa.int32(), pa.int64(), pa.uint8(), pa.uint32(), pa.uint64()):
        assert result([5, None], COUNTER, kind) == [5, None]
    assert result([10**18 - 1, 10**18, 2**63], COUNTER, pa.uint64()) == [10**18 - 1, "BAD", "BAD"]
    assert result([5.0, None, float("nan"), 5.5, 1e300], COUNTER, pa.float64()) == [5, None, None, "BAD", "BAD"]


def test_native_numbers() -> None:
    assert result([1, None], LOOSE_NUMBER, pa.int32()) == [1.0, None]
    assert result([1.5, float("nan"), float("inf")], LOOSE_NUMBER, pa.float32()) == [1.5, None, "BAD"]
    assert result([Decimal("1.25")], LOOSE_NUMBER, pa.decimal128(5, 2)) == [1.25]


def test_native_text_types() -> None:
    for kind in (pa.string(), pa.large_string(), pa.string_view(), pa.dictionary(pa.int8(), pa.string())):
        assert result(["C-1", None, " ", "4.2E+11"], identifier("c", ""), kind) == ["C-1", None, None, "BAD"]
        assert result(["1", "x"], COUNTER, kind) == [1, "BAD"]
    assert result([12, None], identifier("c", ""), pa.int64()) == ["12", None]


@pytest.mark.parametrize(
    ("column", "field"),
    [
        (pa.array([1.5]), identifier("coil_id", "")), (pa.array([b"C-1"]), identifier("coil_id", "")),
        (pa.array([True]), COUNTER), (pa.array([dt.datetime(2026, 1, 1)]), COUNTER), (pa.array([[1]]), LOOSE_NUMBER),
        (pa.array([1.5]), flag("key", "")), (pa.array([20260501]), FIELDS["valid_from"]),
    ],
)  # fmt: skip
def test_types_that_cannot_hold_the_meaning_are_wrong(column: pa.Array, field: Field) -> None:
    with pytest.raises(WrongType):
        parse(column, field)


CELLS = st.one_of(
    st.integers(-10, 10**20).map(str),
    st.floats(allow_nan=True).map(str),
    st.text(max_size=6),
    st.sampled_from(["", " ", "1.0", "0x1", "1e3", "4.2E+11"]),
)


@given(
    st.lists(CELLS, min_size=1, max_size=6),
    st.sampled_from([COUNTER, LOOSE_NUMBER, identifier("c", ""), flag("f", "")]),
)
def test_each_cell_is_taken_the_same_alone_and_among_others(cells: list[str], field: Field) -> None:
    assert result(cells, field) == [result([cell], field)[0] for cell in cells]
