"""The sums that must close in the truth of random plants, and a small day worked by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sample_runs.simulate.logger import LoggedReadings
from sample_runs.simulate.truth import spent_seconds, stretches
from tests.invented.plants import random_plant


def readings(times: list[int], strokes: list[int]) -> LoggedReadings:
    counts = np.array(strokes)
    return LoggedReadings(np.array(times), counts, None, counts, np.zeros(len(times), dtype=bool))


def spent(read: LoggedReadings, stop_after_s: float, rated_spm: float = 60) -> tuple[list[tuple[int, int]], ...]:
    """Stretches that ran, that stood and that nobody saw."""
    to_s = int(read.time_s[-1])
    running, unseen = spent_seconds(read, 0, to_s, stop_after_s, np.full(to_s, rated_spm))
    return stretches(running), stretches(~running & ~unseen), stretches(unseen)


def test_time_between_two_readings_runs_when_the_counter_rose() -> None:
    assert spent(readings([0, 10, 100, 110], [0, 5, 5, 6]), 60) == ([(0, 10), (100, 110)], [(10, 100)], [])


@pytest.mark.parametrize(("stop_after_s", "stopped"), [(89, [(10, 100)]), (90, [])])
def test_a_standstill_is_a_stop_only_when_longer_than_stop_after(
    stop_after_s: float, stopped: list[tuple[int, int]]
) -> None:
    assert spent(readings([0, 10, 50, 100, 110], [0, 5, 5, 5, 6]), stop_after_s)[1] == stopped


def test_a_gap_in_which_a_longer_stop_finds_room_is_not_seen() -> None:
    # 300 s at one stroke a second: 240 strokes leave 60 s, 239 leave 61 s; at two a second 240 leave 180 s.
    assert spent(readings([0, 300], [0, 240]), 60) == ([(0, 300)], [], [])
    assert spent(readings([0, 300], [0, 239]), 60) == ([], [], [(0, 300)])
    assert spent(readings([0, 300], [0, 240]), 60, rated_spm=120) == ([], [], [(0, 300)])


def test_a_glitch_is_no_reading() -> None:
    faulty = readings([0, 10, 20, 30], [0, 5, 5, 10])
    faulty.glitch[2] = True
    assert spent(faulty, 60)[0] == [(0, 30)]


@pytest.mark.parametrize("seed", range(6))
def test_everything_closes_on_a_random_plant(seed: int, tmp_path: Path) -> None:
    plant = random_plant(seed, tmp_path)
    shifts, hours, coils = plant.shifts, plant.hours, plant.coils
    spent = shifts[["running_s", "stopped_s", "unresolved_s"]].sum(axis=1, skipna=False)
    assert (shifts["planned_s"].fillna(-1) == spent.fillna(-1)).all()
    assert (shifts["stopped_s"] >= 0).all()
    assert (shifts["setup_s"] <= shifts["planned_s"]).all()
    for frame in (shifts, hours, coils):
        fates = frame[["good", "setup_pieces", "rejected", "reworked"]].sum(axis=1)
        assert (frame["pieces"] == fates).all()
    assert shifts["strokes"].sum() == hours["strokes"].sum() == sum(plant.strokes_by_press.values())
    assert shifts["pieces"].sum() == hours["pieces"].sum() == coils["pieces"].sum()
    assert (shifts["strokes"] - shifts["strokes_without_strip"]).sum() == coils["strokes"].sum()
    assert shifts["running_s"].sum() == hours["running_s"].sum()
    assert (coils["remaining_kg"] > 0).all()


def test_the_same_seed_writes_the_same_bytes(tmp_path: Path) -> None:
    for name in ("first", "second"):
        random_plant(3, tmp_path / name, days=1)
    first, second = ({p.name: p.read_bytes() for p in (tmp_path / name).iterdir()} for name in ("first", "second"))
    assert first == second
