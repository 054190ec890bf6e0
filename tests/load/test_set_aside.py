"""Rows set aside as a person sees them: chosen, grouped, exported, mended in a spreadsheet and read back."""

from __future__ import annotations

import csv
import io
import json

import pandas as pd
import pytest

from monitor.load.set_aside import as_values, chosen, edited_row, export, grouped, kind_of, known_code, read_back
from shared.errors import RequestError
from shared.phrases import Phrase, joined, phrase
from shared.reasons.expected import BETWEEN, NUMBER, TEXT
from shared.reasons.kept import kept, recalled
from shared.reasons.rows import (
    CONTRADICTS_ROW,
    DIFFERENT_VALUE,
    LINE_CUT,
    NUMBER_EXPECTED,
    UNKNOWN_NAME,
    VALUE_MISSING,
)


def not_a_number(column: str, seen: str, high: str = "9") -> Phrase:
    expected = phrase(BETWEEN, what=phrase(NUMBER), low="1", high=high)
    return phrase(NUMBER_EXPECTED, column=column, seen=seen, expected=expected)


def missing(column: str) -> Phrase:
    return phrase(VALUE_MISSING, column=column, expected=phrase(TEXT))


def contradicts(file: str, seen: str, stored: str) -> Phrase:
    difference = phrase(DIFFERENT_VALUE, column="cause", seen=seen, stored=stored)
    return phrase(CONTRADICTS_ROW, file=file, line=5, differences=difference)


def unknown(column: str, seen: str) -> Phrase:
    return phrase(UNKNOWN_NAME, column=column, seen=seen, tables="presses")


def rows(*records: tuple[str, str, Phrase, str]) -> pd.DataFrame:
    """Rows set aside from (table, file, reason, row)."""
    names = ["table", "file", "reason", "row"]
    frame = pd.DataFrame([dict(zip(names, record, strict=True)) for record in records], columns=names)
    code, values = zip(*(kept(record[2]) for record in records), strict=True)
    frame = frame.assign(id=range(1, len(records) + 1), load_id=[3] * len(records), line=range(2, len(records) + 2))
    return frame.assign(code=code, values=values)


COIL = ("coils", "coils-1.csv", not_a_number("weight_kg", "1O0"), '{"coil_id": "C1", "weight_kg": "1O0"}')


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (not_a_number("weight_kg", "x"), not_a_number("weight_kg", "it", "12.5"), True),
        (unknown("press_id", "P7"), unknown("press_id", "a press; 'new', expected"), True),
        (contradicts("a.csv", "burr", "crack"), contradicts("a copy.csv", "bent, badly", "{}"), True),
        (joined([missing("lot"), missing("heat")]), joined([missing("lot"), missing("heat")]), True),
        (not_a_number("weight_kg", "x"), not_a_number("width_mm", "x"), False),
        (missing("lot"), joined([missing("lot"), missing("heat")]), False),
    ],
)
def test_reasons_that_differ_in_values_alone_are_one_kind(one: Phrase, other: Phrase, alike: bool) -> None:
    assert (kind_of(*kept(one)) == kind_of(*kept(other))) is alike


def test_groups_are_counted_most_first() -> None:
    held = rows(
        COIL,
        ("stops", "stops.csv", missing("reason"), "{}"),
        ("coils", "coils-2.csv", not_a_number("weight_kg", "2x"), "{}"),
    )
    found = grouped(held).to_dict("records")
    assert [(row["table"], row["rows"], row["files"]) for row in found] == [("coils", 2, 2), ("stops", 1, 1)]
    assert (found[0]["reason"], found[0]["code"]) == (COIL[2], "number_expected")
    assert recalled(found[0]["code"], found[0]["values"]) == COIL[2]
    assert grouped(held.head(0)).empty


def test_filters_narrow_each_other() -> None:
    held = rows(
        COIL,
        ("strokes", "strokes-1.csv", missing("counter"), '{"press_id": "P1"}'),
        ("strokes", "strokes-2.csv", joined([unknown("press_id", "P2"), missing("counter")]), '{"press_id": "P2"}'),
        ("strokes", "strokes-2.csv", phrase(LINE_CUT, cells=1, width=3), "2026-11-0"),
    )
    assert chosen(held)["id"].tolist() == [1, 2, 3, 4]
    assert chosen(held, table="strokes", press="P2")["id"].tolist() == [3]
    assert chosen(held, file="STROKES-2", reason="line_cut")["id"].tolist() == [4]
    # One of several reasons is enough; a part of a code is no code.
    assert chosen(held, reason="value_missing")["id"].tolist() == [2, 3]
    assert chosen(held, reason="value")["id"].tolist() == []
    assert chosen(held, load=4).empty


def test_a_reason_is_asked_for_by_its_code() -> None:
    held = rows(COIL)
    assert known_code("line_cut", held) == "line_cut"
    with pytest.raises(RequestError, match=r"'weight'; expected a code of a reason \(number_expected\)"):
        known_code("weight", held)


def test_export_runs_as_no_formula_and_comes_back_as_it_was() -> None:
    nasty = {"coil_id": "=cmd|' /C calc'!A0", "lot": "'quoted", "heat": "-7", "supplier": 'a "b", c', "cert_no": "@x"}
    held = rows((COIL[0], "=evil.csv", "+reason", json.dumps(nasty)))
    text = export(held)
    cells = next(csv.DictReader(io.StringIO(text)))
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells.values())
    assert json.loads(read_back(text, "mended.csv")[1]) == nasty


def test_export_of_one_table_offers_every_column_of_it() -> None:
    names = next(csv.reader(io.StringIO(export(rows(COIL)))))
    assert names[:5] == ["set_aside_id", "set_aside_table", "set_aside_file", "set_aside_line", "set_aside_reason"]
    assert {"coil_id", "thickness_mm", "recorded_at"} <= set(names)


def test_line_that_was_not_cut_into_cells_is_shown_whole_and_taken_from_its_cells() -> None:
    text = export(rows(("strokes", "s.csv", "cut short", "2026-11-02T06:00:00,P1")))
    row = next(csv.DictReader(io.StringIO(text)))
    assert row["set_aside_text"] == "2026-11-02T06:00:00,P1"
    assert read_back(text, "mended.csv") == {1: "{}"}


def test_spreadsheet_may_change_separator_order_and_mark() -> None:
    assert read_back("\ufeffweight_kg;set_aside_id\r\n100;7\r\n;8\r\n", "x.csv") == {7: '{"weight_kg": "100"}', 8: "{}"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("coil_id\nC1\n", "no column set_aside_id"),
        ("set_aside_id,coil_id\nC1,7\n", "x.csv, line 2: set_aside_id is 'C1'"),
        ("", "no column set_aside_id"),
    ],
)
def test_file_that_is_no_export_is_told(text: str, told: str) -> None:
    with pytest.raises(RequestError, match=told):
        read_back(text, "x.csv")


def test_values_replace_and_empty_ones_take_away() -> None:
    row = '{"coil_id": "C1", "weight_kg": "1O0"}'
    values = as_values("coils", ["weight_kg=100", "heat="])
    assert json.loads(edited_row(row, values)) == {"coil_id": "C1", "weight_kg": "100"}
    assert json.loads(edited_row("2026-11-02T06", {"press_id": "P1"})) == {"press_id": "P1"}


@pytest.mark.parametrize("pair", ["weight_kg", "weight=100", "=100"])
def test_value_that_names_no_column_is_told(pair: str) -> None:
    with pytest.raises(RequestError, match="expected column=value with one of coil_id, lot"):
        as_values("coils", [pair])
