"""Rejects found in a container that pieces were packed over into: out of it, and booked to the pieces they were."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.figures import figure
from monitor.figures.genealogy.search import trace_of
from tests.invented.tiny import SHIFTS, Tiny, at

THURSDAY = dt.date(2026, 11, 5)


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Tiny]:
    """B1 is of C1, B2 of C2, an hour apart; both are washed into W."""
    one = Tiny(tmp_path, toml=SHIFTS)
    for coil in ("C1", "C2"):
        one.coil(coil)
    one.set_die(at("06:00"))
    one.change(at("06:00"), "mount", "C1")
    one.run(at("06:00"), at("06:05"))
    one.change(at("07:00"), "mount", "C2")
    one.run(at("07:00"), at("07:05"))
    one.box("B1", at("06:00"), at("06:05"))
    one.box("B2", at("07:00"), at("07:05"))
    one.box("W", at("08:00"), at("08:00"), 300)
    yield one
    one.ledger.close()


def wash(plant: Tiny, *names: str) -> None:
    for name in names:
        plant.add("repacks", time=at("08:00"), from_container=name, to_container="W", quantity=300)


def inside(plant: Tiny, name: str) -> tuple[dict[str, int], dict[str, int]]:
    table = trace_of(plant.ledger, container=name).table
    came, here = (dict(zip(table["coil_id"], table[column].tolist(), strict=True)) for column in ("pieces", "here"))
    return came, {coil: count for coil, count in here.items() if count}


def test_they_are_taken_out_of_the_container_and_not_of_the_one_the_pieces_came_from(plant: Tiny) -> None:
    wash(plant, "B1")
    plant.look("I", at("09:00", THURSDAY), "full", 300, 7, container_id="W")
    plant.load()
    # 300 were counted into it; seven were found bad and stand under no coil, as in any container.
    assert inside(plant, "W") == ({"C1": 293, "": 7}, {"C1": 293})
    assert inside(plant, "B1") == ({"C1": 300}, {})


def test_they_are_booked_to_the_day_and_coil_of_the_pieces(plant: Tiny) -> None:
    wash(plant, "B1")
    plant.look("I", at("09:00", THURSDAY), "full", 300, 7, container_id="W")
    plant.load()
    shifts = figure(plant.ledger, "shifts")
    assert shifts.groupby("shift_date")["rejected"].sum().to_dict() == {"2026-11-02": 7}
    coils = figure(plant.ledger, "coils").set_index("coil_id")["rejected"]
    assert coils.to_dict() == {"C1": 7, "C2": 0}


def test_a_repack_that_is_noted_later_books_them_anew(plant: Tiny) -> None:
    plant.look("I", at("09:00", THURSDAY), "full", 300, 7, container_id="W")
    plant.load()
    assert figure(plant.ledger, "coils")["rejected"].sum() == 0
    wash(plant, "B2")
    plant.load()
    assert figure(plant.ledger, "coils").set_index("coil_id")["rejected"].to_dict() == {"C1": 0, "C2": 7}
    assert inside(plant, "W")[1] == {"C2": 293}


def test_of_two_coils_nobody_can_tell_which_were_bad(plant: Tiny) -> None:
    plant.rows["containers"][-1]["quantity"] = ""
    wash(plant, "B1", "B2")
    plant.look("I", at("09:00", THURSDAY), "full", 600, 10, container_id="W")
    plant.load()
    came, here = inside(plant, "W")
    assert came == here == {"C1": 290, "C2": 290, "C1;C2": 10}
    # For totals they are shared in proportion.
    assert figure(plant.ledger, "coils")["rejected"].tolist() == [5, 5]


def test_what_is_found_good_again_stays_in(plant: Tiny) -> None:
    wash(plant, "B1")
    plant.look("I", at("09:00", THURSDAY), "full", 300, 7, container_id="W")
    plant.add("dispositions", disposition_id="X", inspection_id="I", cause="BUR", time=at("10:00", THURSDAY),
              outcome="found_good", pieces=5)  # fmt: skip
    plant.load()
    assert inside(plant, "W") == ({"C1": 298, "": 2}, {"C1": 298})


def test_what_was_moved_on_before_they_were_found_is_not_touched(plant: Tiny) -> None:
    wash(plant, "B1")
    plant.box("V", at("10:00"), at("10:00"), 100)
    plant.add("repacks", time=at("10:00"), from_container="W", to_container="V", quantity=100)
    plant.look("I", at("09:00", THURSDAY), "full", 200, 7, container_id="W")
    plant.load()
    assert inside(plant, "V") == ({"C1": 100}, {"C1": 100})
    assert inside(plant, "W")[1] == {"C1": 193}


def test_pieces_that_came_in_after_the_look_are_none_of_those_looked_at(plant: Tiny) -> None:
    # B2 stands from 07:00 to 07:05 and is looked at at 07:30; the 300 of B1 come in at 08:00.
    plant.look("I", at("07:30"), "full", 300, 10, container_id="B2")
    plant.add("repacks", time=at("08:00"), from_container="B1", to_container="B2", quantity=300)
    plant.load()
    assert figure(plant.ledger, "coils").set_index("coil_id")["rejected"].to_dict() == {"C1": 0, "C2": 10}
    # 300 of C2 fell, 10 were found bad, and 300 of C1 came on top.
    assert inside(plant, "B2")[1] == {"C1": 300, "C2": 290}
