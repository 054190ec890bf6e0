"""Reports that are due are made once, whoever looks first, and what goes wrong is told and tried again."""

from __future__ import annotations

import datetime as dt
import json
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.keep.backup import backup
from monitor.ledger import Ledger
from monitor.plant.book import Book, plant_of
from monitor.report import MADE, ReportStatus, last_sent, read
from monitor.schedule import AGAIN_S, Schedule, alone, reports_of_week
from tests.report.plant import PLANT, Works, loaded, run

FIRST = dt.date(2026, 11, 2)
DAYS = """
[report]
[[report.customer]]
customer = "Acme"
day = "mon"
[[report.customer]]
customer = "Acme West"
day = "wed"
"""


class Server:
    """A schedule over a ledger with a clock of its own and what it said."""

    def __init__(self, root: Path, out: Path) -> None:
        self.ledger = Ledger.open(root)
        self.said: list[str] = []
        self.schedule = Schedule(self.ledger, out, self.said.append, lambda: self.now_us)
        self.at("2026-11-08T12:00")

    def at(self, moment: str) -> Server:
        """Set the clock to a moment in UTC."""
        self.now_us = int(dt.datetime.fromisoformat(f"{moment}+00:00").timestamp() * 1e6)
        return self


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return loaded(
        Works({"Acme": 1, "Acme West": 1, "Third": 1}, FIRST, days=1), tmp_path_factory.mktemp("w"), PLANT + DAYS
    )


@pytest.fixture
def root(filled: Path, tmp_path: Path) -> Path:
    with Ledger.open(filled) as ledger:
        backup(ledger, tmp_path / "ledger")
    return tmp_path / "ledger"


@pytest.fixture
def server(root: Path, tmp_path: Path) -> Iterator[Server]:
    made = Server(root, tmp_path / "out")
    with made.ledger:
        yield made


def made(root: Path) -> list[tuple[str, str]]:
    return [(entry.customer, entry.week) for entry in read(root, MADE)]


def test_a_report_is_made_when_its_plant_day_begins_and_never_again(server: Server, root: Path, tmp_path: Path) -> None:
    steps = {
        "2026-11-08T12:00": ["Acme", "Acme West"],  # Of the week before, the last that is over.
        "2026-11-09T04:59": [],  # The plant day begins at 06:00, which is 05:00 UTC.
        "2026-11-09T05:01": ["Acme"],
        "2026-11-09T05:02": [],
        "2026-11-11T05:01": ["Acme West"],
        "2026-11-15T20:00": [],
    }
    assert {moment: server.at(moment).schedule.step() for moment in steps} == steps
    both = [("Acme", "2026-W44"), ("Acme West", "2026-W44"), ("Acme", "2026-W45"), ("Acme West", "2026-W45")]
    assert made(root) == both
    assert {path.name for path in (tmp_path / "out" / "Acme" / "2026-W45").iterdir()} == {
        "report.pdf", "report.xlsx", "report.html", "data",
    }  # fmt: skip
    assert not (tmp_path / "out" / "Third").exists()
    assert [line.partition(",")[0] for line in server.said] == [
        f"{name}: the report of week {week} was due and is made" for name, week in both
    ]


def test_a_week_of_which_nothing_was_loaded_yet_waits(server: Server, root: Path) -> None:
    assert server.at("2026-11-16T05:01").schedule.step() == []
    assert made(root) == []
    assert "no reading of week 2026-W46 or later has been loaded" in server.said[0]


