"""The carry and the newest counter reading of each press, as a ledger keeps them."""

from __future__ import annotations

from typing import Protocol

from monitor.reckoning.press.carry import Carry, from_json


class CarryReader(Protocol):
    """Whatever hands out the last carry of each press as text: a snapshot, or a load under way."""

    def last_carries(self) -> dict[str, str]:
        """Return the carry out of the last fold of each press."""
        ...


def last_carries(ledger: CarryReader) -> dict[str, Carry]:
    """Return the carry out of the last fold of each press that was read."""
    return {press_id: from_json(text) for press_id, text in ledger.last_carries().items()}


def newest_readings(ledger: CarryReader) -> dict[str, int]:
    """Return, by press, when its newest accepted reading was taken [us]."""
    return {press_id: carry.last.time_us for press_id, carry in last_carries(ledger).items() if carry.last}


def newest_reading_us(ledger: CarryReader) -> int:
    """Return when the newest accepted reading of all presses was taken [us], 0 where there is none."""
    return max(newest_readings(ledger).values(), default=0)


def last_reading_us(carry: Carry) -> int:
    """Return when the last reading before a carry was taken [us], 0 where there is none."""
    return carry.last.time_us if carry.last else 0


def coil_on(carry: Carry) -> str:
    """Return the coil or reel that lies on a press, empty where none is known."""
    return carry.coils.get(carry.strip.mounting_id, "") if carry.strip.on_press else ""


def presses_of_coils(ledger: CarryReader) -> dict[str, str]:
    """Return, by coil or reel, the press it lies on now."""
    on = {coil_on(carry): press_id for press_id, carry in last_carries(ledger).items()}
    return {coil: press_id for coil, press_id in on.items() if coil}


def open_stops(ledger: CarryReader) -> dict[tuple[str, int], int]:
    """Return the stops that presses are still in, by press and start [us], with the newest reading in each [us]."""
    return {
        (press_id, carry.idle.since_us): carry.last.time_us
        for press_id, carry in last_carries(ledger).items()
        if carry.last is not None and carry.idle is not None and carry.idle.is_stop
    }
