"""One bad file never stops the others: it is refused, or its rows are set aside, and the good one comes in."""

from __future__ import annotations

import os
import shutil
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.check import check
from monitor.defects import LOG
from monitor.ledger import Ledger
from monitor.load import file_load as taking
from monitor.load import files as loading
from monitor.load.files import load
from monitor.load.report import FileReport, LoadReport
from monitor.refold.affected_days import AffectedDays
from monitor.watch import AGAIN_S, FolderWatch
from tests.faults import apart
from tests.faults.odd_files import GOOD, GOOD_TEXT, ODD_PLANTS, odd_files
from tests.faults.test_faults import open_to_all as open_to_all
from tests.invented.small import BOOK, strokes, write_book


@pytest.fixture(scope="module")
def booked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger that holds the plant book alone."""
    folder = tmp_path_factory.mktemp("booked")
    with Ledger.open(folder / "ledger", create=True) as ledger:
        load([write_book(folder / "book")], ledger)
    return folder / "ledger"


@pytest.fixture
def ledger(booked: Path, tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(shutil.copytree(booked, tmp_path / "ledger")) as opened:
        yield opened


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """A folder with one good file: readings of 10 minutes."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "drop" / GOOD).write_text(GOOD_TEXT)
    return tmp_path / "drop"


def by_name(report: LoadReport) -> dict[str, FileReport]:
    return {os.fsdecode(file.path.name): file for file in report.files}


def test_each_odd_file_is_refused_or_set_aside_beside_a_good_one(ledger: Ledger, drop: Path) -> None:
    odd = odd_files()
    for name, (data, _) in odd.items():
        (drop / name).write_bytes(data)
    found = by_name(load([drop], ledger))
    assert found[GOOD].new == 10
    wrong = []
    for name, (_, fate) in odd.items():
        file = found[name]
        told = bool(fate.refused) == bool(file.refused) and fate.refused in file.refused
        if not told or (file.set_aside, file.read) != (fate.aside, fate.read) or file.defect:
            wrong.append((name, fate, file.refused, file.set_aside, file.read, file.defect))
    assert wrong == []
    assert set(found) == {GOOD, *odd}
    assert check(ledger) == []


@pytest.mark.parametrize("kind", ODD_PLANTS)
def test_an_odd_plant_is_refused_and_the_one_before_holds(ledger: Ledger, drop: Path, kind: str) -> None:
    data, why = ODD_PLANTS[kind]
    (drop / "plant.toml").write_bytes(data)
    found = by_name(load([drop], ledger))
    assert why in found["plant.toml"].refused
    assert (found[GOOD].new, found["plant.toml"].defect) == (10, "")
    # 06:00 of the plant's zone is 05:00 of UTC in November: the zone is the one loaded before.
    assert ledger.snapshot().strokes("P1")["time"][0].as_py().hour == 5


def test_a_plant_with_the_mark_that_editors_put_before_utf8_is_taken(ledger: Ledger, drop: Path) -> None:
    (drop / "plant.toml").write_bytes(b"\xef\xbb\xbf" + BOOK["plant.toml"].encode())
    found = by_name(load([drop], ledger))
    assert (found["plant.toml"].refused, found[GOOD].new) == ("", 10)


def put_what_is_no_file(drop: Path, secret: Path) -> dict[str, str]:
    """Put pipes, sockets, links and a folder into a folder; returns words in the reason by name."""
    os.mkfifo(drop / "strokes-pipe.csv")
    with socket.socket(socket.AF_UNIX) as server:
        here = Path.cwd()
        os.chdir(drop)  # A socket's path is short.
        try:
            server.bind("strokes-socket.csv")
        finally:
            os.chdir(here)
    secret.write_text("root:secret:0\n" + strokes(0, 1))
    (drop / "strokes-link.csv").symlink_to(secret)
    (drop / "plant.toml").symlink_to(secret)
    (drop / "strokes-device.csv").symlink_to("/dev/zero")
    (drop / "stops-gone.csv").symlink_to(drop / "nowhere")
    (drop / "below").symlink_to(drop.parent)
    (drop / "strokes.csv").mkdir()
    (drop / "strokes.csv" / "coils-1.csv").write_text(BOOK["coils.csv"].replace("C1", "C9"))
    pipe, link = "a pipe, socket or device (expected a file)", "a link (expected a file)"
    return {"strokes-pipe.csv": pipe, "strokes-socket.csv": pipe} | dict.fromkeys(
        ("strokes-link.csv", "plant.toml", "strokes-device.csv", "stops-gone.csv", "below"), link
    )


