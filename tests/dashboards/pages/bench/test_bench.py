"""The bench page from looks built in memory: what is chosen, what is lacking, what is said."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from dash import no_update

from dashboards.pages.bench.capability import capability_rows
from dashboards.pages.bench.model import chosen, load_bench, look_of
from dashboards.pages.bench.page import pick
from dashboards.pages.bench.rows import TAKEN
from dashboards.pages.bench.tables import bounds_of, drawn_stations, evidence_rows, lots_by_wear, marks_in_words
from dashboards.pages.bench.view import bench_html
from dashboards.parts.tables import MOST_ROWS
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from monitor.figures import FIGURES
from monitor.figures.judgement.bench import PlantLook
from shared.calendar import Calendar
from shared.factors import Level
from tests.figures.bench_given import check, curve, named, seen, steady, suspect
from tests.invented.five_presses import CALENDAR

NO_SERVICE = pd.DataFrame(
    columns=[
        "die_id", "station", "strokes_since_sharpening", "sharpen_every_strokes", "economic_interval", "expected_due_at"
    ]
)  # fmt: skip


class Reading:
    """What the page asks of a version, over one look."""

    version = 7

    def __init__(self, look: PlantLook, newest: str = "2026-11-02T19:42:00+01:00") -> None:
        self.seen, self.newest = look, newest
        self.asked: list[tuple[str, str]] = []

    def read(self) -> Reading:
        return self

    def look(self, from_: str, to: str) -> PlantLook:
        self.asked.append((from_, to))
        return self.seen

    capability = pd.DataFrame(columns=[*FIGURES["capability"].names])

    def figure(self, name: str, from_: str, to: str, press: str = "", die: str = "") -> pd.DataFrame:
        assert (name, die) == ("capability", "D1")
        return self.capability

    def station_service(self, look: PlantLook, die: str) -> pd.DataFrame:
        return NO_SERVICE

    def names(self, table: str, day: dt.date | None = None) -> dict[str, str]:
        return {"dies": {"D1": "Bracket <b>"}, "causes": {"BUR": "burr", "CRK": "crack"}}[table]

    def press_states(self) -> pd.DataFrame:
        return pd.DataFrame({"last_reading_at": [self.newest] if self.newest else []})

    def calendar(self) -> Calendar | None:
        return CALENDAR

    def cached(self, question: tuple[str, ...], load: Callable[[], Any]) -> Any:
        return load()


def bad_lot(**line: Any) -> Reading:
    rows = steady(8)
    for row in rows:
        row |= {"found_CRK": 1.0}
        if row["lot"] == "L2":
            row["found_BUR"] = 40.0
    lines = [
        replace(suspect("BUR", "acts", named("lot", "L2"), 120.0), **line),
        suspect("BUR", "clear", named("lot", "L3")),
        suspect("CRK", "not_enough", named("lot", "L1")),
    ]
    return Reading(seen(rows, lines))


def texts(component: Any) -> str:
    """All text of components, that of tables too."""
    if isinstance(component, list | tuple):
        return " ".join(texts(one) for one in component)
    if isinstance(component, str):
        return component
    told = getattr(component, "data-table", None)
    own = texts(getattr(component, "children", None) or [])
    return f"{own} {json.dumps(json.loads(told), ensure_ascii=False)}" if told else own


def test_it_opens_on_the_strongest_line_of_the_last_days() -> None:
    reading = bad_lot()
    view = chosen(reading, View())
    assert (view.die, view.cause) == ("D1", "BUR")
    assert (view.until, view.since) == (dt.date(2026, 11, 2), dt.date(2026, 8, 5))
    assert reading.asked[0] == ("2026-08-05", "2026-11-03")


def test_one_shift_of_one_day_is_looked_at_from_its_beginning_to_its_end() -> None:
    reading, day = bad_lot(), dt.date(2026, 11, 2)
    look_of(reading, View(since=day, until=day, shift="late"))
    assert reading.asked[-1] == ("2026-11-02T14:00:00+01:00", "2026-11-02T22:00:00+01:00")


def test_the_line_in_the_address_is_the_one_whose_rows_are_shown() -> None:
    shown = load_bench(bad_lot(), View(scope="lot", value="L3"))
    assert shown.line is not None
    assert shown.sides is not None
    assert shown.line.explanation == named("lot", "L3")
    assert set(shown.sides.bad["lot"]) == {"L3"}
    first = load_bench(bad_lot(), View(scope="lot", value="gone"))
    assert first.line is not None
    assert first.line.explanation == named("lot", "L2")


def test_expected_is_what_the_compared_rows_would_have_given() -> None:
    shown = load_bench(bad_lot(), View())
    assert shown.sides is not None
    rows = evidence_rows(shown.sides)
    assert rows["Expected"].unique().tolist() == ["10.0"]
    assert rows["Rejected"].unique().tolist() == ["40"]
    assert len(rows) == 8


def test_the_page_says_the_line_the_caution_the_rates_by_hand_and_how_to_get_the_sheet() -> None:
    told = texts(bench_html(load_bench(bad_lot(), View()), dark=False))
    for part in ("lot L2", "2.0 times the rate of the rest", "locked out", "By hand: 320 of 8\u202f000",
                 "Open first: station 1 (pierce)", "2 dies and causes",
                 "--die D1 --cause BUR", "--version 7"):  # fmt: skip
        assert part in told, part


def test_nothing_that_stands_out_is_an_answer() -> None:
    few = load_bench(bad_lot(), View(die="D1", cause="CRK"))
    told = texts(bench_html(few, dark=True))
    assert "Not enough yet: nothing stands out" in told
    assert "locked out" in told  # the strip below still sends people to the die
    clear = load_bench(bad_lot(verdict="clear"), View(die="D1", cause="BUR"))
    assert "Nothing stands out from what was looked at" in texts(bench_html(clear, dark=False))


def test_a_tie_is_said_in_the_title() -> None:
    tied = load_bench(bad_lot(verdict="tied", tied_with=(curve("wear", Level("sharpening_from", number=9)),)), View())
    told = texts(bench_html(tied, dark=False))
    assert "These data cannot tell yet between: the coil" in told
    assert "Neither shows with the other held still" in told


@pytest.mark.parametrize(
    ("reading", "view", "told"),
    [
        (Reading(seen([check(0, "C1", "L1", 9, 0)]), newest=""), View(), "No counter has been read yet"),
        (bad_lot(), View(die="D9", cause="BUR"), "Nobody looked at pieces of die “D9”"),
        (Reading(seen([check(0, "C1", "L1", 9, 0)])), View(), "No piece of D1 Bracket <b> was rejected"),
        (bad_lot(), View(since=dt.date(2026, 11, 2), until=dt.date(2026, 11, 1)), "The dates run backwards"),
    ],
)
def test_what_is_lacking_is_said(reading: Reading, view: View, told: str) -> None:
    shown = load_bench(reading, view)
    assert told in shown.lack
    assert told in texts(bench_html(shown, dark=False))


def test_no_inspection_at_all_is_said() -> None:
    look = seen([check(0, "C1", "L1", 9, 0)])
    empty = PlantLook(**(vars(look) | {"rows": {}}))
    assert "No inspection in this range" in load_bench(Reading(empty), View()).lack


@pytest.mark.parametrize(
    "rows",
    [
        [check(0, "C1", "L1", 9, 2)],
        [check(0, "", "", 5, 5)],
        [check(n, f"C{n}", f"LOT-{n // 4}", 100, n % 3) for n in range(1600)],
        [check(n, "C" * 80, "x" * 80, 100, 1) for n in range(3)],
    ],
    ids=["one coil", "nothing known", "400 lots", "long names"],
)
@pytest.mark.parametrize("dark", [False, True])
def test_small_and_large_and_odd_looks_are_drawn(rows: list[dict[str, Any]], dark: bool) -> None:
    lot = rows[0]["lot"] or "L"
    lines = [suspect("BUR", "acts", named("lot", lot), 3.0)]
    assert bench_html(load_bench(Reading(seen(rows, lines)), View()), dark)


def test_a_thousand_rows_are_shown_and_the_rest_is_told_of() -> None:
    rows = [check(n, f"C{n // 100}", "L2" if n < MOST_ROWS + 200 else "L3", 100, 1) for n in range(MOST_ROWS + 600)]
    shown = load_bench(Reading(seen(rows, [suspect("BUR", "acts", named("lot", "L2"), 3.0)])), View())
    told = texts(bench_html(shown, dark=False))
    assert "strokeledger evidence --die D1 --cause BUR" in told


def test_marks_say_which_edge_was_ground_and_how_much() -> None:
    service = {"die_id": "D1", "time": steady(1)[1]["from_us"], "work": "sharpen", "station": 1, "removed_mm": 0.08}
    reading = Reading(seen(steady(4), [suspect("BUR", "acts", named("lot", "L1"), 3.0)], [service]))
    shown = load_bench(reading, View())
    assert shown.bench is not None
    marks, _, _ = marks_in_words(shown.bench.case)
    assert marks["told"].tolist()[-1] == "Sharpened: station 1, 0.08\u202fmm taken off"


def test_each_lot_stands_against_the_state_of_the_edge_and_a_dash_where_it_never_ran() -> None:
    rows = steady(6)
    for number, row in enumerate(rows):
        row["strokes_since_sharpening"] = 100.0 if number < 8 else 50_000.0 if number < 16 else 90_000.0
    shown = load_bench(Reading(seen(rows, [suspect("BUR", "acts", named("lot", "L1"), 3.0)])), View())
    assert shown.bench is not None
    table = lots_by_wear(shown.bench.case)
    assert table["Lot"].tolist() == ["L0", "L1", "L2"]
    assert table.iloc[0, 1] == "1.00\u202f% · 80 of 8\u202f000"
    assert [list(row[1:]).count("–") for row in table.to_numpy().tolist()] == [len(table.columns) - 2] * 3
    unknown = load_bench(bad_lot(), View())
    assert unknown.bench is not None
    assert lots_by_wear(unknown.bench.case).empty


def test_an_edge_shows_its_share_of_the_interval_and_what_is_not_known_stays_blank() -> None:
    stations = pd.DataFrame(
        {
            "station": [1, 2, 3],
            "operation": [("pierce",), ("idle",), ("notch",)],
            "look": [1, 0, 2],
            "strokes_since_sharpening": [50_000.0, np.nan, np.nan],
            "sharpen_every_strokes": [200_000.0, np.nan, 200_000.0],
            "economic_interval": [np.nan, np.nan, np.nan],
            "expected_due_at": ["2026-11-09T10:00:00+01:00", "", ""],
        }
    )
    drawn = drawn_stations(stations)
    assert drawn["due_share"].fillna(-1).tolist() == [0.25, -1, -1]
    assert drawn["below"].tolist() == ["50\u202f000 strokes\ndue Mon 9 Nov 2026", "", "no history"]
    assert bounds_of(stations) == [("plant book", 200_000.0, "dash"), ("now", 50_000.0, "solid")]


def test_a_picker_that_only_appeared_picks_nothing_and_another_cause_changes_the_address() -> None:
    reading = bad_lot()
    assert pick(reading, "D1", "BUR", "") is no_update
    assert pick(reading, "D1", "CRK", "?scope=lot&value=L2") == "?die=D1&cause=CRK"


def test_the_page_speaks_german_where_asked() -> None:
    use_locale(Locale("de"))
    try:
        told = texts(bench_html(load_bench(bad_lot(), View()), dark=False))
    finally:
        use_locale(Locale())
    assert "Los L2" in told
    assert "Open first" not in told


def held(differ: object, press: str = "P1") -> dict[str, object]:
    return {
        "part_no": "B-<7>", "characteristic": "height", "press_id": press, "die_id": "D1", "n": 40, "cp": 1.5,
        "cpk": 1.2, "cpk_low": 1.0, "cpk_high": 1.4, "ppk": 1.1, "stable": True, "normal": False, "outs_differ": differ,
    }  # fmt: skip


def test_outs_that_differ_are_said_in_words_and_what_it_means() -> None:
    reading = bad_lot()
    reading.capability = pd.DataFrame([held(True), held(False, "P2"), held(None, "P3")])
    told = texts(bench_html(load_bench(reading, View()), dark=False))
    assert "B-<7>, height on P1: the outs differ in their mean." in told
    assert told.count("the outs differ in their mean") == 1
    outs = capability_rows(reading.capability)["Outs"]
    assert outs.tolist() == ["differ", "agree", "one out"]


def test_where_nothing_was_measured_nothing_is_said_of_what_press_and_die_hold() -> None:
    assert "What press and die can hold" not in texts(bench_html(load_bench(bad_lot(), View()), dark=False))


def test_the_verdict_to_take_away_is_that_of_the_look_shown() -> None:
    reading = bad_lot()
    view = View(die="D1", cause="BUR")
    told = TAKEN["suspects"](reading, view)
    assert told["level"].tolist() == ["L2", "L3"]
    assert set(told["cause"]) == {"BUR"}
    assert TAKEN["wear"](reading, view)["die_id"].unique().tolist() in ([], ["D1"])
    coils = TAKEN["coil_rates"](reading, view)
    assert coils["rejected"].sum() == load_bench(reading, view).bench.case.rejected
    assert all("T" in moment for moment in coils["from_at"])
    assert len(TAKEN["stretches"](reading, view)) == 8
