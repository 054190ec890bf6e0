"""Coil changes that nobody noted, and when they must have been."""

from __future__ import annotations

import pytest

from monitor.figures.material.unscanned import missing_scans
from tests.invented.tiny import Tiny, at


@pytest.fixture
def plant(tmp_path):
    one = Tiny(tmp_path)
    # 2.4 kg of 0.24 kg a metre are 10 m, 333 progressions of 30 mm.
    one.coil("SHORT", weight_kg=2.4)
    one.coil("LONG")
    one.set_die(at("06:00"))
    yield one
    one.ledger.close()


def us(clock: str) -> int:
    hours, minutes, seconds = (int(part) for part in clock.split(":"))
    return 1_793_577_600_000_000 + (hours * 3600 + minutes * 60 + seconds) * 1_000_000


def test_a_coil_that_had_run_out_gives_the_window_in_which_the_next_must_have_come(plant: Tiny) -> None:
    plant.change(at("06:00"), "mount", "SHORT")
    plant.run(at("06:00"), at("06:10"))
    plant.load()
    (one,) = missing_scans(plant.ledger.snapshot())
    assert (one.press_id, one.coil_id, one.strokes, one.booked) == ("P", "SHORT", 600 - 333, ())
    # One stroke a second: 95 % of 333 are over at 5:16, 105 % at 5:50.
    assert us("06:05:16") <= one.from_us <= us("06:05:17")
    assert us("06:05:49") <= one.by_us <= us("06:05:50")
    assert one.until_us == us("06:10:00")


def test_pieces_booked_while_no_strip_was_known_ask_for_the_scan(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    plant.change(at("06:10"), "mount", "LONG")
    plant.run(at("06:10"), at("06:20"))
    plant.box("EARLY", at("06:00"), at("06:05"), 50)
    plant.box("LATER", at("06:12"), at("06:15"), 180)
    plant.look("TUB", at("06:08"), "tub", None, 4)
    plant.load()
    (one,) = missing_scans(plant.ledger.snapshot())
    assert (one.coil_id, one.strokes, one.booked) == ("", 600, (("EARLY", 50), ("TUB", 4)))
    assert (one.from_us, one.until_us) == (us("06:00:00"), us("06:10:00"))
    assert missing_scans(plant.ledger.snapshot(), press="P9") == []
    assert missing_scans(plant.ledger.snapshot(), from_="2026-11-03") == []


def test_dry_strokes_of_which_nobody_booked_a_piece_ask_for_nothing(plant: Tiny) -> None:
    plant.run(at("06:00"), at("06:10"))
    plant.change(at("06:10"), "mount", "LONG")
    plant.run(at("06:10"), at("06:20"))
    plant.load()
    assert missing_scans(plant.ledger.snapshot()) == []
