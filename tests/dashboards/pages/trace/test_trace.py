"""The trace page over a small plant of files: what it finds, what it says where it finds nothing, and holds."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboards.ledger.service import LedgerService
from dashboards.pages.trace import page as trace
from dashboards.pages.trace.model import DOWNLOADS, load_trace
from dashboards.pages.trace.view import trace_html
from dashboards.request.url import View
from shared.errors import RequestError
from tests.invented.tiny import Tiny, at


@pytest.fixture
def service(tmp_path):
    plant = Tiny(tmp_path)
    for coil, lot in (("C1", "L1"), ("C2", "L2"), ("NEVER", "L3")):
        plant.coil(coil, lot, "H1")
    plant.set_die(at("06:00"))
    plant.change(at("06:00"), "mount", "C1")
    plant.change(at("06:10"), "splice", "C2")
    plant.run(at("06:00"), at("06:20"))
    plant.box("B1", at("06:00"), at("06:05"), 300)
    plant.box("B2", at("06:05"), at("06:15"), 603)
    plant.box("W", at("07:00"), at("07:00"), 300)
    plant.box("EMPTY", at("08:00"), at("09:00"))
    plant.add("repacks", time=at("07:00"), from_container="B1", to_container="W", quantity=300)
    plant.add("shipments", shipment_id="S", container_id="W", shipped_at=at("09:00"), customer="<i>K</i>")
    plant.load()
    plant.ledger.close()
    return LedgerService(plant.ledger.root)


def seen(service, value, scope="", **more):
    return load_trace(service.read(), View(scope=scope, value=value, **more))


def drawn(service, value, scope=""):
    return json.dumps(trace_html(seen(service, value, scope), dark=False), cls=PlotlyJSONEncoder)


def test_a_lot_is_found_without_saying_that_it_is_one(service):
    shown = seen(service, "L1")
    assert shown.view.scope == "lot"
    assert [(total.label, total.value) for total in shown.totals] == [
        ("Pieces", "600"), ("Coils", "1"), ("Containers", "3"), ("Sent", "300"), ("On the floor", "300"),
    ]  # fmt: skip


def test_bands_follow_pieces_through_a_repack_without_counting_them_twice(service):
    links = seen(service, "L1").links
    found = {(row.source, row.target): row.pieces for row in links.itertuples()}
    assert found == {
        ("C1", "B1"): 300,
        ("C1", "B2"): 300,
        ("B1", "W"): 300,
        ("W", "S"): 300,
        ("B2", "on the floor"): 300,
    }


def test_a_box_that_does_not_add_up_shows_the_difference(service):
    rows = seen(service, "B2").rows
    assert rows[["coil_id", "pieces"]].to_numpy().tolist() == [["C1", 300], ["C2", 300], ["", 3]]
    assert "not known" in drawn(service, "B2")


def test_many_containers_are_drawn_by_where_they_went(service, monkeypatch):
    monkeypatch.setattr("dashboards.pages.trace.model.MOST_BOXES", 1)
    links = seen(service, "H1").links
    assert set(links.loc[links["target_kind"] == "container", "target"]) == {
        "1 containers: S", "2 containers: on the floor",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("value", "scope", "told"),
    [
        ("", "", "Type what stands on a label"),
        ("B-9", "", "There is no container, shipment, coil, lot or heat B-9"),
        ("B1", "lot", "there is a container of that name"),
        ("NEVER", "", "No piece of coil NEVER is in a container yet"),
        ("EMPTY", "", "Nothing is known to be in container EMPTY"),
    ],
)
def test_what_is_not_found_says_what_to_do(service, value, scope, told):
    assert told in seen(service, value, scope).lack
    assert trace_html(seen(service, value, scope), dark=True)


def test_text_of_files_stays_text(service):
    assert "<i>K</i>" in seen(service, "W").rows["customer"].tolist()
    table = next(part for part in drawn(service, "W").split("data-table") if "Shipment" in part)
    assert "<i>K</i>" in table


def test_a_hold_is_placed_and_lifted_and_shows_on_what_is_in_it(service):
    number = service.place_hold("lot", "L1", "cracks", "Quality")
    assert [line.hold_id for line in seen(service, "B1").holds] == [number]
    assert seen(service, "C2").holds == ()
    assert "HELD" in drawn(service, "B1")
    service.lift_hold(number, "sorted", "Quality")
    (line,) = seen(service, "B1").holds
    assert "by Quality" in line.placed
    assert line.ended.endswith("by Quality: sorted")
    with pytest.raises(RequestError):
        service.lift_hold(number, "sorted", "Quality")


def test_a_button_that_only_appeared_enters_nothing(service):
    before = service.read().version
    trace.hold(service, None, lifted=[None], stretched=None, search="?value=L1", why="why", who="who")
    assert service.read().version == before


def test_the_search_stands_in_the_address(service):
    page = json.dumps(trace.layout(service.read(), View(scope="lot", value="L1")), cls=PlotlyJSONEncoder)
    assert '"L1"' in page
    assert View.parse("?scope=lot&value=L1").search == "?scope=lot&value=L1"


def test_a_stretch_of_strokes_is_held_and_shown_as_a_hold(service):
    number = service.place_hold(
        "die", "D", reason="chipped punch", by="Toolroom", from_="2026-11-02 06:06", to="2026-11-02 06:16"
    )
    shown = seen(service, number)
    assert shown.view.scope == "hold"
    assert sorted(set(shown.rows["container_id"])) == ["B2"]
    (line,) = shown.holds
    assert (line.what, line.reason) == (
        "die D, made Mon 2 Nov 2026, 06:06 to Mon 2 Nov 2026, 06:16", "chipped punch",
    )  # fmt: skip
    assert "by Toolroom" in line.placed
    service.lift_hold(number, "sorted", "Quality")
    (line,) = seen(service, number).holds
    assert line.ended.endswith("by Quality: sorted")
    assert "LIFTED" in drawn(service, number)


def test_a_hold_on_strip_shows_its_coils_and_where_it_bites(service):
    number = service.place_hold("heat", "H1", "cracks", "Quality")
    shown = seen(service, number)
    assert shown.coils["coil_id"].tolist() == ["C1", "C2", "NEVER"]
    assert any(words.startswith("C2 lies on press P, yet heat H1 is held.") for words in shown.hold_places)
    assert any(
        "Shipment S had gone out with 300 pieces before heat H1 was held." in words for words in shown.hold_places
    )
    assert seen(service, "S").hold_places
    assert service.hold_tags(number).startswith(b"%PDF")


def test_a_hold_of_a_coil_never_fed_shows_the_coil_alone(service):
    number = service.place_hold("coil", "NEVER", "rust", "Quality")
    shown = seen(service, number)
    assert shown.rows.empty
    assert shown.coils["state"].tolist() == ["in store"]
    assert "Coils under this hold" in drawn(service, number)


def test_a_closed_container_with_pieces_under_hold_says_so(service):
    service.place_hold("lot", "L1", "cracks", "Quality")
    (words,) = seen(service, "B2").hold_places
    assert words == "Container B2 was closed with 300 pieces under hold: lot L1 is held. H-0001: cracks"
    service.lift_hold("H-0001", "sorted", "Quality")
    assert seen(service, "B2").hold_places == ()


def test_a_heat_offers_its_lots_first(service):
    assert seen(service, "H1").narrower == ("L1", "L2")
    assert "/trace?scope=lot&value=L1" in drawn(service, "H1")


def test_the_search_page_lists_the_holds_that_stand(service):
    first, second = (service.place_hold("lot", lot, "cracks", "Quality") for lot in ("L1", "L2"))
    service.lift_hold(first, "sorted", "Quality")
    assert [line.hold_id for line in seen(service, "").holds] == [second]


def test_pieces_that_are_uncertain_are_counted_row_by_row(service):
    rows = drawn(service, "B2")
    assert "\\u00b1" in rows or "±" in rows


def test_text_of_a_hold_is_no_file_name_and_no_markup(service):
    assert trace.file_name("../../<b>x") == "_b_x"
    number = service.place_hold("lot", "L1", "<script>alert(1)</script>", "<b>Q</b>")
    (line,) = seen(service, number).holds
    assert "<script>" in line.reason


def test_a_range_narrows_to_the_containers_opened_in_it_and_says_how_many_it_leaves_out(service):
    late = {"since": dt.date(2026, 11, 3)}
    shown = seen(service, "L1", **late)
    assert shown.rows.empty
    assert "Only the 0 containers opened in these days, of 3." in shown.lack
    assert seen(service, "L1", since=dt.date(2026, 11, 2)).note == ""
    assert DOWNLOADS["trace"](service.read(), View(scope="lot", value="L1", **late)).empty


def test_without_a_label_a_range_lists_what_is_in_the_containers_opened_in_it(service):
    view = View(since=dt.date(2026, 11, 2), until=dt.date(2026, 11, 2))
    shown = load_trace(service.read(), view)
    assert sorted(set(shown.opened["container_id"])) == ["B1", "B2", "W"]
    assert "containers opened" in json.dumps(trace_html(shown, dark=False), cls=PlotlyJSONEncoder)
    assert load_trace(service.read(), View()).opened.empty
    assert len(DOWNLOADS["trace"](service.read(), view)) == len(shown.opened)
