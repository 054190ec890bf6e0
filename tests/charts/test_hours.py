import datetime as dt

import numpy as np
import pandas as pd

from monitor.charts.hours import MOST_BARS, hours_chart
from shared.calendar import Calendar
from shared.plant import Plant

CALENDAR = Calendar(Plant(timezone="Europe/Berlin"))


def hours(rows):
    where = ["hour_start", "press_id", "die_id", "part_no"]
    columns = [*where, "running_s", "unresolved_s", "strokes", "pieces", "rejected", "good"]
    table = pd.DataFrame(rows, columns=columns)
    return table.assign(hour_start=[us(start) for start in table["hour_start"]])


def us(iso):
    return int(dt.datetime.fromisoformat(iso).timestamp()) * 1_000_000


def drawn(table, **more):
    return hours_chart(table, CALENDAR, **more)


TWO_PARTS = hours(
    [
        ("2026-11-02T06:00:00+01:00", "P1", "D1", "L", 3000.0, 0.0, 100, 100, 4, 90),
        ("2026-11-02T06:00:00+01:00", "P1", "D1", "R", 0.0, 0.0, 0, 100, 0, 100),
        ("2026-11-02T07:00:00+01:00", "P1", "D1", "L", 120.0, 0.0, 5, 10, 0, 10),
    ]
)


def by_name(figure):
    return {trace.name: trace for trace in figure.data}


def test_parts_of_one_hour_are_added_and_stacked():
    traces = by_name(drawn(TWO_PARTS))
    assert list(traces["good"].y) == [190, 10]
    assert list(traces["rejected"].y) == [4, 0]
    assert list(traces["setting, rework"].y) == [6, 0]
    assert list(traces["good"].x) == ["2026-11-02T06:30:00", "2026-11-02T07:30:00"]


def test_rate_needs_enough_running_time():
    rate = by_name(drawn(TWO_PARTS))["rate while running"]
    assert rate.y[0] == 200 * 3600 / 3000
    assert np.isnan(rate.y[1])


def test_nothing_rejected_takes_no_place_in_the_legend():
    assert "rejected" not in by_name(drawn(TWO_PARTS.iloc[2:]))


def test_the_hour_that_happens_twice_in_autumn_keeps_both_counts():
    twice = hours(
        [(f"2026-10-25T02:00:00{offset}", "P1", "D1", "A", 3600.0, 0.0, 9, 9, 0, 9) for offset in ("+02:00", "+01:00")]
    )
    good = by_name(drawn(twice))["good"]
    assert list(good.y) == [9, 9]
    assert sorted(good.customdata) == ["2026-10-25T02:00:00+01:00", "2026-10-25T02:00:00+02:00"]


def test_rated_pieces_are_a_line():
    figure = drawn(TWO_PARTS, rated_per_hour=250)
    assert figure.layout.shapes[0].y0 == figure.layout.shapes[0].y1 == 250
    assert figure.layout.yaxis.title.text == "pieces per hour"


def test_many_hours_are_a_line_because_thousands_of_bars_are_slow():
    starts = pd.date_range("2026-01-01", periods=MOST_BARS + 1, freq="h").strftime("%Y-%m-%dT%H:%M:%S+00:00")
    many = hours([(start, "P1", "D1", "A", 3600.0, 0.0, 9, 9, 0, 9) for start in starts])
    assert [trace.type for trace in drawn(many).data] == ["scatter", "scatter"]


def test_empty_rows_say_so():
    assert "No strokes" in drawn(hours([])).layout.annotations[0].text


def test_an_hour_not_seen_whole_stands_hatched_and_has_no_rate():
    # 30 min ran and were seen, 30 min were not: 100 pieces an hour of the half that was seen would be a guess.
    half = hours([("2026-11-02T06:00:00+01:00", "P1", "D1", "L", 1800.0, 1800.0, 50, 50, 0, 50)])
    traces = by_name(drawn(pd.concat([TWO_PARTS.iloc[2:], half])))
    assert list(traces["good"].y) == [0, 10]
    assert list(traces["good, hour not seen whole"].y) == [50, 0]
    assert traces["good, hour not seen whole"].marker.pattern.shape == "\\"
    assert np.isnan(traces["rate while running"].y[0])
