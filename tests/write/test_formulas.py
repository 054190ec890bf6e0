"""No cell of a CSV file runs as a formula, whatever a spreadsheet splits it at; text comes back as it was."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.export import as_csv
from monitor.figures import AVAILABLE, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.set_aside import export, read_back
from monitor.write.formulas import guarded, guarded_table, unguarded
from tests.invented.tiny import Tiny, at
from tests.programs import need

SEPARATORS = ",;\t|"
RISKY = ("=", "+", "-", "@", "＝", "＋", "－", "＠", "\t", "\r")
#: What each name of the plant becomes.
HOSTILE = {
    "P": "P;=2+3", "D": "x;=2+3", "N": "N|=2+3", "steel": "steel,=2+3", "K": "K;-1+1", "L": "L;@SUM(1)", "H": "H; =2+3",
    "BUR": 'BUR;"=2+3', "C1": "C1;+1+1", "S": "S;＝2+3", "B1": "=B1;=2", "B2": "-B2|+2", "I1": "I1;=1", "Q1": "Q1|@1",
    "JAM": "JAM;=1", "O1": "O1;=1", "H1": "H1;=1", "A": "A;=1", "F": "x\n=2+3", "E": "a\t=2+3\r\n-1", "W": "x,;=1",
}  # fmt: skip


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Ledger:
    """A ledger with a figure of each kind, in which every name would run."""
    plant = Tiny(tmp_path_factory.mktemp("hostile"))
    plant.coil("C1")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("08:00"))
    plant.run(at("09:00"), at("10:00"))
    plant.change(at("10:00"), "remove", "C1", weight_kg=4000)
    plant.add("reasons", reason="JAM", name="F", kind="press")
    plant.add("stops", press_id="P", start_at=at("08:00"), end_at=at("09:00"), reason="JAM")
    plant.add("stops", press_id="P", start_at=at("11:00"), end_at=at("11:10"), reason="W")
    plant.look("I1", at("07:00"), "full", 100, 7, made_from=at("06:00"), made_to=at("06:30"))
    plant.box("B1", at("06:10"), at("07:00"), 600)
    plant.box("B2", at("07:00"), at("08:00"), 600)
    plant.add("shipments", shipment_id="Q1", container_id="B1", shipped_at=at("12:00"), customer="K")
    plant.add(
        "complaints", complaint_id="Q1", reported_at=at("13:00"), customer="K", part_no="N", pieces=3, cause="BUR"
    )
    plant.add(
        "orders", order_id="O1", part_no="N", press_id="P", quantity=5000, start_at=at("06:00"), due_at=at("20:00")
    )
    plant.add("holds", hold_id="H1", placed_at=at("13:00"), scope="coil", value="C1", reason="F")
    plant.add("die_service", die_id="D", time=at("05:00"), work="sharpen", note="E")
    plant.add("characteristics", part_no="N", characteristic="A", nominal=1, lower=0, upper=2, unit="W")
    for piece in range(1, 31):
        plant.add("measurements", time=at(f"06:{piece:02}"), press_id="P", part_no="N", characteristic="A", piece=1,
                  value=1 + piece / 100)  # fmt: skip
    for rows in plant.rows.values():
        for row in rows:
            row |= {name: HOSTILE[cell] for name, cell in row.items() if isinstance(cell, str) and cell in HOSTILE}
    plant.load()
    (plant.folder / "strokes-=1+1;=2.csv").write_text('time,press_id,counter\n"x;=2+3",";=1;|=2",=1\n=;=,"\n')
    load([plant.folder / "strokes-=1+1;=2.csv"], plant.ledger)
    return plant.ledger


def cells_at(text: str, separator: str) -> set[str]:
    """Every cell of a file that anybody may see who splits it at a separator, quotes minded or not."""
    csv.field_size_limit(1 << 24)
    minded = {cell for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator) for cell in row}
    bare = {cell for line in re.split(r"[\r\n]", text) for cell in line.split(separator)} if separator != "," else set()
    return {cell.lstrip(' "') for cell in minded | bare}


def running(text: str) -> list[str]:
    """Cells that would run; a plain number below nothing is none."""
    found = {cell for separator in SEPARATORS for cell in cells_at(text, separator) if cell.startswith(RISKY)}
    return sorted(cell for cell in found if not re.fullmatch(r"-[\d.]+(e[+-]\d+)?", cell))


@pytest.mark.parametrize("name", AVAILABLE)
def test_no_cell_of_a_figure_runs(hostile: Ledger, name: str) -> None:
    assert running(as_csv(figure(hostile, name))) == []


def test_the_figures_hold_what_would_run(hostile: Ledger) -> None:
    """The test above says something: without the guard, cells of these tables begin with a formula's sign."""
    bare = {name for name in AVAILABLE if running(figure(hostile, name).to_csv(index=False))}
    assert {"shifts", "hours", "stops", "coils", "coil_ledger", "scrap", "trace", "set_aside", "loads"} <= bare


