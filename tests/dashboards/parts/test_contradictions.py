"""Rows that cannot all be true, beside the figures they affect and on the page *Intake*."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from plotly.io.json import to_json_plotly

from dashboards.ledger.service import LedgerService
from dashboards.ledger.version import LedgerVersion
from dashboards.pages.board.model import load_board
from dashboards.pages.board.view import board_html
from dashboards.pages.coils.model import load_coils
from dashboards.pages.coils.view import coils_html
from dashboards.pages.die.model import load_die
from dashboards.pages.die.view import die_html
from dashboards.pages.handover.view import handover_html
from dashboards.pages.shift.model import load_shift
from dashboards.pages.shift.view import head_html
from dashboards.pages.trace.model import load_trace
from dashboards.pages.trace.view import trace_html
from dashboards.parts.contradictions import contradictions_of, listed_html, load_listed
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from tests.invented.tiny import SHIFTS, Tiny, at

DATE = dt.date(2026, 11, 2)


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> LedgerVersion:
    """7200 pieces until 08:00, a tub of 8604 of them, and a container in two shipments."""
    folder: Path = tmp_path_factory.mktemp("contradicted")
    tiny = Tiny(folder, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("08:00"))
    tiny.look("<b>T1", at("08:00"), "tub", None, 8604)
    tiny.box("B", at("06:00"), at("06:30"), 1800)
    for number, clock in enumerate(("12:00", "13:00"), start=1):
        tiny.add("shipments", shipment_id=f"S{number}", container_id="B", shipped_at=at(clock), customer="K")
    tiny.load()
    tiny.ledger.close()
    return LedgerService(folder / "ledger").read()


def drawn(parts: object) -> str:
    return str(json.loads(to_json_plotly(parts)))


def test_the_board_marks_the_press(reading: LedgerVersion) -> None:
    board = load_board(reading, View())
    (row,) = board.rows
    assert row.contradicted is not None
    assert row.contradicted.words == "2 contradictions"
    assert row.contradicted.kinds == "more rejected than made, container sent twice"
    assert row.contradicted.href == "/intake?date=2026-11-02&press=P"
    assert row.contradicted.href in drawn(board_html(board, View()))


def test_a_shift_without_them_bears_no_mark(reading: LedgerVersion) -> None:
    assert load_shift(reading, View(press="P", date=DATE, shift="late")).contradicted is None


@pytest.mark.parametrize(
    ("page", "href"),
    [
        ("die", "/intake?date=2026-11-02&die=D"),
        ("shift", "/intake?date=2026-11-02&press=P"),
        ("coils", "/intake?date=2026-11-02&scope=coil&value=C"),
        ("trace", "/intake?date=2026-11-02&scope=container&value=B"),
        ("hand-over", "/intake?date=2026-11-02&press=P"),
    ],
)
def test_every_page_marks_the_figures_they_affect(reading: LedgerVersion, page: str, href: str) -> None:
    parts = {
        "die": lambda: die_html(load_die(reading, View(die="D", since=DATE, until=DATE)), dark=False),
        "shift": lambda: head_html(load_shift(reading, View(press="P", date=DATE, shift="early"))),
        "coils": lambda: coils_html(load_coils(reading, View(since=DATE, until=DATE)), dark=False),
        "trace": lambda: trace_html(load_trace(reading, View(scope="container", value="B")), dark=False),
        "hand-over": lambda: handover_html(reading.floor.hand_over(DATE, "early", ""), reading.calendar()),
    }[page]()
    assert href in drawn(parts)


def test_good_pieces_that_are_not_known_are_a_dash(reading: LedgerVersion) -> None:
    die = load_die(reading, View(die="D", since=DATE, until=DATE))
    assert die.totals[0].below == ("– good", "0 setting")
    assert die.tables["shifts"]["Good"].tolist() == ["–"]
    told = reading.floor.hand_over(DATE, "early", "")
    assert [line.good for line in told.presses] == [None]
    assert [(line.press_id, line.code) for line in told.contradictions] == [
        ("P", "more_rejected_than_made"),
        ("P", "box_sent_twice"),
    ]


def test_the_list_says_what_is_wrong_and_what_to_do(reading: LedgerVersion) -> None:
    lines = load_listed(reading, View()).lines
    assert [line.kind for line in lines] == ["container sent twice", "more rejected than made"]
    assert lines[1].about == "Mon 2 Nov 2026, 08:00 · P, D, C, <b>T1"
    assert lines[1].remedy.startswith(
        "8604 pieces were rejected or made while setting, but at most 7200 can have been made."
    )
    assert "inspections.csv:2" in lines[1].remedy
    # What a file held is text, never markup: components hold it as a string.
    assert "<b>T1" in drawn(listed_html(load_listed(reading, View()), View()))


@pytest.mark.parametrize(
    ("view", "kinds"),
    [
        (View(press="P"), 2),
        (View(press="Q"), 0),
        (View(die="D"), 1),
        (View(scope="coil", value="C"), 1),
        (View(scope="container", value="B"), 1),
        (View(date=dt.date(2026, 11, 1)), 0),
        (View(since=DATE, until=DATE), 2),
    ],
)
def test_the_list_is_that_of_the_link(reading: LedgerVersion, view: View, kinds: int) -> None:
    assert len(load_listed(reading, view).lines) == kinds


def test_what_the_list_shows_can_be_taken_away(reading: LedgerVersion) -> None:
    assert sorted(contradictions_of(reading, View(press="P"))["code"]) == ["box_sent_twice", "more_rejected_than_made"]
    assert contradictions_of(reading, View(date=dt.date(2026, 11, 1))).empty


@pytest.mark.parametrize(("language", "kind", "remedy"), [
    ("de", "Behälter zweimal geliefert", "Behälter 'B' steht in zwei Lieferungen."),
    ("es", "contenedor enviado dos veces", "El contenedor 'B' figura en dos envíos."),
])  # fmt: skip
def test_the_list_speaks_the_language_of_whoever_looks(
    reading: LedgerVersion, language: str, kind: str, remedy: str
) -> None:
    use_locale(Locale(language))
    try:
        line = load_listed(reading, View()).lines[0]
    finally:
        use_locale(None)
    assert line.kind == kind
    assert line.remedy.startswith(remedy)