def test_a_server_started_late_makes_what_waits_and_not_what_was_sent(
    server: Server, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = (
        "--ledger",
        root,
        "--week",
        "2026-W45",
        "--customer",
        "Acme",
        "--format",
        "html",
        "--out",
        tmp_path / "own",
    )
    assert run(monkeypatch, *words, "--sent") == 0
    assert server.at("2026-11-12T12:00").schedule.step() == ["Acme West"]


def test_servers_that_look_at_the_same_time_make_it_once(root: Path, tmp_path: Path) -> None:
    servers = [Server(root, tmp_path / "out").at("2026-11-12T12:00") for _ in range(3)]
    gate, found = threading.Barrier(3), []

    def look(one: Server) -> None:
        gate.wait()
        found.extend(one.schedule.step())

    threads = [threading.Thread(target=look, args=(one,)) for one in servers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == ["Acme", "Acme West"]
    assert sorted(made(root)) == [("Acme", "2026-W45"), ("Acme West", "2026-W45")]
    assert [one.schedule.step() for one in servers] == [[], [], []]
    assert [line for one in servers for line in one.said if "cannot" in line] == []
    for one in servers:
        one.ledger.close()


def test_while_the_command_makes_them_a_server_waits_silently(server: Server, root: Path) -> None:
    server.at("2026-11-09T06:00")
    with alone(root):
        assert server.schedule.step() == []
    assert server.said == []
    assert server.schedule.step() == ["Acme"]


def test_the_command_makes_nothing_again_and_may_note_it_as_sent(
    server: Server, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert server.at("2026-11-12T12:00").schedule.step() == ["Acme", "Acme West"]
    common = ("--ledger", root, "--week", "2026-W45", "--due", "--out", tmp_path / "own")
    assert run(monkeypatch, *common) == 0
    told = capsys.readouterr().err
    assert "Acme: was due and made already, 2026-11-12T13:00" in told
    assert "0 reports of week 2026-W45" in told
    assert last_sent(root, "Acme", "2026-W45") is None
    assert run(monkeypatch, *common, "--sent", "--by", "Quality") == 0
    sent = last_sent(root, "Acme", "2026-W45")
    assert sent is not None
    assert (sent.by, sent.files) == ("Quality", read(root, MADE)[0].files)
    assert not (tmp_path / "own").exists()


def test_what_the_command_made_a_server_does_not_make(
    server: Server, root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("--ledger", root, "--week", "2026-W45", "--due", "--format", "html", "--out", tmp_path / "own")
    assert run(monkeypatch, *words) == 0
    assert sorted(made(root)) == [("Acme", "2026-W45"), ("Acme West", "2026-W45")]
    assert server.at("2026-11-12T12:00").schedule.step() == []


def test_two_reports_that_fail_are_each_told_once(server: Server, root: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file where the folder should be")
    server.at("2026-11-12T12:00")
    for _ in range(3):
        assert server.schedule.step() == []
        server.now_us += int(AGAIN_S * 1e6)
    assert [line.split(": ")[1] for line in server.said] == ["Acme", "Acme West"]


def test_what_goes_wrong_is_told_once_and_tried_again(server: Server, root: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file where the folder should be")
    server.at("2026-11-09T06:00")
    assert server.schedule.step() == []
    assert server.schedule.step() == []
    assert len(server.said) == 1
    assert "Acme: " in server.said[0]
    assert "expected a folder with free space" in server.said[0]
    assert "RequestError" not in server.said[0]
    assert "tried again every 10 min" in server.said[0]
    server.now_us += int(AGAIN_S * 1e6)
    assert server.schedule.step() == []
    assert len(server.said) == 1
    assert made(root) == []
    (tmp_path / "out").unlink()
    assert server.schedule.step() == []  # Not before the time has passed.
    server.now_us += int(AGAIN_S * 1e6)
    assert server.schedule.step() == ["Acme"]


def test_one_report_that_fails_holds_up_no_other(server: Server, root: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "Acme").write_text("a file where the folder should be")
    assert server.at("2026-11-12T12:00").schedule.step() == ["Acme West"]
    assert made(root) == [("Acme West", "2026-W45")]
    assert any("Acme: " in line and "expected a folder" in line for line in server.said)


def test_a_broken_ledger_is_told_and_the_watch_goes_on_until_it_is_stopped(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    stop = threading.Event()
    looks = []

    def broken(*_: object) -> None:
        looks.append(1)
        if len(looks) == 3:
            stop.set()
        raise OSError("the disk is gone")

    monkeypatch.setattr(server.ledger, "snapshot", broken)
    monkeypatch.setattr("monitor.schedule.AGAIN_S", 0)
    server.schedule.run(stop, pause_s=0)
    assert len(looks) == 3
    assert len(server.said) == 1
    assert "the disk is gone" in server.said[0]


def test_a_customer_that_only_plant_toml_names_is_told(tmp_path: Path) -> None:
    style = '[report]\n[[report.customer]]\ncustomer = "Acmee"\nday = "mon"\n'
    root = loaded(Works({"Acme": 1}, FIRST, days=1), tmp_path, PLANT + style)
    server = Server(root, tmp_path / "out").at("2026-11-09T06:00")
    with server.ledger:
        assert server.schedule.step() == []
        assert "sets a day for Acmee, a customer that no other file names" in server.said[0]


def test_what_was_made_stands_beside_the_day_it_was_due(server: Server, root: Path) -> None:
    server.at("2026-11-09T06:00").schedule.step()
    book = Book(plant_of(server.ledger.snapshot().plant_text()), {})
    rows = reports_of_week(root, book, "2026-W45", ["Acme", "Acme West", "Third"], server.now_us)
    assert [row.standing for row in rows] == [ReportStatus.MADE, ReportStatus.AHEAD, ReportStatus.UNPLANNED]
    assert rows[0].made is not None
    assert rows[0].made.sent_at == "2026-11-09T07:00:00+01:00"
    assert json.loads((root / MADE).read_text("utf-8"))["customer"] == "Acme"
