"""The command on a tiny plant: one press, one die of 4 stations, one coil, an hour at 60 strokes a minute."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest
from typer.main import get_command

from monitor.cli.main import app, main
from monitor.figures import AVAILABLE
from monitor.ledger import Ledger
from monitor.load.files import load

PLANT = """
name = "Tiny"
timezone = "Europe/Berlin"
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
"""
BOOK = {
    "presses.csv": "press_id,rated_spm\nP1,60\n",
    "dies.csv": "die_id,pitch_mm,parts_per_stroke,rated_spm\nD1,30,1,60\n",
    "stations.csv": "die_id,station,operation\nD1,1,pierce\nD1,2,idle\nD1,3,form\nD1,4,cutoff\n",
    "parts.csv": "part_no,net_weight_g\nN1,5\n",
    "routes.csv": "part_no,step,die_id\nN1,1,D1\n",
    "materials.csv": "material,density_kg_m3\nDC01,7850\n",
    "causes.csv": "cause\nBUR\n",
    "reasons.csv": "reason,kind\nPUN,tooling\n",
    "coils.csv": "coil_id,lot,material,width_mm,thickness_mm,weight_kg\nC1,L1,DC01,40,1,314\n",
    "die_changes.csv": "time,press_id,event,die_id\n2026-11-02T06:00:00,P1,set,D1\n",
    "coil_changes.csv": "time,press_id,event,coil_id\n2026-11-02T06:00:00,P1,mount,C1\n",
    "stops.csv": "press_id,start_at,end_at,reason\nP1,2026-11-02T07:00:00,2026-11-02T07:10:00,PUN\n",
    "inspections.csv": "inspection_id,time,press_id,kind,inspected,cause,rejected\n"
    "I1,2026-11-02T06:30:00,P1,sample,20,BUR,2\n",
}


def strokes(*rows: tuple[str, int]) -> str:
    """A strokes file of press P1 on one morning."""
    return "time,press_id,counter\n" + "".join(f"2026-11-02T{time},P1,{counter}\n" for time, counter in rows)


#: An hour of running, ten minutes of standing, ten of running.
MORNING = strokes(
    *((f"06:{minute:02}:00", 60 * minute) for minute in range(60)),
    *((f"07:{minute:02}:00", 3600 + 60 * max(0, minute - 10)) for minute in range(21)),
)


@dataclass(frozen=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    def command(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["strokeledger", *(str(word) for word in words)])
        monkeypatch.setenv("COLUMNS", "200")
        code = 0
        try:
            main()
        except SystemExit as left:
            code = int(left.code or 0)
        told = capsys.readouterr()
        assert "Traceback" not in told.out + told.err
        return Ran(code, told.out, told.err)

    return command


def write_files(folder: Path) -> Path:
    """Write the files of the tiny plant."""
    folder.mkdir()
    (folder / "plant.toml").write_text(PLANT, "utf-8")
    for name, text in (BOOK | {"strokes-1.csv": MORNING}).items():
        (folder / name).write_text(text, "utf-8")
    return folder


@pytest.fixture
def files(tmp_path: Path) -> Path:
    return write_files(tmp_path / "in")


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger that the tiny plant has been loaded into, to be read only."""
    folder = tmp_path_factory.mktemp("tiny")
    with Ledger.open(folder / "ledger", create=True) as opened:
        load([write_files(folder / "in")], opened)
    return folder / "ledger"


@pytest.fixture
def own_ledger(ledger: Path, tmp_path: Path) -> Path:
    """A copy of it to load more into."""
    return shutil.copytree(ledger, tmp_path / "own")


def table(ran: Ran) -> pd.DataFrame:
    """The CSV that a command wrote."""
    assert ran.code == 0, ran.err
    return pd.read_csv(io.StringIO(ran.out), keep_default_na=False)


def test_load_prints_a_sum_that_closes_and_what_it_reckoned(tmp_path: Path, files: Path, run: Run) -> None:
    ran = run("load", files, "--ledger", tmp_path / "ledger")
    # 1 plant, 13 book, material and event files of 1 row or 4, 81 readings.
    assert ran.code == 0
    assert "15 files: 98 rows read = 98 new + 0 repeated + 0 corrected + 0 set aside" in ran.err
    assert "1 press-days reckoned" in ran.err
    assert ran.out == ""


