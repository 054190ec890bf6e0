from __future__ import annotations

from dataclasses import dataclass, field

from monitor.plant.carries import (
    coil_on,
    last_reading_us,
    newest_reading_us,
    newest_readings,
    open_stops,
    presses_of_coils,
)
from monitor.reckoning.press.carry import Carry, to_json
from monitor.reckoning.press.counters import Reading
from monitor.reckoning.press.running import Idle
from monitor.reckoning.press.strip import Strip


@dataclass
class Kept:
    carries: dict[str, Carry] = field(default_factory=dict)

    def last_carries(self) -> dict[str, str]:
        return {press_id: to_json(carry) for press_id, carry in self.carries.items()}


LYING = Carry(Reading(90, 7), strip=Strip(mounting_id="M1", on_press=True), coils={"M1": "C-1", "M2": "C-2"})


def test_the_newest_reading_is_that_of_any_press() -> None:
    kept = Kept({"P1": LYING, "P2": Carry(Reading(120, 3)), "P3": Carry()})
    assert newest_readings(kept) == {"P1": 90, "P2": 120}
    assert newest_reading_us(kept) == 120
    assert (last_reading_us(LYING), last_reading_us(Carry())) == (90, 0)


def test_nothing_was_read_yet() -> None:
    assert newest_reading_us(Kept()) == 0
    assert newest_readings(Kept({"P1": Carry()})) == {}


def test_a_coil_lies_on_the_press_whose_strip_is_in_the_die() -> None:
    cut = Carry(Reading(120, 3), strip=Strip(mounting_id="M9"), coils={"M9": "C-9"})
    assert coil_on(LYING) == "C-1"
    assert coil_on(cut) == ""
    assert presses_of_coils(Kept({"P1": LYING, "P2": cut, "P3": Carry()})) == {"C-1": "P1"}


def test_a_press_is_still_in_a_stop_up_to_its_newest_reading() -> None:
    stands = Carry(Reading(500, 1), idle=Idle(since_us=100, is_stop=True))
    short = Carry(Reading(500, 1), idle=Idle(since_us=450, is_stop=False))
    assert open_stops(Kept({"P1": stands, "P2": short, "P3": Carry()})) == {("P1", 100): 500}
