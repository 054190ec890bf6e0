"""Pages as plain functions: what they draw, and what their callbacks answer."""

import datetime as dt
import json
import shutil
import time
from importlib import import_module

import plotly.io as pio
import pytest
from dash.exceptions import PreventUpdate

from dashboards import holds, ids
from dashboards.ledger.service import LedgerService
from dashboards.pages import PAGES
from dashboards.pages.board import page as board
from dashboards.pages.die import DIE_PICK
from dashboards.pages.die import page as die
from dashboards.request.url import View
from dashboards.shell import CAUTION, nav, route, shell
from shared.errors import LedgerError
from tests.invented.five_presses import DIE_NAMES

DATE = dt.date(2026, 11, 2)


@pytest.fixture
def reading(service):
    return service.read()


def as_json(component):
    return json.dumps(json.loads(pio.json.to_json_plotly(component)), ensure_ascii=False, separators=(",", ":"))


def all_ids():
    """Component ids, also those that two modules give."""
    pages = [import_module(page.layout.__module__.rpartition(".")[0]) for page in PAGES]
    return [value for module in (ids, holds, *pages) for name, value in vars(module).items() if name.isupper()]


def ids_in(component):
    return {value for value in all_ids() if f'"id":"{value}"' in as_json(component)}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_page_draws_also_without_data(page, service, empty_service):
    for one in (service, empty_service):
        assert ids_in(page.layout(one.read(), View()))


def test_ids_are_unique_and_begin_with_their_page():
    values = all_ids()
    assert len(values) == len(set(values))
    paths = (page.path.strip("/") or "board" for page in PAGES)
    assert {value.split("-")[0] for value in values} == {"shell", "floor", *paths}


def test_pages_share_no_id(reading):
    drawn = [ids_in(page.layout(reading, View())) for page in PAGES]
    assert not set.intersection(*drawn)


def test_the_shell_carries_the_caution_and_the_plant(service):
    drawn = as_json(shell(service, PAGES))
    assert CAUTION in drawn
    assert "Invented pressings" in drawn


def test_the_page_shown_is_marked_in_the_navigation():
    shown = {link.href for link in nav(PAGES, "/die") if link.className == "station here"}
    assert shown == {"/die"}


@pytest.mark.parametrize("path", ["/die", "/die/"])
def test_a_path_finds_its_page(service, path):
    page, _ = route(service, PAGES, path, "?die=D140")
    assert '"value":"D140"' in as_json(page)


def test_an_unknown_path_names_the_pages(service):
    page, _ = route(service, PAGES, "/nowhere", "")
    names = ", ".join(page.name for page in PAGES)
    assert page.children == f"There is no page at this address. Pages: {names}."


def test_the_board_is_drawn_again_only_for_a_new_version_or_address(five_presses, tmp_path):
    service = LedgerService(shutil.copytree(five_presses, tmp_path / "ledger"))
    while service.read().floor.signs().version < service.read().version:
        time.sleep(0.02)
    _, stamp = board.refresh(service, 1, "", None, None)
    with pytest.raises(PreventUpdate):
        board.refresh(service, 2, "", None, stamp)
    assert board.refresh(service, 3, "?shift=early", None, stamp)[1] != stamp
    service.floor.write_note(DATE, "late", "P01", "chute blocked", by="Shift leader")
    assert board.refresh(service, 4, "", None, stamp)[1] != stamp


def test_a_board_that_cannot_be_read_says_why_and_asks_again(caplog):
    error = LedgerError("ledger", "a locked file", "a ledger", "wait")
    drawn, stamp = board.failed(error)
    assert "ledger: a locked file; expected a ledger. wait." in as_json(drawn)
    assert stamp == ""
    assert "a page could not be drawn" in caplog.text


def test_an_unforeseen_error_shows_its_kind_and_not_its_text():
    assert "secret" not in as_json(board.failed(RuntimeError("secret"))[0])
    assert "RuntimeError" in as_json(board.failed(RuntimeError("secret"))[0])


def test_the_board_links_each_die_to_its_page_and_shifts_to_their_view(reading):
    drawn = as_json(board.layout(reading, View()))
    assert '"href":"/die?die=D102"' in drawn
    assert '"href":"/?date=2026-11-02&shift=early"' in drawn


def test_places_on_the_board_are_numbers_in_per_cent(reading):
    spans = json.loads(as_json(board.layout(reading, View())))
    styles = [node["style"] for node in walk(spans) if "style" in node]
    assert styles
    for style in styles:
        for value in style.values():
            assert 0 <= float(value.removesuffix("%")) <= 100


def walk(node):
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from walk(value)
    elif isinstance(node, list):
        for value in node:
            yield from walk(value)


def test_every_chart_of_the_die_has_a_table_beside_it(service):
    drawn = list(walk(json.loads(as_json(die.draw(service, "?die=D102", "light")))))
    graphs = sum(node.get("type") == "Graph" for node in drawn)
    assert graphs >= 4
    # Shift by shift is a table alone.
    assert sum("data-table" in node for node in drawn) == graphs + 1


def test_charts_are_drawn_in_the_theme(service):
    light, dark = (as_json(die.draw(service, "?die=D102", theme)) for theme in ("light", "dark"))
    assert "#1d4f63" in light
    assert "#1d4f63" not in dark


def test_a_die_that_only_the_address_names_stays_in_the_picker(service):
    drawn = list(walk(json.loads(as_json(die.layout(service.read(), View(die="D999"))))))
    picker = next(node for node in drawn if node.get("id") == DIE_PICK)
    assert picker["value"] == "D999"
    assert {option["value"] for option in picker["options"]} == {*DIE_NAMES, "D999"}
    assert "no die “D999”" in as_json(die.draw(service, "?die=D999", "light"))
