from __future__ import annotations

import datetime as dt

import pyarrow as pa

from monitor.load.arrivals import Arrivals
from shared.calendar import Calendar
from shared.plant import Plant

DAY = dt.date(2026, 11, 2)
CALENDAR = Calendar(Plant(timezone="UTC"))
INSTANT = pa.timestamp("us", "UTC")


def changes(*rows: tuple[str, str]) -> pa.Table:
    presses, times = zip(*rows, strict=True)
    moments = [dt.datetime.fromisoformat(time).replace(tzinfo=dt.UTC) for time in times]
    return pa.table({"press_id": list(presses), "time": pa.array(moments, INSTANT)})


def us(text: str) -> int:
    return int(dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC).timestamp()) * 1_000_000


def test_of_readings_only_the_days_are_kept() -> None:
    found = Arrivals()
    found.add("strokes", changes(("P1", "2026-11-02T06:00")), {("P1", DAY), ("P1", DAY + dt.timedelta(days=1))})
    assert found.days == {"P1": {DAY, DAY + dt.timedelta(days=1)}}
    assert found.rows == []


def test_a_refused_file_leaves_what_came_before_it() -> None:
    found = Arrivals()
    found.add("strokes", changes(("P1", "2026-11-02T06:00")), {("P1", DAY)})
    before = found.copy()
    found.add("strokes", changes(("P1", "2026-11-03T06:00")), {("P1", DAY + dt.timedelta(days=1)), ("P2", DAY)})
    found.add("die_changes", changes(("P2", "2026-11-03T06:00")), set())
    found.names.add(("coils", "C1"))
    assert (before.days, before.rows, before.names) == ({"P1": {DAY}}, [], set())


def test_names_are_handed_out_once() -> None:
    found = Arrivals()
    found.add_names("coils", pa.table({"coil_id": ["C1", "C2", "C1"]}))
    assert found.take_names() == {("coils", "C1"), ("coils", "C2")}
    assert found.take_names() == set()


def test_the_earliest_moment_is_of_readings_or_notes() -> None:
    found = Arrivals()
    assert found.since_us(CALENDAR) is None
    found.add("die_changes", changes(("P1", "2026-11-03T09:00"), ("P2", "2026-11-03T07:30")), set())
    assert found.since_us(CALENDAR) == us("2026-11-03T07:30")
    found.add("strokes", changes(("P1", "2026-11-02T06:00")), {("P1", DAY)})
    assert found.since_us(CALENDAR) == CALENDAR.day_start_us(DAY)


def test_presses_with_notes_are_those_whose_standstills_may_have_changed() -> None:
    found = Arrivals()
    found.add("die_changes", changes(("P1", "2026-11-03T09:00")), set())
    found.add("inspections", changes(("P2", "2026-11-03T09:00")), set())
    assert found.presses_with_notes == {"P1"}
