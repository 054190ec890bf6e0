"""Time that nobody saw, from files to figures; press and die are rated 200 strokes a minute, a stop begins at 60 s."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pandas as pd
import pytest

from monitor.check import check
from monitor.figures import figure
from tests.invented.tiny import DAY, PLAIN, SHIFTS, Tiny, at

THREE_SHIFTS = PLAIN + "".join(
    f'[[shift]]\nname = "{name}"\nstart = "{start}"\nend = "{end}"\n'
    for name, start, end in (("early", "06:00", "14:00"), ("late", "14:00", "22:00"), ("night", "22:00", "06:00"))
)
NEXT = DAY + dt.timedelta(days=1)
RATIOS = ["parts_per_running_hour", "availability", "effectiveness", "oee_index"]


def plant(folder: Path, *read: tuple[str, int], toml: str = THREE_SHIFTS, stations: int = 5) -> Tiny:
    """A die of five stations set and a coil mounted at 06:00, and readings at these moments."""
    tiny = Tiny(folder, toml, stations)
    tiny.coil("C", weight_kg=50_000)
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    for time, counter in read:
        tiny.add("strokes", time=time, press_id="P", counter=counter)
    tiny.load()
    return tiny


def times(tiny: Tiny) -> dict[str, tuple[float, ...]]:
    """Planned, running, stopped and unresolved seconds by shift, with the strokes."""
    names = ["planned_s", "running_s", "stopped_s", "unresolved_s", "strokes"]
    table = figure(tiny.ledger, "shifts").set_index("shift")[names]
    return {str(shift): tuple(float(value) for value in row) for shift, row in table.iterrows()}


def test_a_reading_a_day_counts_its_strokes_in_the_last_shift_and_knows_no_running_time(tmp_path: Path) -> None:
    # 06:00 to 06:00 is 24 h, longer than a shift. The reading on the boundary closes the night. 20,000 strokes
    # through 5 stations are 19,996 pieces: in one second at 200 a minute that would be 5,999 times the rated speed.
    tiny = plant(tmp_path, (at("06:00"), 1000), (at("06:00", NEXT), 21_000))
    shift = 8 * 3600.0
    assert times(tiny) == {
        "early": (shift, 0, 0, shift, 0),
        "late": (shift, 0, 0, shift, 0),
        "night": (shift, 0, 0, shift, 20_000),
    }
    shifts = figure(tiny.ledger, "shifts")
    assert shifts["pieces"].sum() == 20_000 - 4
    assert shifts[RATIOS].isna().all(axis=None)
    coils = figure(tiny.ledger, "coils")
    assert (coils["strokes"].tolist(), coils["pieces"].tolist()) == ([20_000], [19_996])


def test_a_gap_of_13_hours_lends_its_strokes_no_running_time_of_the_shift_they_count_in(tmp_path: Path) -> None:
    # 06:00 to 19:00 without a reading, then 2 h 59 at 60 a minute: 10,740 strokes in 10,740 s; late is 8 h long.
    tiny = plant(tmp_path, (at("06:00"), 1000))
    tiny.counters["P"] = 10_000
    tiny.run(at("19:00"), at("21:59"))
    tiny.load()
    # 21:59 is less than a stop from the end of the shift: the last minute is told with it.
    assert times(tiny) == {
        "early": (28_800, 0, 0, 28_800, 0),
        "late": (28_800, 10_800, 0, 5 * 3600, 10_000 + 10_740),
    }
    assert figure(tiny.ledger, "shifts")[RATIOS].isna().all(axis=None)


def test_strokes_without_a_time_are_not_measured_against_the_running_time_of_others(tmp_path: Path) -> None:
    # The gap ends 10 s into the night: 10 s of 28,800 are less than 1 %, but its strokes took longer than that.
    tiny = plant(tmp_path, (at("06:00"), 1000))
    tiny.counters["P"] = 10_000
    tiny.run(at("22:00:10"), at("05:59:50", NEXT))
    tiny.load()
    night = figure(tiny.ledger, "shifts").set_index("shift").loc["night"]
    assert night["unresolved_s"] == 10
    assert night["strokes"] == 10_000 + 28_780
    assert night["availability"] == pytest.approx(28_790 / 28_800)
    assert night[["parts_per_running_hour", "effectiveness", "oee_index"]].isna().all()


def test_100_strokes_in_8_hours_neither_ran_nor_stood(tmp_path: Path) -> None:
    tiny = plant(tmp_path, (at("06:00"), 1000), (at("14:00"), 1100))
    assert times(tiny) == {"early": (28_800, 0, 0, 28_800, 100)}
    assert figure(tiny.ledger, "stops").empty
    hours = figure(tiny.ledger, "hours")
    # 100 strokes over 8 hours: 12.5 an hour, whole strokes.
    assert sorted(hours["strokes"].tolist()) == [12, 12, 12, 12, 13, 13, 13, 13]
    assert hours["unresolved_s"].tolist() == [3600.0] * 8
    assert hours["running_s"].tolist() == [0.0] * 8


def test_a_logger_that_writes_once_a_shift_gives_each_shift_its_strokes(tmp_path: Path) -> None:
    # The first two readings come late: of the 8,000 strokes from 06:00 to 14:04 (29,040 s) 240 s lie in late,
    # 8,000 x 240 / 29,040 = 66.1; of the 6,000 from 14:04 to 22:05 (28,860 s) 300 s lie in the night, 62.4.
    read = [("06:00", 1000), ("14:04", 9000), ("22:05", 15_000)]
    tiny = plant(tmp_path, *((at(clock), counter) for clock, counter in read), (at("06:00", NEXT), 19_000))
    strokes = {shift: row[4] for shift, row in times(tiny).items()}
    assert strokes == {"early": 8000 - 66, "late": 66 + 6000 - 62, "night": 62 + 4000}
    assert {row[:4] for row in times(tiny).values()} == {(28_800, 0, 0, 28_800)}
    shifts = figure(tiny.ledger, "shifts")
    assert shifts["pieces"].sum() == 18_000 - 4
    assert shifts["parts_per_planned_hour"].notna().all()


def test_unresolved_time_in_a_break_or_outside_the_plan_is_not_planned(tmp_path: Path) -> None:
    # Early from 06:00 to 14:00 with a break of half an hour: 27,000 s planned. Read at 13:00 and then at 23:00.
    tiny = plant(tmp_path, (at("06:00"), 1000), (at("13:00"), 2000), (at("23:00"), 3000), toml=SHIFTS)
    assert times(tiny) == {
        "early": (27_000, 0, 0, 27_000, 1000),
        "late": (28_800, 0, 0, 28_800, 0),
        "": (0, 0, 0, 0, 1000),
    }


def test_a_gap_at_rated_speed_ran_and_one_without_a_stroke_stood(tmp_path: Path) -> None:
    # 30 min at 200 a minute are 6,000 strokes; then an hour without any, and 20 min with half the strokes.
    read = (at("06:00"), 1000), (at("06:30"), 7000), (at("07:30"), 7000), (at("07:50"), 9000)
    tiny = plant(tmp_path, *read)
    assert times(tiny) == {"early": (6600, 1800, 3600, 1200, 8000)}
    stops = figure(tiny.ledger, "stops")
    assert [(row["start_at"][11:16], row["end_at"][11:16]) for row in stops.to_dict("records")] == [("06:30", "07:30")]


def test_a_minute_not_seen_in_a_shift_leaves_its_ratios(tmp_path: Path) -> None:
    # 61 s of 3,661 s are 1.7 %; of 6,161 s they are 0.99 %.  2 strokes need 0.6 s: a stop may have taken 60.4 s.
    for hours_s, known in ((3600, False), (6100, True)):
        tiny = plant(tmp_path / str(hours_s), toml=PLAIN + _shift("06:00"), stations=1)
        tiny.run(at("06:00"), _after(hours_s))
        tiny.counters["P"] += 2
        tiny.add("strokes", time=_after(hours_s + 61), press_id="P", counter=1000 + tiny.counters["P"])
        tiny.load()
        (row,) = figure(tiny.ledger, "shifts").to_dict("records")
        assert (row["running_s"], row["unresolved_s"]) == (hours_s, 61)
        assert [pd.notna(row[name]) for name in RATIOS] == [known] * 4


def test_a_stretch_not_seen_is_found_by_press_shift_and_die(tmp_path: Path) -> None:
    tiny = plant(tmp_path, (at("06:00"), 1000), (at("13:00"), 2000), (at("23:00"), 3000), toml=SHIFTS)
    found = tiny.ledger.snapshot().facts("unresolved", press_id="P")
    told = [
        (*row, dt.datetime.fromtimestamp(a / 1e6, dt.UTC).strftime("%H:%M"), (b - a) / 60e6, planned)
        for *row, a, b, planned in found[["die_id", "shift", "from_us", "to_us", "planned"]].itertuples(index=False)
    ]
    assert told == [
        ("D", "early", "06:00", 240, 1),
        ("D", "early", "10:00", 30, 0),
        ("D", "early", "10:30", 210, 1),
        ("D", "late", "14:00", 480, 1),
        ("D", "", "22:00", 60, 0),
    ]


def test_planned_time_closes_and_a_check_says_where_it_does_not(tmp_path: Path) -> None:
    tiny = plant(tmp_path, (at("06:00"), 1000), (at("14:00"), 1100))
    assert check(tiny.ledger, deep=True) == []


def _after(seconds: int) -> str:
    return at((dt.datetime(2026, 11, 2, 6) + dt.timedelta(seconds=seconds)).strftime("%H:%M:%S"))


def _shift(start: str) -> str:
    return f'[[shift]]\nname = "long"\nstart = "{start}"\nend = "22:00"\n'


@pytest.mark.parametrize("strokes", [0, 500])
def test_a_gap_of_months_makes_no_row_for_each_empty_shift(tmp_path: Path, strokes: int) -> None:
    # Read at 07:00 on 5 January 2025 and at 09:00 on 2 November 2026: 666 days of three shifts would be 1,999 rows.
    # Told of are 7 h of the first shift and 3 h of the last, standing or not seen.
    first = dt.date(2025, 1, 5)
    tiny = plant(tmp_path, (at("07:00", first), 1000), (at("09:00"), 1000 + strokes))
    shifts = figure(tiny.ledger, "shifts").set_index("shift_date")
    told = "unresolved_s" if strokes else "stopped_s"
    assert shifts[told].to_dict() == {"2025-01-05": 7 * 3600.0, "2026-11-02": 3 * 3600.0}
    assert shifts["planned_s"].sum() == shifts[told].sum()
    assert shifts["strokes"].tolist() == [0, strokes]
    stops = figure(tiny.ledger, "stops")
    assert stops["seconds"].tolist() == ([] if strokes else [7 * 3600, 3 * 3600])
    assert stops["stop_id"].nunique() == (0 if strokes else 1)
    assert len(tiny.ledger.snapshot().facts("time")) == 10
    assert check(tiny.ledger, deep=True) == []


def test_a_gap_of_three_weeks_tells_of_every_shift(tmp_path: Path) -> None:
    # 12 October 06:00 to 2 November 06:00 without a stroke: 21 days of three shifts stood.
    tiny = plant(tmp_path, (at("06:00", DAY - dt.timedelta(days=21)), 1000), (at("06:00"), 1000))
    shifts = figure(tiny.ledger, "shifts")
    assert (len(shifts), shifts["stopped_s"].sum()) == (63, 21 * 86_400)
