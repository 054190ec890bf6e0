"""Strip through the ledger: coils that came and went within a day, and strip of no known coil in a range."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.figures import figure
from monitor.figures.judgement.edge_life import edges_left
from monitor.figures.material.coil_ledger import unspent_coils
from monitor.plant.book import Book, plant_of
from tests.invented.tiny import SHIFTS, Tiny, at

TUESDAY, WEDNESDAY = dt.date(2026, 11, 3), dt.date(2026, 11, 4)


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Tiny]:
    one = Tiny(tmp_path, SHIFTS)
    yield one
    one.ledger.close()


def test_what_a_coil_gave_within_one_day_is_used_of_it(plant: Tiny) -> None:
    plant.coil("C", weight_kg=500)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C")
    plant.run(at("06:00"), at("08:00"))
    plant.change(at("08:00"), "remove", "C")
    plant.load()
    # 7,200 strokes of 30 mm at 0.24 kg a metre.
    used_kg = 7_200 * 0.03 * 0.24
    (row,) = unspent_coils(plant.ledger.snapshot()).to_dict("records")
    assert row["used_kg"] == pytest.approx(used_kg)
    assert row["left_kg"] == pytest.approx(500 - used_kg)


def test_strip_of_no_known_coil_is_that_of_the_range(plant: Tiny) -> None:
    plant.set_die(at("06:00"))
    for day, until in ((TUESDAY, "07:00"), (WEDNESDAY, "09:00")):
        plant.run(at("06:00", day), at(until, day))
    plant.look("I", at("08:00", WEDNESDAY), "full", 100, 7)
    plant.load()
    whole = figure(plant.ledger, "coils")
    tuesday, wednesday = (
        figure(plant.ledger, "coils", from_=day.isoformat(), to=(day + dt.timedelta(days=1)).isoformat())
        for day in (TUESDAY, WEDNESDAY)
    )
    for name in ("strokes", "pieces", "rejected"):
        counts = [int(table[name].sum()) for table in (tuesday, wednesday)]
        assert counts == {"strokes": [3_600, 10_800], "pieces": [3_600, 10_800], "rejected": [0, 7]}[name]
        assert sum(counts) == whole[name].sum()
    assert set(whole["coil_id"]) == {""}


def test_strokes_left_are_those_of_the_most_worn_edge(plant: Tiny) -> None:
    plant.die("E", stations=2, sharpen_every_strokes=20_000)
    plant.set_die(at("06:00"), "E")
    plant.run(at("06:00"), at("10:00"))
    plant.add("die_service", time=at("06:30"), die_id="E", work="sharpen", station=1)
    plant.add("die_service", time=at("07:30:10"), die_id="E", work="sharpen", station=2)
    plant.load()
    snapshot = plant.ledger.snapshot()
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    newest_us = round(dt.datetime.fromisoformat(at("10:00")).timestamp() * 1e6)
    # Station 1 has made three and a half hours at a stroke a second; D has no interval.
    assert edges_left(snapshot, book, newest_us) == {"E": (20_000 - 12_600, 20_000)}
    service = figure(plant.ledger, "service", die="E").set_index("station")
    assert service["strokes_since_sharpening"].tolist() == [12_600, 8_990]
    assert snapshot.fed_since("E", newest_us) == 0
