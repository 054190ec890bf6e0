"""What loads and checks say of rows that cannot all be true."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest

from monitor.check import check
from monitor.cli.main import main
from monitor.contradictions import all_of, new_ones, summary
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.invented.tiny import SHIFTS, Tiny, at


@pytest.fixture
def plant(tmp_path: Path) -> Tiny:
    """7200 pieces from 06:00 to 08:00, and a tub of which 8604 are counted."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("08:00"))
    tiny.look("T1", at("08:00"), "tub", None, 8604)
    return tiny


def test_a_load_brings_what_was_not_there_before_it_and_not_the_history_again(plant: Tiny) -> None:
    first = plant.load()
    assert [one.code for one in new_ones(plant.ledger, 0, first.since_us)] == ["more_rejected_than_made"]
    plant.box("B", at("06:00"), at("06:30"), 100)
    for number in (1, 2):
        plant.add("shipments", shipment_id=f"S{number}", container_id="B", shipped_at=at("12:00"), customer="K")
    before = plant.ledger.version
    second = plant.load()
    assert [one.code for one in new_ones(plant.ledger, before, second.since_us)] == ["box_sent_twice"]
    assert len(all_of(plant.ledger)) == 2
    assert new_ones(plant.ledger, plant.ledger.version, second.since_us) == []


def test_the_earliest_moment_of_a_load_is_that_of_its_rows(plant: Tiny) -> None:
    plant.load()
    assert plant.load().since_us is None
    plant.add("stops", press_id="P", start_at=at("07:30"), reason="PUN")
    plant.change(at("09:00"), "remove", "C")
    # 07:30 on 2 November 2026 is 1 793 604 600 s after 1970.
    assert plant.load().since_us == 1_793_604_600_000_000


def test_a_summary_counts_by_kind_and_says_how_to_see_them(plant: Tiny) -> None:
    plant.look("I1", at("07:00"), "sample", 5000, 0)
    plant.load()
    (line,) = summary(all_of(plant.ledger))
    assert line == (
        "2 sets of rows cannot all be true: 1 more rejected than made, 1 sample larger than what was made; "
        "see which: strokeledger figures contradictions --ledger …"
    )
    assert summary([]) == []


def test_an_empty_good_is_explained_and_no_fault_of_the_ledger(plant: Tiny) -> None:
    plant.load()
    assert check(plant.ledger) == []


def test_an_empty_good_that_nothing_explains_is_found(plant: Tiny, monkeypatch: pytest.MonkeyPatch) -> None:
    """The pieces of a row do not go beyond the whole, and no rows contradict one another: then good must not lack."""
    del plant.rows["inspections"]
    plant.load()
    from monitor import check as checking
    from monitor.figures import figure

    def emptied(ledger: Ledger, name: str) -> object:
        table = figure(ledger, name)
        return table.assign(good=None) if name == "shifts" else table

    monkeypatch.setattr(checking, "figure", emptied)
    assert [finding.what.partition(":")[0] for finding in check(plant.ledger)] == ["shifts"]


def test_load_and_check_say_it_once(
    plant: Tiny, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(*words: str) -> None:
        monkeypatch.setattr("sys.argv", ["strokeledger", *words])
        with contextlib.suppress(SystemExit):
            main()

    plant.load()
    plant.ledger.close()
    folder = plant.folder / "more"
    folder.mkdir()
    (folder / "shipments.csv").write_text(
        "shipment_id,container_id,shipped_at\nS1,B,2026-11-02T12:00:00Z\nS2,B,2026-11-02T13:00:00Z\n", "utf-8"
    )
    (folder / "containers.csv").write_text(
        "container_id,part_no,press_id,opened_at,quantity\nB,N,P,2026-11-02T06:00:00Z,100\n", "utf-8"
    )
    ledger = str(plant.folder / "ledger")
    for said in (1, 0):
        run("load", str(folder), "--ledger", ledger)
        told = capsys.readouterr().err
        assert told.count("container sent twice") == said
    run("check", "--ledger", ledger)
    told = capsys.readouterr().out
    assert "note: 2 sets of rows cannot all be true: 1 more rejected than made, 1 container sent twice" in told
    assert "every sum closes" in told


def test_a_damaged_file_leaves_it_open_whether_rows_contradict(plant: Tiny) -> None:
    plant.load()
    for part in (plant.folder / "ledger" / "parts").iterdir():
        part.write_bytes(b"")
    assert isinstance(all_of(plant.ledger), list)


def test_the_watch_of_a_growing_plant_looks_only_at_what_is_new(plant: Tiny) -> None:
    """Rows of a later day bring nothing of the days before."""
    plant.load()
    before = plant.ledger.version
    folder = plant.folder / "later"
    folder.mkdir()
    (folder / "strokes.csv").write_text("time,press_id,counter\n2026-11-05T06:00:00Z,P,9000\n", "utf-8")
    report = load([folder], plant.ledger)
    assert new_ones(plant.ledger, before, report.since_us) == []
    assert new_ones(plant.ledger, 0, report.since_us) == []