def test_load_tells_of_readings_that_reckoning_set_aside(tmp_path: Path, files: Path, run: Run) -> None:
    (files / "strokes-2.csv").write_text(strokes(("07:21:00", 999_999), ("07:22:00", 4320), ("07:23:00", 4380)))
    ran = run("load", files, "--ledger", tmp_path / "ledger")
    assert "16 files: 101 rows read = 101 new" in ran.err
    assert "strokes-2.csv: 1 of the new readings cannot be true and count as set aside" in ran.err
    assert table(run("figures", "loads", "--ledger", tmp_path / "ledger", "--format", "csv"))["set_aside"].sum() == 1


def test_load_again_changes_nothing(own_ledger: Path, files: Path, run: Run) -> None:
    before = run("figures", "shifts", "--ledger", own_ledger).out
    ran = run("load", files, "--ledger", own_ledger)
    assert ran.code == 0
    assert "15 files: 98 rows read = 0 new + 98 repeated + 0 corrected + 0 set aside" in ran.err
    assert "already in as load" in ran.err
    assert run("figures", "shifts", "--ledger", own_ledger).out == before


def test_shift_of_the_tiny_plant_by_hand(ledger: Path, run: Run) -> None:
    row = table(run("figures", "shifts", "--ledger", ledger, "--format", "csv")).iloc[0]
    # 4 200 strokes through 4 stations; 3 600 + 600 s running, 600 s standing; 2 of 20 looked at were rejected.
    assert (row["shift_date"], row["shift"], row["press_id"], row["die_id"]) == ("2026-11-02", "early", "P1", "D1")
    assert (row["strokes"], row["pieces"], row["rejected"], row["good"]) == (4200, 4197, 2, 4195)
    assert (row["planned_s"], row["running_s"], row["stopped_s"]) == (4800, 4200, 600)


def test_other_figures_of_the_tiny_plant_by_hand(ledger: Path, run: Run) -> None:
    stop = table(run("figures", "stops", "--ledger", ledger, "--format", "csv")).iloc[0]
    assert (stop["seconds"], stop["reason"], stop["start_at"]) == (600, "PUN", "2026-11-02T07:00:00+01:00")
    coil = table(run("figures", "coils", "--ledger", ledger, "--format", "csv")).iloc[0]
    assert (coil["strokes"], coil["pieces"], coil["unfinished"]) == (4200, 4197, 3)
    assert coil["used_m"] == pytest.approx(126)
    assert coil["remaining_kg"] == pytest.approx(314 - 126 * 0.314)
    hours = table(run("figures", "hours", "--ledger", ledger, "--format", "csv"))
    assert hours["strokes"].tolist() == [3600, 600]
    scrap = table(run("figures", "scrap", "--ledger", ledger, "--format", "csv")).iloc[0]
    assert (scrap["cause"], scrap["inspected"], scrap["rejected"], scrap["rate"]) == ("BUR", 20, 2, 0.1)
    assert len(table(run("figures", "loads", "--ledger", ledger, "--format", "csv"))) == 15


@pytest.mark.parametrize("name", AVAILABLE)
def test_every_figure_in_every_format_is_the_same_table(ledger: Path, run: Run, tmp_path: Path, name: str) -> None:
    as_csv = table(run("figures", name, "--ledger", ledger, "--format", "csv"))
    as_json = json.loads(run("figures", name, "--ledger", ledger, "--format", "json").out)
    assert run("figures", name, "--ledger", ledger, "--format", "parquet", "--out", tmp_path / "f").code == 0
    as_parquet = pd.read_parquet(tmp_path / "f")
    as_text = run("figures", name, "--ledger", ledger).out
    assert len(as_csv) == len(as_json) == len(as_parquet)
    assert list(as_parquet.columns) == list(as_csv.columns)
    if len(as_csv):
        assert list(as_json[0]) == list(as_csv.columns) == as_text.splitlines()[0].split()
        assert len(as_text.splitlines()) == 1 + len(as_csv)
    else:
        assert as_text.startswith("no rows")


@pytest.mark.parametrize("name", AVAILABLE)
def test_every_figure_of_nothing_is_no_rows(ledger: Path, tmp_path: Path, run: Run, name: str) -> None:
    empty = tmp_path / "empty"
    (tmp_path / "none").mkdir()
    assert run("load", tmp_path / "none", "--ledger", empty).code == 0
    assert run("figures", name, "--ledger", empty).out.startswith("no rows")
    if name not in ("loads", "set_aside"):
        nowhere = run("figures", name, "--ledger", ledger, "--from", "2030-01-01", "--press", "P9", "--die", "D9")
        assert (nowhere.code, nowhere.out[:7]) == (0, "no rows")


