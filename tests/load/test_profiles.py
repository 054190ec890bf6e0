"""Profiles in a whole load: kept in the ledger, named with each load, stable when files come again."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.figures import figure
from monitor.intake import Profile
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.load.report import FileReport

DIALECTS = Path(__file__).parents[1] / "intake" / "dialects"
BOOK = {
    "plant.toml": 'timezone = "Europe/Berlin"\n',
    "presses.csv": "press_id,rated_spm\nP05,200\nP06,200\nP07,200\n",
    "causes.csv": "cause\nBUR\nSLG\n",
}


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    folder = tmp_path / "plant"
    folder.mkdir()
    for name, text in BOOK.items():
        (folder / name).write_text(text)
    return folder


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(tmp_path / "ledger", create=True) as opened:
        yield opened


def loaded(folder: Path, ledger: Ledger, **more: object) -> dict[str, FileReport]:
    reports = {one.file: one for one in load([folder], ledger, **more).files}  # type: ignore[arg-type]
    for one in reports.values():
        assert one.read == one.new + one.repeated + one.corrected + one.set_aside
    return reports


def copy(plant: Path, *names: str) -> None:
    for name in names:
        shutil.copy(DIALECTS / name, plant / name)


def counts(report: FileReport) -> tuple[int, int, int, int, int]:
    return report.read, report.new, report.repeated, report.set_aside, report.outside


def test_a_profile_is_kept_and_named_with_the_load(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-zaehler.toml", "zaehler-01.csv")
    reports = loaded(plant, ledger)
    assert counts(reports["zaehler-01.csv"]) == (4, 2, 0, 2, 0)
    assert counts(reports["profile-zaehler.toml"]) == (1, 1, 0, 0, 0)
    loads = ledger.snapshot().loads().set_index("file")["profile"]
    version = Profile.from_toml((DIALECTS / "profile-zaehler.toml").read_text("utf-8"), "zaehler").version
    assert dict(loads[loads != ""]) == {"zaehler-01.csv": f"zaehler {version}"}
    (plant / "profile-zaehler.toml").unlink()
    shutil.copy(plant / "zaehler-01.csv", plant / "zaehler-02.csv")
    with (plant / "zaehler-02.csv").open("ab") as file:
        file.write(b"02.11.2026 06:05:00;P07;4812600;1,0\r\n")
    again = loaded(plant, ledger)
    assert counts(again["zaehler-02.csv"]) == (5, 1, 2, 2, 0)
    assert again["zaehler-01.csv"].already_in is not None


def test_a_mended_profile_reads_the_file_again(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-gesamt.toml", "gesamt-05-P07.csv")
    first = loaded(plant, ledger)["gesamt-05-P07.csv"]
    assert counts(first) == (4, 2, 0, 2, 0)
    path = plant / "profile-gesamt.toml"
    path.write_text(path.read_text("utf-8").replace('null_words = "-"', 'null_words = ["-", "4.82"]'))
    again = loaded(plant, ledger)
    assert counts(again["profile-gesamt.toml"]) == (1, 1, 0, 0, 0)
    assert counts(again["gesamt-05-P07.csv"]) == (4, 0, 2, 2, 0)
    assert len(ledger.snapshot().profile_texts()) == 1


def test_shift_totals_become_their_strokes(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-shifts.toml", "shifts-08.csv")
    loaded(plant, ledger)
    strokes = figure(ledger, "shifts").groupby("shift_date")["strokes"].sum()
    assert {str(day): int(number) for day, number in strokes.items() if number} == {
        "2026-11-02": 38112 + 3000, "2026-11-03": 9000, "2026-11-04": 36540,
    }  # fmt: skip


def test_hours_of_several_presses_add_up_whatever_order_they_come_in(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-wide.toml", "wide-2026-11-02.csv")
    assert counts(loaded(plant, ledger)["wide-2026-11-02.csv"]) == (10, 10, 0, 0, 1)
    text = (plant / "wide-2026-11-02.csv").read_text("utf-8").replace("23-24", "07-08;4000;4100;4200\n23-24")
    (plant / "more").mkdir()
    (plant / "more" / "wide-2026-11-02.csv").write_text(text)
    later = load([plant / "more"], ledger).files[0]
    assert counts(later) == (16, 6, 10, 0, 1)
    strokes = figure(ledger, "hours").groupby("press_id")["strokes"].sum()
    assert strokes.to_dict() == {"P05": 4870 + 4000 + 4902, "P06": 4100, "P07": 4875 + 4200 + 4811}


def test_a_counter_set_back_with_every_tub_counts_on(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-tubs.toml", "tubs-09.csv")
    loaded(plant, ledger)
    assert int(figure(ledger, "shifts")["strokes"].sum()) == 5000


def test_a_given_profile_is_used_and_not_kept(plant: Path, ledger: Ledger) -> None:
    copy(plant, "log-03.txt")
    profile = Profile.from_toml((DIALECTS / "profile-banner.toml").read_text("utf-8"), "banner")
    assert counts(loaded(plant, ledger, profile=profile)["log-03.txt"]) == (2, 2, 0, 0, 2)
    assert ledger.snapshot().profile_texts() == {}


def test_what_has_no_profile_or_a_bad_one_is_refused_and_the_rest_goes_on(plant: Path, ledger: Ledger) -> None:
    copy(plant, "log-03.txt", "profile-zaehler.toml")
    (plant / "profile-bad.toml").write_text("table = 'x'\n")
    reports = loaded(plant, ledger)
    assert "expected a table of the data contract" in reports["profile-bad.toml"].refused
    assert "a name of no table and of no profile" in reports["log-03.txt"].refused
    assert reports["presses.csv"].new == 3


def test_rows_of_one_line_that_waited_come_in_together(plant: Path, ledger: Ledger) -> None:
    copy(plant, "profile-wide.toml", "wide-2026-11-02.csv")
    (plant / "presses.csv").write_text("press_id,rated_spm\nP07,200\n")
    assert counts(loaded(plant, ledger)["wide-2026-11-02.csv"]) == (10, 4, 0, 6, 1)
    (plant / "presses.csv").write_text(BOOK["presses.csv"])
    assert load([plant], ledger).released == 6
    row = ledger.snapshot().loads().set_index("file").loc["wide-2026-11-02.csv"]
    assert (row["new"], row["set_aside"]) == (10, 0)
    assert figure(ledger, "hours").groupby("press_id")["strokes"].sum().to_dict() == {"P05": 9772, "P07": 9686}


SHIFTS = """
[match]
name = "shifts-*.csv"
[file]
delimiter = ";"
thousands = " "
[time]
date_order = "dmy"
[columns.press_id]
from = "Press"
[columns.time]
from = ["Date", "Shift"]
map = { Early = "14:00", Late = "22:00", Night = "06:00+1" }
[[table]]
name = "strokes"
counter = { kind = "delta", period_s = 28800 }
columns.counter = { from = "Made" }
[[table]]
name = "inspections"
columns.inspection_id = { from = ["Press", "Date", "Shift"] }
columns.kind = { constant = "tub" }
columns.cause = { constant = "BUR" }
columns.rejected = { from = "Bad" }
"""


def test_one_file_feeds_two_tables_and_closes_in_both(plant: Path, ledger: Ledger) -> None:
    copy(plant, "shifts-08.csv")
    (plant / "profile-shifts.toml").write_text(SHIFTS)
    files = [file for file in load([plant], ledger).files if file.file == "shifts-08.csv"]
    assert {file.table: counts(file) for file in files} == {"strokes": (7, 6, 0, 1, 0), "inspections": (4, 3, 0, 1, 0)}
    kept = ledger.snapshot().loads()
    of_file = kept[kept["file"] == "shifts-08.csv"]
    assert [label.split()[0] for label in of_file["profile"]] == ["shifts", "shifts[2]"]
    assert figure(ledger, "scrap")["rejected"].sum() == 41 + 41 + 18
    again = [file for file in load([plant], ledger).files if file.file == "shifts-08.csv"]
    assert all(file.already_in is not None and file.new == 0 for file in again)
    text = (plant / "shifts-08.csv").read_text("utf-8")
    (plant / "shifts-08.csv").write_text(text + "06.11.2026;Early;P07;1 000;2\n")
    more = {file.table: file for file in load([plant], ledger).files if file.file == "shifts-08.csv"}
    assert (more["strokes"].new, more["inspections"].new) == (2, 1)
    assert figure(ledger, "scrap")["rejected"].sum() == 41 + 41 + 18 + 2


def test_file_that_lacks_a_heading_of_one_table_is_refused_for_all(plant: Path, ledger: Ledger) -> None:
    (plant / "profile-shifts.toml").write_text(SHIFTS)
    (plant / "shifts-1.csv").write_text("Date;Shift;Press;Made\n02.11.2026;Early;P07;5\n")
    [file] = [file for file in load([plant], ledger).files if file.file == "shifts-1.csv"]
    assert "Bad" in file.refused
