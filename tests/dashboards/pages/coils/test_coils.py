"""The coils page over a small plant of files: accounts, what needs somebody, filters, yields."""

from __future__ import annotations

import json
import re

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboards.ledger.service import LedgerService
from dashboards.pages.board.model import load_board
from dashboards.pages.board.view import board_html
from dashboards.pages.coils.model import load_coils
from dashboards.pages.coils.view import coils_html
from dashboards.request.locale import Locale, use_locale
from dashboards.request.url import View
from tests.invented.tiny import SHIFTS, Tiny, at


@pytest.fixture
def service(tmp_path):
    """GOOD is weighed and adds up, THIN was entered too thin, SHORT had run out, ON is on the press, RACK in store."""
    plant = Tiny(tmp_path)
    plant.rows["parts"] = [{"part_no": "N", "net_weight_g": 5}]
    plant.coil("GOOD", "L1", weight_kg=1000)
    plant.coil("THIN", "L1", weight_kg=1000)
    plant.coil("SHORT", "L2", weight_kg=2.4)
    plant.coil("ON", "<b>L3</b>", weight_kg=1000)
    plant.coil("RACK", "L2", weight_kg=900)
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "GOOD")
    plant.run(at("06:00"), at("08:00"), every_s=60)
    plant.change(at("08:00"), "remove", "GOOD", weight_kg=948)
    plant.change(at("08:01"), "mount", "THIN")
    plant.run(at("08:01"), at("18:01"), every_s=60)
    plant.change(at("18:01"), "remove", "THIN", weight_kg=700)
    plant.change(at("18:02"), "mount", "SHORT")
    plant.run(at("18:02"), at("18:12"), every_s=60)
    plant.change(at("18:12"), "mount", "ON")
    plant.run(at("18:12"), at("18:22"), every_s=60)
    plant.load()
    plant.ledger.close()
    return LedgerService(plant.ledger.root)


def seen(service, **view):
    return load_coils(service.read(), View(**view))


def rows(service, **view):
    page = json.dumps(coils_html(seen(service, **view), dark=False), cls=PlotlyJSONEncoder)
    found = re.search(r'"data-coils": ("(?:[^"\\]|\\.)*")', page)
    return {cells[0]["t"]: cells for cells in json.loads(json.loads(found[1]))["rows"]}


def test_what_needs_somebody_comes_first_and_what_waits_in_store_last(service):
    assert list(seen(service).rows["coil_id"]) == ["SHORT", "THIN", "ON", "GOOD", "RACK"]


def test_a_difference_says_which_input_would_mend_it_and_how_sure(service):
    cell = rows(service)["THIN"][6]
    assert cell["loud"]
    assert cell["t"] == "40.8"
    assert re.match(r"likeliest thickness: 1.000 entered, 1.14\d to 1.16\d mm would fit \(\d\d.%\)", cell["below"])
    assert "explain" in rows(service)["GOOD"][6]["below"]
    assert rows(service)["ON"][6]["t"] == "–"


def test_every_kilogram_of_a_coil_is_in_its_strip(service):
    for name, cells in rows(service).items():
        drawn = sum(kg for _, kg, _ in cells[1]["segs"])
        assert drawn == pytest.approx(cells[2]["s"], abs=0.002 * cells[2]["s"]), name


def test_a_coil_on_a_press_says_when_it_ends(service):
    where = rows(service)["ON"][7]
    assert where["t"] == "on press P"
    assert re.match(r"ends in about 38.h 5\d.min, .+ pieces", where["below"])
    assert where["more"] == [["D", "/bench?die=D"]]


def test_a_change_that_was_not_noted_is_asked_for(service):
    (asked,) = seen(service).missing
    assert asked.startswith("P: coil SHORT had run out between Mon 2 Nov 2026, 18:07 and")
    assert seen(service, press="P9").lack


def test_filters_narrow_by_state_and_by_word(service):
    def names(**view):
        return set(seen(service, **view).rows["coil_id"])

    assert names(scope="press") == {"ON"}
    assert names(scope="odd") == {"THIN", "SHORT"}
    assert names(value="l2") == {"SHORT", "RACK"}
    assert "has “nothing”" in seen(service, value="nothing").lack
    assert "under hold" in seen(service, scope="held").lack


def test_days_up_to_the_newest_reading_show_what_waits_in_store_and_earlier_ones_do_not(service):
    now = View.parse("?since=2026-11-02&until=2026-11-02")
    assert "RACK" in set(load_coils(service.read(), now).rows["coil_id"])
    before = load_coils(service.read(), View.parse("?since=2026-10-01&until=2026-10-05"))
    assert "No coil was on a press" in before.lack


def test_weights_and_lengths_follow_the_units(service):
    use_locale(Locale("en", "inch"))
    cells = rows(service)["GOOD"]
    use_locale(None)
    assert cells[2]["t"] == "2\u202f204.6"
    assert cells[3]["below"].endswith("ft")


def test_a_held_lot_is_tagged_and_bites_at_the_press(service):
    service.place_hold("lot", "<b>L3</b>", "cracks", "Quality")
    shown = seen(service)
    assert shown.hold_places[0].startswith("ON lies on press P, yet lot <b>L3</b> is held. H-0001: cracks")
    assert list(seen(service, scope="held").rows["coil_id"]) == ["ON"]
    assert rows(service)["ON"][0]["tag"] == "HELD"
    assert rows(service)["RACK"][0]["tag"] == ""


def test_the_board_marks_the_press_that_runs_held_strip(tmp_path):
    plant = Tiny(tmp_path, toml=SHIFTS)
    plant.coil("C1", "L1")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.run(at("06:00"), at("07:00"), every_s=60)
    plant.load()
    plant.ledger.close()
    service = LedgerService(plant.ledger.root)
    assert [row.held for row in load_board(service.read(), View()).rows] == [""]
    service.place_hold("lot", "L1", "cracks", "Quality")
    board = load_board(service.read(), View())
    assert [row.held for row in board.rows] == ["HELD: C1, H-0001"]
    assert "held-strip" in json.dumps(board_html(board, View()), cls=PlotlyJSONEncoder)


def test_the_same_size_in_the_rack_is_warned_of(service):
    service.place_hold("coil", "RACK", "rust", "Quality")
    (words,) = seen(service).hold_places
    assert words.startswith("RACK in store would fit press P: do not mount it")


def test_yields_are_by_lot_supplier_and_die_with_count(service):
    lots = seen(service).yields["lot"].set_index("lot")
    assert lots.loc["L1", ["coils", "mountings"]].tolist() == [2, 2]
    assert 0 < lots.loc["L1", "coil_yield"] < 1
    assert set(seen(service).yields["die_id"]["die_id"]) == {"D"}


def test_the_page_speaks_german_and_spanish(service):
    english = json.dumps(coils_html(seen(service), dark=True), cls=PlotlyJSONEncoder)
    for language, word in (("de", "Stanzgitter"), ("es", "Esqueleto")):
        use_locale(Locale(language))
        told = json.dumps(coils_html(seen(service), dark=True), cls=PlotlyJSONEncoder, ensure_ascii=False)
        use_locale(None)
        assert word in told
        assert "What became of the strip" not in told
    assert "What became of the strip" in english


def test_an_empty_ledger_says_what_to_load(tmp_path):
    plant = Tiny(tmp_path)
    plant.load()
    plant.ledger.close()
    assert "load" in load_coils(LedgerService(plant.ledger.root).read(), View()).lack
