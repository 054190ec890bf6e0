"""The order on a press: good pieces done, and when the rest will be."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from monitor.plant.order_pace import order_paces
from shared.calendar import Calendar
from shared.plant import Plant
from tests.invented.tiny import SHIFTS, Tiny, at

CALENDAR = Calendar(Plant.from_toml(SHIFTS))


def plant(folder: Path, **order: object) -> Tiny:
    one = Tiny(folder, SHIFTS)
    one.add("orders", **{"order_id": "O1", "part_no": "N", "press_id": "P", "start_at": at("06:00"), **order})
    one.set_die(at("06:00"), order_id="O1")
    one.run(at("06:00"), at("12:00"))
    one.box("B", at("06:00"), at("12:00"))
    one.look("I1", at("09:00"), "full", 10800, 100, container_id="B")
    one.load()
    return one


def test_done_counts_good_pieces_and_the_end_passes_over_breaks_and_shifts(tmp_path: Path) -> None:
    one = plant(tmp_path, quantity=30_000, due_at=at("20:00"))
    (pace,) = order_paces(one.ledger.snapshot(), CALENDAR).values()
    assert (pace.press_id, pace.order_id, pace.done, pace.quantity) == ("P", "O1", 21_500, 30_000)
    # 8,500 pieces at 21,500 in the 6 h that it ran: 2.37 h after noon.
    assert pace.ends_us is not None
    assert 2.3 < (pace.ends_us - _us("12:00")) / 3_600_000_000 < 2.5
    assert pace.ends_low_us is not None
    assert pace.ends_high_us is not None
    assert pace.ends_low_us <= pace.ends_us <= pace.ends_high_us
    assert pace.wanted == 8_500 / 8
    assert not pace.late
    one.ledger.close()


def test_an_order_that_cannot_be_done_in_time_is_late(tmp_path: Path) -> None:
    one = plant(tmp_path, quantity=300_000, due_at=at("16:00"))
    (pace,) = order_paces(one.ledger.snapshot(), CALENDAR).values()
    assert pace.late
    assert pace.wanted == (300_000 - 21_500) / 4
    one.ledger.close()


def test_a_press_without_an_order_is_left_out(tmp_path: Path) -> None:
    one = Tiny(tmp_path, SHIFTS)
    one.set_die(at("06:00"), order_id="unknown")
    one.run(at("06:00"), at("08:00"))
    one.load()
    assert order_paces(one.ledger.snapshot(), CALENDAR) == {}
    one.ledger.close()


def _us(clock: str) -> int:
    return int(dt.datetime.fromisoformat(at(clock)).timestamp()) * 1_000_000
