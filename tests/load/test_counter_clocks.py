"""Clocks of counters in a whole ledger: told once by loads, always by a check; silence where they are right."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from monitor.check import check, clocks
from monitor.ledger import Ledger
from monitor.load.clock_words import colon, span
from monitor.load.counter_clocks import found, lags_of
from monitor.load.files import load
from monitor.watch import load_lines
from sample_runs.simulate import files
from tests.invented.plants import random_plant
from tests.invented.small import BOOK
from tests.seeds import some

S_US = 1_000_000
START = np.datetime64("2026-11-02T06:00:00")


def plant_off(folder: Path, seed: int, offset_s: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Write a random plant whose loggers' clocks are all ahead by so many seconds."""
    written = files.strokes_frame
    with monkeypatch.context() as patch:
        patch.setattr(
            files,
            "strokes_frame",
            lambda press_id, read: (f := written(press_id, read)).assign(time=f["time"] + offset_s),
        )
        random_plant(seed, folder, days=3)


@pytest.mark.parametrize("seed", some(range(200, 204), 2))
def test_planted_offset_is_found_in_random_plants_and_nothing_without_one(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    offset_s = int(np.random.default_rng(seed).choice([-3600, -900, -400, 240, 400, 1800]))
    for number, planted_s in enumerate((0, offset_s)):
        plant_off(tmp_path / f"plant-{number}", seed, planted_s, monkeypatch)
        with Ledger.open(tmp_path / f"ledger-{number}", create=True) as ledger:
            report = load([tmp_path / f"plant-{number}"], ledger)
            seen, presses = found(ledger.keeper), ledger.snapshot().presses_with_strokes()
            assert clocks(ledger) == report.clocks
        if not planted_s:
            assert report.clocks == []
            continue
        assert [press_id for press_id in presses if seen[press_id].lags] == presses
        for clock in seen.values():
            assert all(lag.low_us <= planted_s * S_US <= lag.high_us for lag in clock.lags)


def times(from_s: int, to_s: int) -> list[str]:
    return [str(START + second) for second in range(from_s, to_s, 60)]


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """Two days of a press that stands for ten minutes in every hour, a coil mounted in the middle of each."""
    folder = tmp_path / "drop"
    folder.mkdir()
    for name, text in BOOK.items():
        (folder / name).write_text(text)
    mounts = "".join(f"{START + hour * 3600 + 1500},P1,mount,C1\n" for hour in range(46))
    (folder / "coil_changes-1.csv").write_text("time,press_id,event,coil_id\n" + mounts)
    (folder / "stops-1.csv").write_text(
        "press_id,start_at,end_at,reason\n"
        + "".join(f"P1,{START + hour * 3600 + 1200},{START + hour * 3600 + 1800},JAM\n" for hour in range(46))
    )
    return folder


def strokes(from_minute: int, to_minute: int, behind_s: int) -> str:
    counter, rows = 1000, []
    for minute in range(to_minute):
        counter += 0 if 20 < minute % 60 <= 30 else 50
        if minute >= from_minute:
            rows.append(f"{START + minute * 60 - behind_s},P1,{counter}\n")
    return "time,press_id,counter\n" + "".join(rows)


def test_slow_clock_is_told_once_by_the_load_and_always_by_a_check(tmp_path: Path, drop: Path) -> None:
    (drop / "strokes-P1-1.csv").write_text(strokes(0, 1500, 185))
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([drop], ledger)
        [line] = report.clocks
        assert line.startswith(
            "The clock of P1's counter seems 3 min 5 s behind the noted changes (1:05 to 5:05, from 25 notes, "
        )
        assert "Mon 2 Nov 2026 to Tue 3 Nov 2026)" in line
        assert "clock_offset_s = -185 under [time]" in line
        assert load_lines(report)[-1] == line
        assert clocks(ledger) == [line]
        (drop / "strokes-P1-2.csv").write_text(strokes(1500, 2700, 185))
        assert load([drop], ledger).clocks == []
        [later] = clocks(ledger)
        assert "from 45 notes" in later
        assert check(ledger) == []


def test_what_is_written_into_the_profile_sets_it_right(tmp_path: Path, drop: Path) -> None:
    (drop / "profile-p1.toml").write_text(
        'table = "strokes"\n[match]\nname = "p1-*.log"\n[time]\ndate_order = "ymd"\nclock_offset_s = -185\n'
        + "".join(f'[columns.{name}]\nfrom = "{name}"\n' for name in ("time", "press_id", "counter"))
    )
    (drop / "p1-1.log").write_text(strokes(0, 2700, 185))
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        assert load([drop], ledger).clocks == []
        assert ledger.snapshot().strokes("P1").num_rows == 2700
        assert clocks(ledger) == []


def test_clock_that_jumps_within_a_file_is_told_with_its_line(tmp_path: Path, drop: Path) -> None:
    early, late = strokes(0, 600, 0), strokes(600, 1200, 300)
    (drop / "strokes-P1-1.csv").write_text(early + late.partition("\n")[2])
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([drop], ledger)
        assert report.clocks[-1].startswith(
            "The clock of P1's counter jumps 5 min back at line 602 of strokes-P1-1.csv, from Mon 2 Nov 2026, 15:59:00 "
        )
        [jump] = found(ledger.keeper)["P1"].jumps
        assert (jump.line, jump.by_us) == (602, -300 * S_US)
        assert load([drop], ledger).clocks == []
        assert report.clocks[-1] in clocks(ledger)


def test_refused_file_tells_nothing_of_clocks(tmp_path: Path, drop: Path) -> None:
    text = strokes(0, 600, 0) + strokes(600, 1200, 300).partition("\n")[2]
    (drop / "strokes-P1-1.csv").write_bytes(text.encode() + b"\xff\xfe,,\n" + text.encode())
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        report = load([drop], ledger)
        assert [file.file for file in report.files if file.refused] == ["strokes-P1-1.csv"]
        assert report.clocks == []
        assert isinstance(found(ledger.keeper), dict)


def test_press_whose_file_is_damaged_is_left_to_the_check_of_files(tmp_path: Path, drop: Path) -> None:
    (drop / "strokes-P1-1.csv").write_text(strokes(0, 1500, 185))
    with Ledger.open(tmp_path / "ledger", create=True) as ledger:
        load([drop], ledger)
        for path in (ledger.root / "parts").iterdir():
            path.write_bytes(b"x")
    with Ledger.open(tmp_path / "ledger") as ledger:
        assert lags_of(ledger.snapshot(), "P1", 1 << 60) == ()


def test_lengths_in_words() -> None:
    assert [span(seconds * S_US) for seconds in (0, 5, -185, 3600, 3725)] == [
        "0 s", "5 s", "3 min 5 s", "1 h", "1 h 2 min 5 s",
    ]  # fmt: skip
    assert [colon(seconds * S_US) for seconds in (5, 185, 3600)] == ["0:05", "3:05", "60:00"]