def test_filters_and_range_narrow_a_figure(ledger: Path, run: Run) -> None:
    asked = ("figures", "hours", "--ledger", ledger, "--format", "csv")
    assert table(run(*asked, "--from", "2026-11-02T07:00"))["strokes"].tolist() == [600]
    assert table(run(*asked, "--to", "2026-11-02T07:00"))["strokes"].tolist() == [3600]
    assert table(run(*asked, "--press", "P1", "--die", "D1", "--part", "N1"))["strokes"].sum() == 4200
    assert table(run(*asked, "--part", "N9")).empty


def test_figure_goes_to_a_file(ledger: Path, run: Run, tmp_path: Path) -> None:
    ran = run("figures", "shifts", "--ledger", ledger, "--format", "csv", "--out", tmp_path / "shifts.csv")
    assert (ran.code, ran.out) == (0, "")
    assert (tmp_path / "shifts.csv").read_text("utf-8").startswith("shift_date,shift,press_id")


def test_file_of_no_table_is_refused_and_the_others_are_taken(files: Path, tmp_path: Path, run: Run) -> None:
    (files / "holiday.csv").write_text("a,b\n1,2\n", "utf-8")
    ran = run("load", files, "--ledger", tmp_path / "ledger")
    assert ran.code == 1
    assert "refused  holiday.csv" in ran.err
    assert "98 new" in ran.err


def test_file_without_a_required_column_is_refused_whole(files: Path, tmp_path: Path, run: Run) -> None:
    (files / "strokes-2.csv").write_text("time,press_id\n2026-11-02T09:00:00,P1\n", "utf-8")
    ran = run("load", files, "--ledger", tmp_path / "ledger")
    assert ran.code == 1
    assert "refused  strokes-2.csv" in ran.err
    assert "counter" in ran.err


def test_path_that_is_not_there_is_refused(tmp_path: Path, run: Run) -> None:
    ran = run("load", tmp_path / "nowhere", "--ledger", tmp_path / "ledger")
    assert ran.code == 1
    assert "nowhere" in ran.err


def test_bad_rows_are_set_aside_with_a_reason_and_the_load_succeeds(files: Path, tmp_path: Path, run: Run) -> None:
    (files / "strokes-2.csv").write_text(strokes(("07:30:00", 4800)) + "soon,P1,9\n2026-11-02T08:00:00,P9,1\n", "utf-8")
    ran = run("load", files, "--ledger", tmp_path / "ledger")
    assert ran.code == 0
    assert "strokes-2.csv: 3 rows read = 1 new + 0 repeated + 0 corrected + 2 set aside" in ran.err
    assert "figures set_aside" in ran.err
    held = table(run("figures", "set_aside", "--ledger", tmp_path / "ledger", "--format", "csv"))
    assert held[["file", "line"]].to_numpy().tolist() == [["strokes-2.csv", 3], ["strokes-2.csv", 4]]
    assert "soon" in held["reason"][0] + held["row"][0]


def test_row_that_waited_for_its_press_comes_in_with_it(files: Path, tmp_path: Path, run: Run) -> None:
    (files / "strokes-2.csv").write_text("time,press_id,counter\n2026-11-02T08:00:00,P9,1\n", "utf-8")
    run("load", files, "--ledger", tmp_path / "ledger")
    (tmp_path / "presses-2.csv").write_text("press_id\nP9\n", "utf-8")
    ran = run("load", tmp_path / "presses-2.csv", "--ledger", tmp_path / "ledger")
    assert "1 rows that had been waiting came in" in ran.err
    assert table(run("figures", "set_aside", "--ledger", tmp_path / "ledger", "--format", "csv")).empty


def test_contradiction_is_set_aside_and_taken_as_a_correction_when_asked(
    own_ledger: Path, tmp_path: Path, run: Run
) -> None:
    other = tmp_path / "parts-2.csv"
    other.write_text("part_no,net_weight_g\nN1,6\n", "utf-8")
    assert "0 corrected + 1 set aside" in run("load", other, "--ledger", own_ledger).err
    other.write_text("part_no,net_weight_g\nN1,7\n", "utf-8")
    assert "1 corrected + 0 set aside" in run("load", other, "--ledger", own_ledger, "--correct").err


