"""Entered stops, from files to figures: a stop begins after 60 s, and the plant day at 06:00."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

import pandas as pd
import pytest

from monitor.check import check
from monitor.figures import figure
from tests.chain.test_unresolved import THREE_SHIFTS
from tests.invented.tiny import DAY, Row, Tiny, at
from tests.seeds import some

START = dt.datetime.fromisoformat(at("06:00"))
MINUTE = dt.timedelta(minutes=1)
SEEN = ["start_at", "end_at", "seconds", "shift", "reason"]


def stood(folder: Path, *standstills: tuple[str, str], notes: tuple[tuple[str, str, str], ...] = ()) -> Tiny:
    """A press that ran at 60 a minute from 06:00 to 06:00, but for these standstills, read every second around them."""
    tiny = Tiny(folder, THREE_SHIFTS)
    ran = at("06:00")
    for begin, end in standstills:
        tiny.run(ran, begin)
        tiny.add("strokes", time=end, press_id="P", counter=1000 + tiny.counters["P"])
        ran = end
    tiny.run(ran, at("06:00", DAY + dt.timedelta(days=1)))
    for begin, end, reason in notes:
        tiny.add("stops", press_id="P", start_at=begin, end_at=end, reason=reason)
    tiny.load()
    return tiny


def told(tiny: Tiny) -> list[tuple[str, str, str]]:
    """From, to and reason of every row of the figure."""
    rows = figure(tiny.ledger, "stops").to_dict("records")
    return [(row["start_at"][11:19], row["end_at"][11:19], row["reason"]) for row in rows]


def test_a_rounded_note_explains_its_standstill_whole(tmp_path: Path) -> None:
    noted = (at("15:20"), at("15:26"), "PUN")
    tiny = stood(tmp_path, (at("15:19:53"), at("15:26:14")), notes=(noted,))
    assert told(tiny) == [("15:19:53", "15:26:14", "PUN")]
    # 381 s stood without a rest that nobody explained.
    assert figure(tiny.ledger, "stops")["seconds"].tolist() == [381.0]


def test_a_plant_says_how_far_people_round(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, "entered_edge_s = 10\n" + THREE_SHIFTS)
    tiny.run(at("06:00"), at("15:19:53"))
    tiny.add("strokes", time=at("15:26:14"), press_id="P", counter=1000 + tiny.counters["P"])
    tiny.add("stops", press_id="P", start_at=at("15:20"), end_at=at("15:26"), reason="PUN")
    tiny.run(at("15:26:14"), at("16:00"))
    tiny.load()
    # 7 s before the note are within 10 s, 14 s after it are not.
    assert told(tiny) == [("15:19:53", "15:26:00", "PUN"), ("15:26:00", "15:26:14", "no reason yet")]


def test_a_note_over_the_start_of_a_plant_day_belongs_to_what_it_overlaps_most(tmp_path: Path) -> None:
    # Stands 05:40 to 05:50 and 05:55 to 06:30 of the next day: the note from 05:42 to 06:10 overlaps 8 and 15 min.
    after = DAY + dt.timedelta(days=1)
    tiny = Tiny(tmp_path, THREE_SHIFTS)
    tiny.run(at("06:00"), at("05:40", after))
    for clock in ("05:50", "06:30"):
        tiny.add("strokes", time=at(clock, after), press_id="P", counter=1000 + tiny.counters["P"])
        tiny.run(at(clock, after), at("05:55" if clock == "05:50" else "07:00", after))
    tiny.add("stops", press_id="P", start_at=at("05:42", after), end_at=at("06:10", after), reason="PUN")
    tiny.load()
    assert told(tiny) == [
        ("05:40:00", "05:50:00", "no reason yet"),
        ("05:55:00", "06:00:00", "PUN"),
        ("06:00:00", "06:10:00", "PUN"),
        ("06:10:00", "06:30:00", "no reason yet"),
    ]
    # The reasons of a standstill over the shift change are those of one stop.
    assert figure(tiny.ledger, "stops")["stop_id"].nunique() == 2


def plant(dice: random.Random) -> dict[str, list[list[Row]]]:
    """Readings of three days by day, and entered stops one by one: many near the start of a plant day."""
    edges = [24 * 60, 48 * 60]
    standing = [(dice.choice(edges) + dice.randint(-60, 40), dice.randint(2, 50)) for _ in range(12)]
    days: list[list[Row]] = [[], [], []]
    counter = 0
    for minute in range(3 * 24 * 60):
        if not dice.random() < 0.02:
            days[minute // (24 * 60)].append(reading(minute, counter))
        counter += 0 if any(start <= minute < start + long for start, long in standing) else dice.choice((60, 200))
    notes = []
    for number in range(10):
        begin = dice.choice(edges) + dice.randint(-70, 45)
        end = None if dice.random() < 0.2 else begin + dice.randint(0, 60)
        notes.append([note(begin, end, dice.choice(("PUN", "COI", "MTG")), number)])
    return {"strokes": days, "stops": notes}


def reading(minute: int, counter: int) -> Row:
    return {"time": (START + minute * MINUTE).isoformat(), "press_id": "P", "counter": 1000 + counter}


def note(begin: int, end: int | None, reason: str, number: int) -> Row:
    start = START + begin * MINUTE + number * dt.timedelta(seconds=1)
    ended = "" if end is None else (START + end * MINUTE + dt.timedelta(minutes=1)).isoformat()
    return {"press_id": "P", "start_at": start.isoformat(), "end_at": ended, "reason": reason}


Part = tuple[str, list[Row]]


def loaded(folder: Path, loads: list[list[Part]]) -> Tiny:
    """A ledger in which these parts of tables came load by load."""
    folder.mkdir()
    tiny = Tiny(folder, THREE_SHIFTS)
    tiny.add("reasons", reason="MTG", name="meeting", kind="planned")
    for parts in loads:
        for table, rows in parts:
            for row in rows:
                tiny.add(table, **row)
        tiny.load()
    return tiny


@pytest.mark.parametrize("seed", some(range(8), 3))
def test_any_order_of_readings_and_notes_gives_the_same_stops(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    parts = [(table, rows) for table, some in plant(dice).items() for rows in some]
    whole = loaded(tmp_path / "whole", [parts])
    expected = {name: figure(whole.ledger, name) for name in ("stops", "shifts")}
    assert check(whole.ledger, deep=True) == []
    assert set(expected["stops"]["reason"]) > {"no reason yet"}
    for turn in range(2):
        dice.shuffle(parts)
        mixed = loaded(tmp_path / f"mixed-{turn}", [[part] for part in parts])
        for name, table in expected.items():
            pd.testing.assert_frame_equal(figure(mixed.ledger, name), table)
