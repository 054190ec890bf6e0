"""Figure tables written as text, CSV, JSON and Parquet."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pandas as pd
import pytest

from monitor.export import Format, as_csv, as_json, as_parquet, as_text, write, written
from shared.errors import RequestError

TABLE = pd.DataFrame(
    {
        "press_id": ["P1", "P2"],
        "pieces": pd.array([1200, None], "Int64"),
        "availability": [0.912345678, float("nan")],
        "planned": [True, False],
    }
)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", '=HYPERLINK("http://x","y")'])
def test_text_that_a_spreadsheet_would_run_gets_an_apostrophe(text: str) -> None:
    written = as_csv(pd.DataFrame({"coil_id": [text, "C1"]}))
    rows = list(csv.reader(io.StringIO(written, newline="")))
    # After a tab or a line end inside the text stands another.
    told = "'" + re.sub(r"(?<=[\t\r])(?==)", "'", text)
    assert rows == [["coil_id"], [told], ["C1"]]


def test_text_with_a_sign_inside_and_numbers_below_nothing_stay_as_they_are() -> None:
    written = as_csv(pd.DataFrame({"lot": ["A-1=2"], "difference_kg": [-4.5], "good": [-3]}))
    assert written == "lot,difference_kg,good\r\nA-1=2,-4.5,-3\r\n"


def test_mixed_columns_are_made_safe_too() -> None:
    written = as_csv(pd.DataFrame({"row": pd.Series(["=1", None, 5], dtype="object")}))
    assert written.splitlines() == ["row", "'=1", '""', "5"]


def test_csv_leaves_empty_what_is_not_known_and_quotes_by_rfc_4180() -> None:
    assert as_csv(TABLE) == "press_id,pieces,availability,planned\r\nP1,1200,0.912345678,True\r\nP2,,,False\r\n"
    assert as_csv(pd.DataFrame({"reason": ['say "no", twice']})) == 'reason\r\n"say ""no"", twice"\r\n'


def test_json_is_a_list_of_rows_with_null_for_what_is_not_known() -> None:
    assert json.loads(as_json(TABLE)) == [
        {"press_id": "P1", "pieces": 1200, "availability": 0.912345678, "planned": True},
        {"press_id": "P2", "pieces": None, "availability": None, "planned": False},
    ]
    assert "é" in as_json(pd.DataFrame({"name": ["é"]}))


def test_text_aligns_columns_and_leaves_blank_what_is_not_known() -> None:
    assert as_text(TABLE).splitlines() == [
        "press_id pieces availability planned",
        "      P1   1200       0.9123    True",
        "      P2                       False",
    ]


def test_text_of_no_rows_says_what_to_do() -> None:
    assert as_text(TABLE[:0]).startswith("no rows: load files first")


def test_text_keeps_a_table_row_on_one_line_and_sends_no_commands_to_the_screen() -> None:
    shown = as_text(pd.DataFrame({"coil_id": ["C\x1b[2J1\nC2"]}))
    assert "\x1b" not in shown
    assert len(shown.splitlines()) == 2


def test_parquet_keeps_types_and_needs_a_file(tmp_path: Path) -> None:
    out = tmp_path / "shifts.parquet"
    write(TABLE, Format.PARQUET, out)
    again = pd.read_parquet(out)
    assert again.dtypes.astype(str).tolist() == ["str", "Int64", "float64", "bool"]
    assert again["pieces"].isna().tolist() == [False, True]
    with pytest.raises(RequestError, match=r"add --out FILE\.parquet"):
        write(TABLE, Format.PARQUET, None)


def test_csv_file_has_the_same_bytes_as_the_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "shifts.csv"
    write(TABLE, Format.CSV, out)
    write(TABLE, Format.CSV, None)
    assert out.read_bytes().decode() == capsys.readouterr().out == as_csv(TABLE)


@pytest.mark.parametrize("format_", list(Format))
def test_file_that_cannot_be_written_is_told_in_words(tmp_path: Path, format_: Format) -> None:
    with pytest.raises(RequestError, match="a folder with free space"):
        write(TABLE, format_, tmp_path / "nowhere" / "x")
    with pytest.raises(RequestError, match="a folder with free space"):
        write(TABLE, format_, tmp_path)


def test_tuples_of_names_leave_as_lists_in_every_format() -> None:
    table = pd.DataFrame({"coil_id": ["C1", "C2", "C3"], "die_id": [("D1", "D;2"), (), None]})
    assert written(table)["die_id"].fillna("not known").tolist() == ["D1;D;2", "", "not known"]
    assert table["die_id"].tolist() == [("D1", "D;2"), (), None]
    assert [row["die_id"] for row in csv.DictReader(io.StringIO(as_csv(table)))] == ["D1;D;2", "", ""]
    assert [row["die_id"] for row in json.loads(as_json(table))] == ["D1;D;2", "", None]
    assert pd.read_parquet(io.BytesIO(as_parquet(table)))["die_id"].tolist()[:2] == ["D1;D;2", ""]
    assert "D1;D;2" in as_text(table)
    assert pd.read_parquet(io.BytesIO(as_parquet(table[:0])))["die_id"].dtype == "str"