def test_rows_set_aside_do_not_run_and_come_back_as_they_were(hostile: Ledger) -> None:
    held = hostile.snapshot().set_aside_rows()
    assert len(held) == 2
    text = export(held)
    assert running(text) == []
    asked = dict(zip(held["id"].tolist(), held["row"], strict=True))
    for number, row in read_back(text, "mended.csv").items():
        cells = json.loads(asked[number])
        assert json.loads(row) == (cells if isinstance(cells, dict) else {})


@given(st.text("ab =+-@'\",;|\t\r\n＝1", max_size=12))
@example("'")
@example(";''=")
@example("\r\n=1")
def test_any_text_is_safe_and_comes_back(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert running(as_csv(pd.DataFrame({"a": ["x"], "b": [text], "c": ["y"]}))) == []
    held = pd.DataFrame(
        [{"id": 1, "table": "coils", "file": text, "line": 2, "reason": text, "row": json.dumps({"lot": text})}]
    )
    written = export(held.assign(load_id=1))
    assert running(written) == []
    # An empty cell is none.
    assert json.loads(read_back(written, "x")[1]) == ({"lot": text} if text else {})


def test_headings_are_guarded_and_numbers_are_not() -> None:
    table = guarded_table(pd.DataFrame({"=a": [-1.5], "b;=2": ["-1"]}))
    assert (list(table.columns), table.iloc[0].tolist()) == (["'=a", "b;'=2"], [-1.5, "'-1"])


@pytest.mark.parametrize("separator", ";\t|")
def test_a_spreadsheet_may_save_an_export_with_any_separator(separator: str) -> None:
    held = pd.DataFrame([{"id": 7, "table": "coils", "file": "f", "line": 2, "reason": "r", "row": '{"lot": "x;=2"}'}])
    rows = list(csv.reader(io.StringIO(export(held.assign(load_id=1)), newline="")))
    saved = io.StringIO()
    csv.writer(saved, delimiter=separator).writerows(rows)
    assert read_back(saved.getvalue(), "x") == {7: '{"lot": "x;=2"}'}


@pytest.mark.slow
@pytest.mark.parametrize("separator", [";", "|"])
def test_libreoffice_finds_no_formula(hostile: Ledger, tmp_path: Path, separator: str) -> None:
    need("soffice")
    files = [tmp_path / "shifts.csv", tmp_path / "held.csv", tmp_path / "bare.csv"]
    files[0].write_text("\ufeff" + as_csv(figure(hostile, "shifts")), "utf-8", newline="")
    files[1].write_text("\ufeff" + export(hostile.snapshot().set_aside_rows()), "utf-8", newline="")
    files[2].write_text(f"a,b\np,x{separator}=2+3\n", "utf-8")
    # 13: formulas are evaluated, which LibreOffice does not do by itself and other spreadsheets do.
    options = f"CSV:{ord(separator)},34,76,1,,0,false,true,false,false,false,0,true"
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", f"--infilter={options}", "--convert-to", "fods"]
    subprocess.run(
        [*command, "--outdir", str(tmp_path), *map(str, files)], check=True, capture_output=True, timeout=120
    )
    found = {path.stem: path.with_suffix(".fods").read_text("utf-8").count("table:formula=") for path in files}
    assert found["bare"] == 1  # It would find one.
    assert (found["shifts"], found["held"]) == (0, 0)
