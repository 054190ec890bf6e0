"""Board, page of a press, page of a die and figure count the same stops, and show the same time that nobody saw."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboards.ledger.service import LedgerService
from dashboards.pages.board.model import load_board
from dashboards.pages.die.model import load_die
from dashboards.pages.shift.model import load_shift
from dashboards.request.url import View
from tests.invented.tiny import DAY, SHIFTS, Tiny, at

EARLY = View(press="P", date=DAY, shift="early")


@pytest.fixture
def service(tmp_path: Path) -> LedgerService:
    """Stands over the break, and 3, 10 and 20 min; the last is explained, and 12:30 to 13:00 was not seen."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    ran = "06:00"
    for begin, end in (("07:00", "07:03"), ("08:00", "08:10"), ("09:50", "10:40"), ("11:30", "11:50")):
        tiny.run(at(ran), at(begin))
        tiny.add("strokes", time=at(end), press_id="P", counter=1000 + tiny.counters["P"])
        ran = end
    tiny.run(at(ran), at("12:30"))
    tiny.counters["P"] += 900
    tiny.run(at("13:00"), at("14:00"))
    tiny.add("stops", press_id="P", start_at=at("11:30"), end_at=at("11:50"), reason="PUN")
    tiny.load()
    return LedgerService(tmp_path / "ledger")


def test_every_page_counts_the_stops_without_a_reason_that_the_figure_has(service: LedgerService) -> None:
    # Four stops, three without a reason; the one over the break from 10:00 to 10:30 has two rows and is one stop.
    reading = service.read()
    rows = reading.figure("stops", press="P")
    bare = rows[rows["reason"] == "no reason yet"]
    assert (len(bare), bare["stop_id"].nunique()) == (4, 3)
    (row,) = load_board(reading, EARLY.but(press="P")).rows
    assert row.bare == load_shift(reading, EARLY).bare == 3
    assert [why.count for why in row.why if why.reason == "no reason yet"] == [3]
    # On the board those of 5 min and more are named, newest first; the rest is one more.
    assert [need.words[:5] for need in row.needs] == ["09:50", "08:00"]
    assert load_shift(reading, EARLY).unseen == ("not seen: 12:30 to 13:00, 30\u202fmin; no reading in between",)
    shown = load_die(reading, View(die="D", since=DAY, until=DAY))
    assert len({stop.stop_id for stop in shown.stops if stop.bare}) == 3


def test_time_that_nobody_saw_is_drawn_and_told_on_every_page(service: LedgerService) -> None:
    # 30 min of 7.5 planned hours are 6.7 %: how long the press ran in them is not known.
    reading = service.read()
    assert reading.figure("shifts", press="P")["unresolved_s"].tolist() == [1800.0]
    (row,) = load_board(reading, EARLY.but(press="P")).rows
    dark = [span for span in row.track if span.look == "unseen"]
    assert [(span.left, span.width, span.word) for span in dark] == [(81.25, 6.25, "not seen")]
    assert [(why.reason, why.minutes, why.count) for why in row.why if why.look == "unseen"] == [
        ("not seen", "30\u202fmin", 1)
    ]
    numbers = {number.label: number for number in row.numbers}
    assert numbers["Uptime"].value == "–"
    assert numbers["Uptime"].below[-1] == "not seen 30\u202fmin"
    shown = load_die(reading, View(die="D", since=DAY, until=DAY))
    (ribbon,) = shown.ribbons
    assert [span.look for span in ribbon.track].count("unseen") == 1
    assert shown.tables["shifts"]["Not seen"].tolist() == ["30\u202fmin"]
    (line,) = reading.floor.hand_over(DAY, "early", "P").presses
    assert line.unresolved_s == 1800
