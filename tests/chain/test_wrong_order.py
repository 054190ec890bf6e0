"""Die changes noted in the wrong order, from files to figures: 60 strokes a minute, a die of one station."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from monitor.enter.floor import first_off
from monitor.figures import figure
from tests.invented.tiny import Tiny, at


def plant_of(folder: Path, *changes: tuple[str, str, str]) -> Tiny:
    """A press that strokes once a second from 06:00 to 07:00, with die changes (time, event, die) as noted."""
    plant = Tiny(folder)
    plant.die("E", 1)
    plant.coil("C1")
    for time, event, die_id in changes:
        plant.add("die_changes", time=at(time), press_id="P", event=event, die_id=die_id)
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("07:00"))
    plant.load()
    return plant


def by_die(plant: Tiny, column: str) -> dict[str, int]:
    """Sum of a column of `shifts` by die, without the dies that have none."""
    sums = figure(plant.ledger, "shifts").groupby("die_id")[column].sum()
    return {str(die): int(count) for die, count in sums.items() if count}


def test_die_whose_predecessor_is_pulled_a_minute_late_makes_its_1800_strokes(tmp_path: Path) -> None:
    plant = plant_of(tmp_path, ("06:00", "set", "D"), ("06:30", "set", "E"), ("06:31", "pull", "D"))
    # One a second: 30 min x 60 = 1,800 of D and 1,800 of E.
    assert by_die(plant, "strokes") == by_die(plant, "pieces") == {"D": 1800, "E": 1800}


def test_first_off_of_the_old_die_leaves_the_new_one_in_setting(tmp_path: Path) -> None:
    plant = plant_of(
        tmp_path,
        *(("06:00", "set", "D"), ("06:10", "first_off", "D"), ("06:30", "set", "E")),
        *(("06:31", "first_off", "D"), ("06:40", "first_off", "E")),
    )
    # Each die is set for ten minutes: 600 strokes.
    assert by_die(plant, "setup_strokes") == by_die(plant, "setup_pieces") == {"D": 600, "E": 600}


@pytest.mark.parametrize("late", ["06:30", "06:31"])
def test_rows_of_one_moment_in_any_order_give_the_same(tmp_path: Path, late: str) -> None:
    changes = (("06:00", "set", "D"), ("06:30", "set", "E"), (late, "pull", "D"), ("06:40", "first_off", "E"))
    one, other = (plant_of(_new(tmp_path, str(n)), *rows) for n, rows in enumerate((changes, changes[::-1])))
    assert figure(one.ledger, "shifts").equals(figure(other.ledger, "shifts"))
    assert by_die(one, "setup_strokes") == {"D": 1800, "E": 600}


def test_measurement_after_a_late_pull_is_of_the_new_die(tmp_path: Path) -> None:
    plant = plant_of(tmp_path, ("06:00", "set", "D"), ("06:30", "set", "E"), ("06:31", "pull", "D"))
    plant.add("characteristics", part_no="N", characteristic="width", nominal=5, lower=4, upper=6)
    for piece, value in enumerate((4.9, 5.0, 5.1), start=1):
        plant.add("measurements", part_no="N", characteristic="width", time=at("06:45"), press_id="P", piece=piece,
                  value=value)  # fmt: skip
    plant.load()
    assert figure(plant.ledger, "capability")["die_id"].tolist() == ["E"]


def test_first_off_entered_after_a_late_pull_is_that_of_the_new_die(tmp_path: Path) -> None:
    plant = plant_of(
        tmp_path,
        *(("06:00", "set", "D"), ("06:10", "first_off", "D"), ("06:30", "set", "E")),
        ("06:31", "pull", "D"),
    )
    first_off(plant.ledger, "P", int(dt.datetime.fromisoformat(at("06:40")).timestamp()) * 1_000_000)
    assert by_die(plant, "setup_strokes") == {"D": 600, "E": 600}


def _new(folder: Path, name: str) -> Path:
    (folder / name).mkdir()
    return folder / name
