"""Strokes of a die as far back as they matter: a range sees the wear that the whole history would show."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pandas as pd

from monitor.figures.judgement.die_strokes import strokes_of
from monitor.figures.judgement.look import evidence
from monitor.figures.judgement.series import die_strokes
from monitor.plant.book import Book, plant_of
from tests.invented.tiny import SHIFTS, Tiny, at

DAYS = [dt.date(2026, 11, day) for day in (2, 3, 4, 5, 6)]


def plant(folder: Path) -> Tiny:
    """A die set on Monday, station 1 sharpened on Tuesday and station 2 never, looked at each day."""
    one = Tiny(folder, SHIFTS, stations=2)
    one.set_die(at("06:00", DAYS[0]))
    for day in DAYS:
        one.run(at("06:00", day), at("10:00", day), every_s=300)
        one.look(f"I{day.day}", at("10:00", day), "full", 1_000, day.day)
    one.add("die_service", time=at("08:00", DAYS[1]), die_id="D", work="sharpen", station=1)
    one.load()
    return one


def test_a_range_sees_the_wear_of_the_whole_history(tmp_path: Path) -> None:
    one = plant(tmp_path)
    whole, _ = evidence(one.ledger.snapshot(), "D")
    late, _ = evidence(one.ledger.snapshot(), "D", from_=DAYS[3].isoformat())
    same = whole[whole["shift_date"] >= DAYS[3].isoformat()].reset_index(drop=True)
    assert len(late) == 2
    pd.testing.assert_frame_equal(late[same.columns.intersection(late.columns)], same[late.columns])
    # Two hours of Tuesday, all of Wednesday and up to the middle of what was looked at on Thursday.
    assert 7_200 + 14_400 < late["strokes_since_sharpening_1"].iloc[0] < 7_200 + 28_800
    one.ledger.close()


def test_what_lies_long_before_is_one_row_and_counts_the_same(tmp_path: Path) -> None:
    one = plant(tmp_path)
    snapshot = one.ledger.snapshot()
    calendar = Book.read(snapshot, plant_of(snapshot.plant_text())).calendar
    since_us = calendar.day_start_us(DAYS[4])
    short, whole = strokes_of(snapshot, calendar, "D", since_us), strokes_of(snapshot, calendar, "D")
    assert len(short) < len(whole)
    assert short["fed"].sum() == whole["fed"].sum() == 5 * 14_400
    moments = whole.loc[whole["to_us"] > since_us, "to_us"].to_numpy() - 1
    assert die_strokes(short, moments).tolist() == die_strokes(whole, moments).tolist()
    one.ledger.close()