def test_glitch_counts_as_set_aside_and_names_its_line(own_ledger: Path, tmp_path: Path, run: Run) -> None:
    glitch = tmp_path / "strokes-2.csv"
    glitch.write_text(strokes(("07:20:30", 999_999), ("07:21:00", 4260), ("07:22:00", 4320)), "utf-8")
    run("load", glitch, "--ledger", own_ledger)
    held = table(run("figures", "set_aside", "--ledger", own_ledger, "--format", "csv"))
    assert held[["table", "file", "line"]].to_numpy().tolist() == [["strokes", "strokes-2.csv", 2]]
    last = table(run("figures", "loads", "--ledger", own_ledger, "--format", "csv")).iloc[-1]
    assert (last["read"], last["new"], last["set_aside"]) == (3, 2, 1)
    assert table(run("figures", "shifts", "--ledger", own_ledger, "--format", "csv"))["strokes"].sum() == 4320


def test_unknown_figure_and_format_are_refused_as_usage(ledger: Path, run: Run) -> None:
    ran = run("figures", "profits", "--ledger", ledger)
    assert ran.code == 2
    assert "shifts" in ran.err
    assert run("figures", "shifts", "--ledger", ledger, "--format", "xml").code == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--from", "yesterday"), "expected a date or time in ISO 8601"),
        (("--from", "2026-11-03", "--to", "2026-11-02"), "expected an end after the beginning"),
        (("--format", "parquet"), "add --out FILE.parquet"),
        (("--format", "csv", "--out", "/nowhere/at/all.csv"), "expected a folder with free space"),
    ],
)
def test_question_that_cannot_be_answered_is_told_in_one_sentence(
    ledger: Path, run: Run, words: tuple[str, ...], told: str
) -> None:
    ran = run("figures", "shifts", "--ledger", ledger, *words)
    assert (ran.code, ran.out) == (1, "")
    assert told in " ".join(ran.err.split())


def test_ledger_that_is_not_there_is_told_and_not_made(tmp_path: Path, run: Run) -> None:
    ran = run("figures", "shifts", "--ledger", tmp_path / "none")
    assert ran.code == 1
    assert "none" in ran.err
    assert not (tmp_path / "none").exists()


def test_help_says_what_it_is_not(run: Run) -> None:
    ran = run("--help")
    assert ran.code == 0
    assert "no safety device" in " ".join(ran.out.split())


#: Prints its help, or what it was told to, and then every module that it imported for that.
IMPORTED = """
import sys
from monitor.cli.main import app
for words in {words}:
    try:
        app(words, prog_name="strokeledger")
    except SystemExit as left:
        assert not left.code, words
print("imported:", *sys.modules)
"""
SLOW = {"babel", "dash", "dashboards", "numpy", "pandas", "plotly", "pyarrow", "scipy", "sqlalchemy", "typst"}


def imported(*words: list[str]) -> set[str]:
    """Names of the modules that some commands import, run one after the other."""
    script = IMPORTED.format(words=words)
    ran = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    return set(ran.stdout.partition("imported:")[2].split())


def test_help_of_any_command_waits_for_nothing_that_only_its_work_needs() -> None:
    top = get_command(app)
    words = [[], *([name] for name in top.commands)]  # type: ignore[attr-defined]
    for name, command in top.commands.items():  # type: ignore[attr-defined]
        words += [[name, inner] for inner in getattr(command, "commands", ())]
    assert len(words) > 25
    assert not SLOW & imported(*([*asked, "--help"] for asked in words))


def test_a_figure_waits_for_nothing_that_only_others_need(ledger: Path) -> None:
    found = imported(["figures", "shifts", "--ledger", str(ledger)])
    assert "pandas" in found
    others = ("babel", "dash", "plotly", "scipy.stats", "typst", "monitor.intake", "monitor.load", "monitor.report")
    assert [name for name in found if name.startswith(others)] == []


def test_a_report_waits_for_nothing_that_only_others_need(ledger: Path, tmp_path: Path) -> None:
    found = imported(["week", "--week", "2026-W45", "--ledger", str(ledger), "--out", str(tmp_path)])
    others = ("dash", "plotly", "monitor.intake", "monitor.load.files", "monitor.cli.load", "dashboards")
    assert [name for name in found if name.startswith(others)] == []


def test_run_as_a_module_it_says_the_name_of_the_command() -> None:
    ran = subprocess.run([sys.executable, "-m", "monitor", "--help"], check=True, capture_output=True, text=True)
    assert "Usage: strokeledger [OPTIONS]" in ran.stdout


def test_a_command_mistyped_is_answered_with_the_one_meant(run: Run) -> None:
    assert "Did you mean 'week'" in run("wek").err
