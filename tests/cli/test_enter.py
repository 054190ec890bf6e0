"""What the floor says, by command: entered with who, listed with what was before, taken back, refused in a sentence."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from monitor.cli.enter import app
from monitor.figures import figure
from shared.errors import StrokeledgerError
from tests.invented.tiny import SHIFTS, Tiny, at

Run = Callable[..., str]


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Tiny]:
    """P ran from 06:00, stood 07:00 to 07:20 and, over a break, 09:50 to 10:40, and stands since 13:00."""
    one = Tiny(tmp_path, SHIFTS)
    for reason, kind in (("CCH", "setup"), ("PUN", "tooling")):
        one.add("reasons", reason=reason, name=reason.lower(), kind=kind)
    one.set_die(at("06:00"))
    for begin, end in (("06:00", "07:00"), ("07:20", "09:50"), ("10:40", "13:00")):
        one.run(at(begin), at(end))
    one.add("strokes", time=at("13:30"), press_id="P", counter=1000 + one.counters["P"])
    one.load()
    yield one
    one.ledger.close()


@pytest.fixture
def run(plant: Tiny) -> Run:
    def command(*words: str) -> str:
        ran = CliRunner().invoke(app, [*words, "--ledger", str(plant.ledger.root)])
        if isinstance(ran.exception, StrokeledgerError):
            raise ran.exception
        assert ran.exit_code == 0, ran.output
        return ran.output

    return command


def stops(plant: Tiny) -> list[tuple[str, str, str]]:
    rows = figure(plant.ledger, "stops")
    return [(a[11:16], b[11:16], c) for a, b, c in zip(rows["start_at"], rows["end_at"], rows["reason"], strict=True)]


def listed(run: Run, *words: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(run("list", "--format", "csv", *words))))


def test_a_reason_holds_for_the_stop_a_moment_lies_in(plant: Tiny, run: Run) -> None:
    told = run("reason", "P", "CCH", "--at", "2026-11-02T07:05", "--by", "Shift leader")
    assert "P from 2026-11-02T07:00:00+00:00 to 2026-11-02T07:20:00+00:00: CCH; entry " in told
    run("reason", "P", "PUN", "--at", "2026-11-02T10:35")
    run("reason", "P", "PUN", "--at", "2026-11-02T13:15")
    assert stops(plant) == [
        ("07:00", "07:20", "CCH"),
        ("09:50", "10:00", "no reason yet"),
        ("10:00", "10:30", "break"),
        ("10:30", "10:40", "PUN"),
        ("13:00", "", "PUN"),
    ]


def test_a_reason_holds_for_a_stretch(plant: Tiny, run: Run) -> None:
    run("reason", "P", "CCH", "--from", "2026-11-02T07:00", "--to", "2026-11-02T07:08")
    run("reason", "P", "PUN", "--from", "2026-11-02T13:00")
    assert stops(plant)[:2] == [("07:00", "07:08", "CCH"), ("07:08", "07:20", "no reason yet")]
    assert stops(plant)[-1] == ("13:00", "", "PUN")


def test_first_off_service_and_note(plant: Tiny, run: Run) -> None:
    run("first-off", "P", "--at", "2026-11-02T06:30")
    run("service", "D", "--at", "2026-11-02T07:10", "--station", "1", "--removed-mm", "0.1", "--note", "dull")
    run("note", "strip runs hot", "--date", "2026-11-02", "--shift", "early", "--press", "P", "--by", "Setter")
    snapshot = plant.ledger.snapshot()
    assert snapshot.rows("die_changes").column("event").to_pylist() == ["set", "first_off"]
    (row,) = snapshot.rows("die_service").to_pylist()
    assert (row["work"], row["station"], row["removed_mm"], row["note"]) == ("sharpen", 1, 0.1, "dull")
    (note,) = snapshot.rows("notes").to_pylist()
    assert (note["shift"], note["press_id"], note["note"]) == ("early", "P", "strip runs hot")


def test_what_was_entered_is_listed_and_taken_back(plant: Tiny, run: Run) -> None:
    before = stops(plant)
    run("reason", "P", "CCH", "--at", "2026-11-02T07:05", "--by", "Shift leader")
    run("reason", "P", "PUN", "--at", "2026-11-02T07:05", "--by", "Setter")
    newest, first = listed(run)
    assert (newest["by"], first["by"]) == ("Setter", "Shift leader")
    stretch = "press_id P, start_at 2026-11-02T07:00:00+00:00, reason {}, end_at 2026-11-02T07:20:00+00:00"
    assert (newest["entered"], newest["before"]) == (stretch.format("PUN"), stretch.format("CCH"))
    with pytest.raises(StrokeledgerError, match="Setter entered press_id P, reason PUN meanwhile"):
        run("undo", first["entry"])
    assert f"entry {newest['entry']} taken back" in run("undo", newest["entry"], "--by", "Shift leader")
    run("undo", first["entry"])
    assert stops(plant) == before
    undone = {row["entry"]: row["undone_by"] for row in listed(run)}
    assert undone[first["entry"]] != ""
    assert [row["undoes"] for row in listed(run)][:2] == [first["entry"], newest["entry"]]
    assert listed(run, "--press", "Q") == listed(run, "--from", "2026-11-02T08:00") == []
    assert listed(run, "--table", "notes") == []


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("reason", "P", "XXX", "--at", "2026-11-02T07:05"), "expected one of CCH, PUN"),
        (("reason", "P", "CCH", "--at", "2026-11-02T06:30"), "no stop at that time"),
        (("reason", "P", "CCH", "--at", "2026-11-02T10:10"), "break at that time"),
        (("reason", "P", "CCH", "--at", "seven"), "--at: 'seven'; expected a date or time"),
        (("reason", "P", "CCH"), "one of --at and --from"),
        (("reason", "P", "CCH", "--at", "2026-11-02T07:05", "--from", "2026-11-02"), "one of --at and --from"),
        (
            ("reason", "P", "CCH", "--from", "2026-11-02T08:00", "--to", "2026-11-02T07:00"),
            "an end after the beginning",
        ),
        (("reason", "Q", "CCH", "--from", "2026-11-02T07:00"), "press_id is 'Q', expected one that presses has"),
        (("first-off", "P", "--at", "2026-11-02T05:00"), "no die in the press then"),
        (("service", "Z", "--at", "2026-11-02T07:00"), "die_id is 'Z', expected one that dies has"),
        (("service", "D", "--at", "2026-11-02T07:00", "--removed-mm", "-3"), "removed_mm is '-3.0'"),
        (("note", "x", "--date", "2026-11-02", "--shift", "noon"), "expected one of early, late"),
        (("note", "x", "--date", "2026-11-07", "--shift", "early"), "expected a day with shifts"),
        (("note", "x", "--date", "monday", "--shift", "early"), "a date such as 2026-11-02"),
        (("note", " ", "--date", "2026-11-02", "--shift", "early"), "empty"),
        (("undo", "77"), "no entry 77"),
    ],
)
def test_what_does_not_hold_is_refused_and_changes_nothing(
    plant: Tiny, run: Run, words: tuple[str, ...], told: str
) -> None:
    version = plant.ledger.version
    with pytest.raises(StrokeledgerError, match=told):
        run(*words)
    assert plant.ledger.version == version