@pytest.mark.skipif(os.name == "nt", reason="there are no such files")
def test_links_pipes_and_sockets_are_refused_unopened(ledger: Ledger, drop: Path, tmp_path: Path) -> None:
    refused = put_what_is_no_file(drop, tmp_path / "secret.csv")
    report = load([drop], ledger)
    found = by_name(report)
    assert {name: file.refused for name, file in found.items() if file.refused} == refused
    # A folder is looked into whatever it is called.
    assert (found[GOOD].new, found["coils-1.csv"].new) == (10, 1)
    assert ledger.snapshot().set_aside_rows().empty
    assert "secret" not in "".join(file.refused for file in report.files)


@pytest.mark.skipif(os.name == "nt", reason="there are no such files")
def test_watch_passes_by_what_is_no_file_and_says_so_once(ledger: Ledger, drop: Path, tmp_path: Path) -> None:
    refused = put_what_is_no_file(drop, tmp_path / "secret.csv")
    (drop / os.fsdecode(b"stops-\xff.csv")).write_bytes(b"x\n")
    said: list[str] = []
    clock = iter(range(1_000))
    watch = FolderWatch(ledger, drop, said.append, lambda: float(next(clock)))
    for _ in range(6):
        watch.step()
    assert sum(line.split(" is refused")[0] in refused for line in said) == len(refused)
    # 10 readings of the good file, and a coil in the folder.
    assert said[-1] == "10 files: 11 rows = 11 new + 0 repeated + 0 corrected + 0 set aside; version 2"
    assert len(ledger.snapshot().strokes("P1")) == 10
    lines = len(said)
    again = FolderWatch(ledger, drop, said.append, lambda: float(next(clock)))  # After a restart all is known.
    for _ in range(3):
        again.step()
    assert len(said) == lines


def test_a_link_that_a_person_names_is_followed(ledger: Ledger, drop: Path, tmp_path: Path) -> None:
    (tmp_path / "strokes-named.csv").symlink_to(drop / GOOD)
    (tmp_path / "folder").symlink_to(drop)
    [file] = load([tmp_path / "strokes-named.csv"], ledger).files
    assert (file.file, file.new) == ("strokes-named.csv", 10)
    [file] = load([tmp_path / "folder"], ledger).files
    assert (file.file, file.repeated) == (GOOD, 10)


@pytest.mark.skipif(os.name == "nt", reason="rights are set otherwise there")
def test_what_may_not_be_read_is_named_and_the_rest_comes_in(booked: Path, open_to_all: Path) -> None:
    root, drop = shutil.copytree(booked, open_to_all / "ledger"), open_to_all / "drop"
    (drop / "closed").mkdir(parents=True)
    (drop / "closed" / "strokes-in.csv").write_text(strokes(30, 35))
    (drop / GOOD).write_text(GOOD_TEXT)
    (drop / "strokes-shut.csv").write_text(strokes(20, 25))
    for path in (root, *root.rglob("*")):
        path.chmod(0o777)
    (drop / "closed").chmod(0)
    (drop / "strokes-shut.csv").chmod(0)
    told = open_to_all / "told"
    words = ["load", str(drop), str(drop / "closed" / "strokes-in.csv"), "--ledger", str(root)]
    program = apart.start(apart.command, words, told, None, True)
    ran = apart.ended(program, told)
    said = " ".join(ran.stderr.split())
    assert ran.returncode == 1
    assert "strokes-shut.csv: cannot be read: Permission denied" in said
    assert "closed: a folder that cannot be looked into" in said
    assert "strokes-in.csv: cannot be read: Permission denied" in said
    assert "10 rows read = 10 new" in said


def test_folders_in_folders_without_end_stop_nothing(ledger: Ledger, drop: Path) -> None:
    deep = drop
    for _ in range(1_200):
        deep /= "a"
        deep.mkdir()
    (deep / "strokes-deep.csv").write_text(strokes(20, 25))
    found = by_name(load([drop], ledger))
    assert (found[GOOD].new, found["strokes-deep.csv"].new) == (10, 5)
    (deep / "strokes-deep.csv").unlink()
    while deep != drop:  # What clears up after tests goes no deeper than calls may.
        deep.rmdir()
        deep = deep.parent


