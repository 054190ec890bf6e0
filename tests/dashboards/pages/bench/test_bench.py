"""The bench page over looks made by hand: what is chosen, what is lacking, what is said."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from dash import no_update

from dashboards.ledger.answers import AnswerCache
from dashboards.ledger.floor_queries import SignsWorker
from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.bench.capability import capability_rows
from dashboards.pages.bench.model import chosen, load_bench, look_of
from dashboards.pages.bench.page import pick
from dashboards.pages.bench.rows import DOWNLOADS
from dashboards.pages.bench.tables import bounds_of, drawn_stations, evidence_rows, lots_by_wear, marks_in_words
from dashboards.pages.bench.view import bench_html
from dashboards.parts.tables import MOST_ROWS
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from monitor.figures.judgement.bench import PlantLook
from monitor.figures.scope import Bound
from monitor.ledger import Ledger
from monitor.reckoning.attribution.suspects import Remembered
from shared.factors import Level
from tests.figures.bench_given import check, curve, named, seen, steady, suspect
from tests.invented.five_presses import CALENDAR, PLANT_TOML, at
from tests.invented.tiny import Tiny


class GivenLook(LedgerVersion):
    """A version of a ledger in which everybody looks at the same look, made by hand."""

    def __init__(self, ledger: Ledger, look: PlantLook) -> None:
        super().__init__(ledger, ledger.version, AnswerCache(), SignsWorker(), Remembered())
        self.seen = look
        self.asked: list[tuple[Bound, Bound]] = []

    def read(self) -> GivenLook:
        return self

    def look(self, from_: Bound, to: Bound) -> PlantLook:
        self.asked.append((from_, to))
        return self.seen


Given = Callable[..., GivenLook]


@pytest.fixture(scope="module")
def read_ledger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """Die D1, a bracket, in a press that was read last on Monday 2 November 2026, 19:42."""
    plant = Tiny(tmp_path_factory.mktemp("bench"), PLANT_TOML)
    plant.die("D1", 1, name="Bracket <b>")
    plant.rows["causes"] = []
    for cause, name in (("BUR", "burr"), ("CRK", "crack")):
        plant.add("causes", cause=cause, name=name, operations="pierce")
    plant.run("2026-11-02T19:40:00", "2026-11-02T19:42:00")
    plant.load()
    yield plant.ledger
    plant.ledger.close()


@pytest.fixture
def given(read_ledger: Ledger) -> Given:
    """A look at the ledger of die D1: the inspections of `seen` and the lines."""
    return lambda *rows_and_lines: GivenLook(read_ledger, seen(*rows_and_lines))


@pytest.fixture
def bad_lot(given: Given) -> Given:
    """Lot L2 with four times the burrs of the others."""

    def made(**line: Any) -> GivenLook:
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
        return given(rows, lines)

    return made


def texts(component: Any) -> str:
    """All text of components, that of tables too."""
    if isinstance(component, list | tuple):
        return " ".join(texts(one) for one in component)
    if isinstance(component, str):
        return component
    told = getattr(component, "data-table", None)
    own = texts(getattr(component, "children", None) or [])
    return f"{own} {json.dumps(json.loads(told), ensure_ascii=False)}" if told else own


def test_it_opens_on_the_strongest_line_of_the_last_days(bad_lot: Given) -> None:
    reading = bad_lot()
    view = chosen(reading, View())
    assert (view.die, view.cause) == ("D1", "BUR")
    assert (view.until, view.since) == (dt.date(2026, 11, 2), dt.date(2026, 8, 5))
    assert reading.asked[0] == ("2026-08-05", "2026-11-03")


def test_one_shift_of_one_day_is_looked_at_from_its_beginning_to_its_end(bad_lot: Given) -> None:
    reading, day = bad_lot(), dt.date(2026, 11, 2)
    look_of(reading, View(since=day, until=day, shift="late"))
    assert reading.asked[-1] == (at("2026-11-02 14:00"), at("2026-11-02 22:00"))


def test_the_line_in_the_address_is_the_one_whose_rows_are_shown(bad_lot: Given) -> None:
    shown = load_bench(bad_lot(), View(scope="lot", value="L3"))
    assert shown.line is not None
    assert shown.sides is not None
    assert shown.line.explanation == named("lot", "L3")
    assert set(shown.sides.bad["lot"]) == {"L3"}
    first = load_bench(bad_lot(), View(scope="lot", value="gone"))
    assert first.line is not None
    assert first.line.explanation == named("lot", "L2")


def test_expected_is_what_the_compared_rows_would_have_given(bad_lot: Given) -> None:
    shown = load_bench(bad_lot(), View())
    assert shown.sides is not None
    rows = evidence_rows(shown.sides, CALENDAR)
    assert rows["Expected"].unique().tolist() == ["10.0"]
    assert rows["Rejected"].unique().tolist() == ["40"]
    assert len(rows) == 8


def test_the_page_says_the_line_the_caution_the_rates_by_hand_and_how_to_get_the_sheet(bad_lot: Given) -> None:
    reading = bad_lot()
    told = texts(bench_html(load_bench(reading, View()), dark=False))
    for part in ("lot L2", "2.0 times the rate of the rest", "locked out", "By hand: 320 of 8\u202f000",
                 "Open first: station 1 (pierce)", "2 dies and causes",
                 "--die D1 --cause BUR", f"--version {reading.version}"):  # fmt: skip
        assert part in told, part


def test_nothing_that_stands_out_is_an_answer(bad_lot: Given) -> None:
    few = load_bench(bad_lot(), View(die="D1", cause="CRK"))
    told = texts(bench_html(few, dark=True))
    assert "Not enough yet: nothing stands out" in told
    assert "locked out" in told  # the strip below still sends people to the die
    clear = load_bench(bad_lot(verdict="clear"), View(die="D1", cause="BUR"))
    assert "Nothing stands out from what was looked at" in texts(bench_html(clear, dark=False))


def test_a_tie_is_said_in_the_title(bad_lot: Given) -> None:
    tied = load_bench(bad_lot(verdict="tied", tied_with=(curve("wear", Level("sharpening_from", number=9)),)), View())
    told = texts(bench_html(tied, dark=False))
    assert "These data cannot tell yet between: the coil" in told
    assert "Neither shows with the other held still" in told


@pytest.mark.parametrize(
    ("view", "told"),
    [
        (View(die="D9", cause="BUR"), "Nobody looked at pieces of die “D9”"),
        (View(since=dt.date(2026, 11, 2), until=dt.date(2026, 11, 1)), "The dates run backwards"),
    ],
)
def test_what_is_lacking_is_said(bad_lot: Given, view: View, told: str) -> None:
    shown = load_bench(bad_lot(), view)
    assert told in shown.lack
    assert told in texts(bench_html(shown, dark=False))


def test_a_die_without_rejects_says_so(given: Given) -> None:
    assert "No piece of D1 Bracket <b> was rejected" in load_bench(given([check(0, "C1", "L1", 9, 0)]), View()).lack


def test_a_ledger_without_readings_says_so(empty_service: LedgerService) -> None:
    assert "No counter has been read yet" in load_bench(empty_service.read(), View()).lack


def test_no_inspection_at_all_is_said(given: Given) -> None:
    reading = given([check(0, "C1", "L1", 9, 0)])
    reading.seen = replace(reading.seen, rows={})
    assert "No inspection in this range" in load_bench(reading, View()).lack


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
def test_small_and_large_and_odd_looks_are_drawn(given: Given, rows: list[dict[str, Any]], dark: bool) -> None:
    lot = rows[0]["lot"] or "L"
    lines = [suspect("BUR", "acts", named("lot", lot), 3.0)]
    assert bench_html(load_bench(given(rows, lines), View()), dark)


def test_a_thousand_rows_are_shown_and_the_rest_is_told_of(given: Given) -> None:
    rows = [check(n, f"C{n // 100}", "L2" if n < MOST_ROWS + 200 else "L3", 100, 1) for n in range(MOST_ROWS + 600)]
    shown = load_bench(given(rows, [suspect("BUR", "acts", named("lot", "L2"), 3.0)]), View())
    told = texts(bench_html(shown, dark=False))
    assert "strokeledger evidence --die D1 --cause BUR" in told


def test_marks_say_which_edge_was_ground_and_how_much(given: Given) -> None:
    service = {"die_id": "D1", "time": steady(1)[1]["from_us"], "work": "sharpen", "station": 1, "removed_mm": 0.08}
    reading = given(steady(4), [suspect("BUR", "acts", named("lot", "L1"), 3.0)], [service])
    shown = load_bench(reading, View())
    assert shown.bench is not None
    marks, _, _ = marks_in_words(shown.bench.case)
    assert marks["told"].tolist()[-1] == "Sharpened: station 1, 0.08\u202fmm taken off"


def test_each_lot_stands_against_the_state_of_the_edge_and_a_dash_where_it_never_ran(
    given: Given, bad_lot: Given
) -> None:
    rows = steady(6)
    for number, row in enumerate(rows):
        row["strokes_since_sharpening"] = 100.0 if number < 8 else 50_000.0 if number < 16 else 90_000.0
    shown = load_bench(given(rows, [suspect("BUR", "acts", named("lot", "L1"), 3.0)]), View())
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
            "expected_due_at": pd.array([at("2026-11-09 10:00"), pd.NA, pd.NA], dtype="Int64"),
        }
    )
    drawn = drawn_stations(stations, CALENDAR)
    assert drawn["due_share"].fillna(-1).tolist() == [0.25, -1, -1]
    assert drawn["below"].tolist() == ["50\u202f000 strokes\ndue Mon 9 Nov 2026", "", "no history"]
    assert bounds_of(stations) == [("plant book", 200_000.0, "dash"), ("now", 50_000.0, "solid")]


def test_a_picker_that_only_appeared_picks_nothing_and_another_cause_changes_the_address(bad_lot: Given) -> None:
    reading = bad_lot()
    assert pick(reading, "D1", "BUR", "") is no_update
    assert pick(reading, "D1", "CRK", "?scope=lot&value=L2") == "?die=D1&cause=CRK"


def test_the_page_speaks_german_where_asked(bad_lot: Given) -> None:
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


def test_outs_that_differ_are_said_in_words_and_what_it_means(bad_lot: Given, monkeypatch: pytest.MonkeyPatch) -> None:
    reading, rows = bad_lot(), pd.DataFrame([held(True), held(False, "P2"), held(None, "P3")])
    monkeypatch.setattr(reading, "figure", lambda *_, **__: rows)
    told = texts(bench_html(load_bench(reading, View()), dark=False))
    assert "B-<7>, height on P1: the outs differ in their mean." in told
    assert told.count("the outs differ in their mean") == 1
    outs = capability_rows(rows)["Outs"]
    assert outs.tolist() == ["differ", "agree", "one out"]


def test_where_nothing_was_measured_nothing_is_said_of_what_press_and_die_hold(bad_lot: Given) -> None:
    assert "What press and die can hold" not in texts(bench_html(load_bench(bad_lot(), View()), dark=False))


def test_the_verdict_to_take_away_is_that_of_the_look_shown(bad_lot: Given) -> None:
    reading = bad_lot()
    view = View(die="D1", cause="BUR")
    told = DOWNLOADS["suspects"](reading, view)
    assert told["level"].tolist() == ["L2", "L3"]
    assert set(told["cause"]) == {"BUR"}
    assert DOWNLOADS["wear"](reading, view)["die_id"].unique().tolist() in ([], ["D1"])
    coils = DOWNLOADS["coil_rates"](reading, view)
    assert coils["rejected"].sum() == load_bench(reading, view).bench.case.rejected
    assert all("T" in moment for moment in coils["from_at"])
    assert len(DOWNLOADS["stretches"](reading, view)) == 8
