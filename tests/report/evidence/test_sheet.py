"""The evidence sheet: the same question gives the same bytes, and every number on it comes from its rows."""

from __future__ import annotations

import dataclasses
import io
import subprocess
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from monitor.report.evidence.blocks import MOST_ROWS, blocks
from monitor.report.evidence.sheet import (
    Evidence,
    EvidenceQuery,
    command,
    evidence,
    file_names,
    lines_csv,
    rows_csv,
    sheet_pdf,
)
from monitor.report.files import Branding
from shared.errors import RequestError
from shared.plant import ReportStyle
from shared.words import ENGLISH, words
from tests.figures.bench_given import check, named, seen, steady, suspect
from tests.figures.given import START_US
from tests.programs import need

SERVICE = pd.DataFrame(
    {
        "die_id": ["D1"],
        "station": pd.array([1], dtype="Int64"),
        "strokes_since_sharpening": [900.0],
        "sharpen_every_strokes": [2000.0],
        "economic_interval": [None],
        "expected_due_at": ["2026-11-09T10:00:00+00:00"],
    }
)
HOUSE = Branding(ReportStyle())


def found(rows: list[dict[str, Any]] | None = None, asked: EvidenceQuery | None = None, lot: str = "L2") -> Evidence:
    rows = rows or steady(8)
    for row in rows:
        if row["lot"] == "L2":
            row["found_BUR"] = 40.0
    lines = [suspect("BUR", "acts", named("lot", lot), 120.0), suspect("BUR", "clear", named("lot", "L3"))]
    return evidence(seen(rows, lines), SERVICE, asked or EvidenceQuery("D1", "BUR"), START_US)


def text_of(told: Evidence, *called: str) -> str:
    """All text of the blocks of a sheet."""
    return str([dataclasses.astuple(block) for block in blocks(told, called or ("D1", "BUR"), "command", ENGLISH)])


def ran(program: str, pdf: bytes, folder: Path) -> str:
    need(program)
    (folder / "sheet.pdf").write_bytes(pdf)
    out = ["-"] if program == "pdftotext" else []
    return subprocess.run([program, str(folder / "sheet.pdf"), *out], capture_output=True, check=True, text=True).stdout


def test_the_rows_of_both_sides_are_all_there_and_add_up() -> None:
    told = found()
    rows = pd.read_csv(io.BytesIO(rows_csv(told)), encoding="utf-8-sig")
    assert len(rows) == 32
    bad, compared = (rows[rows["side"] == side] for side in ("bad", "compared"))
    assert set(bad["lot"]) == {"L2"}
    assert (bad["rejected"].sum(), bad["inspected"].sum()) == (320, 8000)
    assert (compared["rejected"].sum(), compared["inspected"].sum()) == (240, 24_000)
    # Expected is what the compared rate would have given: 1 % of 1000 pieces.
    assert set(bad["expected"]) == {10.0}
    assert set(rows["ledger_version"]) == {7}
    assert rows["from_at"].iloc[0].endswith("+00:00")


def test_the_same_question_gives_the_same_bytes_and_other_counts_another_digest() -> None:
    one, other = found(), found()
    assert sheet_pdf(one, {}, HOUSE, ENGLISH) == sheet_pdf(other, {}, HOUSE, ENGLISH)
    rows = steady(8)
    rows[0]["found_BUR"] = 11.0
    assert found(rows).digest != one.digest == other.digest


def test_the_sheet_says_what_was_asked_the_answer_and_the_rates_by_hand() -> None:
    told = text_of(found(), "D1 Bracket", "BUR burr")
    for part in ("D1 Bracket", "BUR burr", "Lot L2: Acts", "2.0 times the rate of the rest", "version 7", "locked out",
                 "station 1 (pierce)", "does not say whose fault"):  # fmt: skip
        assert part in told, part
    assert "320 of 8\\u202f000 are 4.000\\u202f%" in told


def test_the_command_on_it_asks_for_the_very_same_line() -> None:
    asked = EvidenceQuery("D1", "BUR", "lot", 'L 3"; rm')
    told = found(asked=EvidenceQuery("D1", "BUR", "lot", "L3"))
    assert told.line.explanation == named("lot", "L3")
    assert command(told) == (
        "strokeledger evidence --ledger LEDGER --die D1 --cause BUR --factor lot --level L3 --version 7 --out FOLDER"
    )
    with pytest.raises(RequestError, match="lot: L2; lot: L3"):
        found(asked=asked)


def test_a_die_or_cause_that_nobody_looked_at_is_refused_with_those_there_are() -> None:
    with pytest.raises(RequestError, match="D1"):
        found(asked=EvidenceQuery("D9", "BUR"))
    with pytest.raises(RequestError, match="BUR"):
        found(asked=EvidenceQuery("D1", "XXX"))


def test_hostile_text_is_no_formula_no_markup_and_no_path(tmp_path: Path) -> None:
    rows = [check(n, "=cmd|' /C calc'!A0" if n % 2 else "C<b>#x</b>", "=1+1" if n % 2 else "@lot", 1000, 9)
            for n in range(12)]  # fmt: skip
    told = found(rows, lot="=1+1")
    csv = rows_csv(told).decode("utf-8-sig")
    assert ",'=1+1," in csv
    assert ",=" not in csv
    assert ",'=1+1," in lines_csv(told).decode("utf-8-sig")
    assert "C<b>#x</b>" in ran("pdftotext", sheet_pdf(found(rows, lot="@lot"), {}, HOUSE, ENGLISH), tmp_path)
    assert file_names(EvidenceQuery("../../etc", "a/b c")) == (
        "evidence-..-..-etc-a-b-c.pdf", "evidence-..-..-etc-a-b-c-rows.csv", "evidence-..-..-etc-a-b-c-lines.csv",
    )  # fmt: skip


def test_a_long_list_is_cut_on_paper_and_whole_in_the_csv() -> None:
    rows = [check(n, f"C{n // 100}", "L2" if n < 600 else "L3", 100, 1) for n in range(800)]
    told = found(rows)
    grids = [block for block in blocks(told, ["D1", "BUR"], "command", ENGLISH) if hasattr(block, "rows")]
    assert max(len(grid.rows) for grid in grids) == MOST_ROWS
    assert rows_csv(told).count(b"\r\n") == 801


def test_a_line_whose_rows_are_gone_one_coil_and_a_die_of_no_stations_still_make_a_sheet() -> None:
    assert found(lot="L9").rows.empty
    for rows in ([check(0, "C1", "", 5, 1)], [check(0, "", "L2", 5, 0)]):
        assert sheet_pdf(found(rows), {}, HOUSE, ENGLISH).startswith(b"%PDF")


def test_the_sheet_is_searchable_and_embeds_its_fonts(tmp_path: Path) -> None:
    pdf = sheet_pdf(found(), {}, HOUSE, words("de"))
    assert "L2" in ran("pdftotext", pdf, tmp_path)
    fonts = [line.split() for line in ran("pdffonts", pdf, tmp_path).splitlines()[2:]]
    assert fonts
    assert all("DejaVuSans" in font[0] and font[-5] == "yes" for font in fonts)