def failing_on(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let our own code fail while it reads one file."""
    real = taking.read

    def read(source: object, **how: object) -> object:
        if getattr(source, "name", "") == name:
            raise ZeroDivisionError("a fault \x1b[31m of ours")
        return real(source, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(taking, "read", read)


def test_a_fault_of_our_own_refuses_its_file_alone_and_is_told_loudly(
    ledger: Ledger, drop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (drop / "strokes-odd.csv").write_text(strokes(20, 25))
    failing_on("strokes-odd.csv", monkeypatch)
    found = by_name(load([drop], ledger))
    assert found[GOOD].new == 10
    assert found["strokes-odd.csv"].refused == (
        "strokes-odd.csv: a fault of strokeledger itself (ZeroDivisionError); expected none; nothing of this file is"
        " kept. Send errors.log from the ledger's folder to whoever looks after strokeledger."
    )
    log = (ledger.root / LOG).read_text("utf-8")
    assert "Traceback" in log
    assert "a fault \\x1b[31m of ours" in log
    assert check(ledger) == []
    monkeypatch.undo()
    assert by_name(load([drop], ledger))["strokes-odd.csv"].new == 5


def test_a_file_that_cannot_be_reckoned_is_found_and_refused_alone(
    ledger: Ledger, drop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    presses = [f"P{number}" for number in range(2, 7)]
    (drop / "presses-2.csv").write_text("press_id,rated_spm\n" + "".join(f"{name},60\n" for name in presses))
    for name in presses:
        (drop / f"strokes-{name}.csv").write_text(strokes(0, 5, name))
    real = loading.refold

    def refold(writer: object, book: object, affected: AffectedDays, *more: object) -> object:
        if "P4" in affected.presses:
            raise ZeroDivisionError("a fault of ours")
        return real(writer, book, affected, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(loading, "refold", refold)
    found = by_name(load([drop], ledger))
    assert [name for name, file in found.items() if file.refused] == ["strokes-P4.csv"]
    assert "a fault of strokeledger itself" in found["strokes-P4.csv"].refused
    assert (found[GOOD].new, found["presses-2.csv"].new, found["strokes-P6.csv"].new) == (10, 5, 5)
    assert (ledger.root / LOG).read_text("utf-8").count("Traceback") == 1
    assert check(ledger) == []
    loads = ledger.snapshot().loads()
    assert loads[loads["file"] == "strokes-P4.csv"]["refused"].tolist() == [found["strokes-P4.csv"].refused]


def test_a_file_that_is_written_anew_while_it_is_read_waits(
    ledger: Ledger, drop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = taking.read

    def read(source: object, **how: object) -> Iterator[object]:
        yield from real(source, **how)  # type: ignore[arg-type]
        (drop / GOOD).write_text(strokes(0, 10).replace(",60\n", ",61\n"))

    monkeypatch.setattr(taking, "read", read)
    [file] = load([drop], ledger).files
    assert (file.read, file.again) == (0, True)
    assert "a file that was changed while it was read" in file.refused
    monkeypatch.undo()
    assert load([drop], ledger).files[0].new == 10


def test_a_file_that_grows_while_it_is_read_is_taken(
    ledger: Ledger, drop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = taking.read

    def read(source: object, **how: object) -> Iterator[object]:
        yield from real(source, **how)  # type: ignore[arg-type]
        (drop / GOOD).write_text(strokes(0, 12))

    monkeypatch.setattr(taking, "read", read)
    assert load([drop], ledger).files[0].new == 10
    monkeypatch.undo()
    [file] = load([drop], ledger).files
    assert (file.new, file.repeated) == (2, 10)


def test_a_file_that_vanishes_is_told_and_the_rest_comes_in(
    ledger: Ledger, drop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (drop / "strokes-brief.csv").write_text(strokes(20, 25))
    real = taking.read

    def read(source: object, **how: object) -> object:
        (drop / "strokes-brief.csv").unlink(missing_ok=True)
        return real(source, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(taking, "read", read)
    found = by_name(load([drop / "strokes-brief.csv", drop / GOOD], ledger))
    assert found["strokes-brief.csv"].refused == "cannot be read: No such file or directory"
    assert found[GOOD].new == 10


def test_watch_tries_again_what_may_pass_without_saying_it_twice(ledger: Ledger, drop: Path) -> None:
    now_s = 0.0
    said: list[str] = []
    watch = FolderWatch(ledger, drop, said.append, lambda: now_s)
    for _ in range(3):
        watch.step()
    real, first = taking.digest, threading.Event()

    def failing(path: Path, *more: object) -> object:
        if path.name == "strokes-x.csv" and not first.is_set():
            raise OSError(5, "Input/output error")
        return real(path, *more)  # type: ignore[arg-type]

    (drop / "strokes-x.csv").write_text(strokes(20, 25))
    taking.digest = failing  # type: ignore[assignment]
    try:
        for _ in range(12):
            now_s += AGAIN_S / 3
            watch.step()
        assert sum("Input/output error" in line for line in said) == 1
        first.set()
        for _ in range(4):
            now_s += AGAIN_S / 3
            watch.step()
    finally:
        taking.digest = real
    assert len(ledger.snapshot().strokes("P1")) == 15
