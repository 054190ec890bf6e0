"""The floor's side of the screens: picks that browsers send, reasons offered, what is noticed, a press in a shift."""

from __future__ import annotations

import json
import time

import pytest
from plotly.utils import PlotlyJSONEncoder

from dashboards.ledger.picks import Pick, pack, unpack
from dashboards.ledger.service import LedgerService
from dashboards.pages.shift import page as shift
from dashboards.pages.shift.model import ShiftView, load_shift, moment_us
from dashboards.pages.shift.view import forms_html
from dashboards.reason_sheet.reasons import OFFERED, offered
from dashboards.request.locale import INCH, Locale, use_locale
from dashboards.request.url import View
from monitor.enter import floor as entering
from monitor.enter.floor import StandstillSpan, Work, give_reason, write_note
from tests.enter.test_entry import us
from tests.invented.tiny import DAY, SHIFTS, Tiny, at


@pytest.fixture(scope="module")
def plant(tmp_path_factory):
    one = Tiny(tmp_path_factory.mktemp("floor"), SHIFTS)
    for number in range(15):
        one.add("reasons", reason=f"R{number:02d}", name=f"reason {number}", kind="setup")
    one.rows["dies"][0]["sharpen_every_strokes"] = 20_000
    one.set_die(at("06:00"))
    for begin, end in (("06:00", "07:00"), ("07:20", "09:50"), ("10:40", "13:00")):
        one.run(at(begin), at(end))
    one.look("I", at("13:00"), "full", 9_000, 12, made_from=at("06:00"), made_to=at("09:50"))
    one.load()
    entering.service(one.ledger, Work("D", us("06:30"), station=1))
    give_reason(one.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "R09", by="Toolroom")
    write_note(one.ledger, DAY, "early", "P", "look at the nozzle", by="Shift leader")
    yield one
    one.ledger.close()


@pytest.fixture(scope="module")
def service(plant):
    return LedgerService(plant.ledger.root)


def test_picks_survive_the_browser_and_rubbish_does_not():
    picks = (Pick("P|1", us("07:00"), us("07:20")), Pick("Ü", us("13:00")))
    assert unpack(pack(picks)) == picks
    bad = [
        ["P", at("07:00"), None],
        ["P", us("07:20"), us("07:00")],
        ["P", us("07:00")],
        ["P", True, None],
        ["P", 1.5, None],
    ]
    bad += [["P", 1 << 60, None], ["P", -1, None], "P", 5, None, [1, 2, 3]]
    for rubbish in (json.dumps(bad), "{", "7", None, 4, '"x"'):
        assert unpack(rubbish) == ()
    assert len(unpack(json.dumps([["P", us("07:00"), None]] * 5_000))) == 200


def test_the_most_used_reason_comes_first_and_the_rest_by_name(service):
    first, rest = offered(service.read(), {"P"}, DAY)
    assert (first[0].code, first[0].used, first[0].kind, len(first)) == ("R09", 1, "setup", OFFERED)
    assert [reason.name for reason in rest] == sorted(reason.name for reason in rest)
    assert len(first) + len(rest) == 15


def test_the_page_of_a_press_tells_its_stops_and_what_was_entered(service):
    shown = load_shift(service.read(), View(press="P", date=DAY, shift="early"))
    told = [(stop.words, stop.reason, stop.bare) for stop in shown.stops]
    assert told == [
        ("07:00–07:20", "reason 9", False),
        ("09:50–10:00", "no reason yet", True),
        ("10:30–10:40", "no reason yet", True),
    ]
    heads = [(line.head.split(" ", 1)[1], line.what) for line in shown.history]
    assert heads == [
        ("Shift leader", ("note “look at the nozzle”",)),
        ("Toolroom", ("07:00 to 07:20 (20\u202fmin) reason 9",)),
    ]


def test_a_clock_time_is_one_of_the_shift(service):
    view = View(press="P", date=DAY, shift="early")
    for written in ("13:05", "13.05", "1305"):
        assert moment_us(service.read(), view, written) == us("13:05")
    for wrong in ("14:01", "5", "25:00", "ab:cd", "", "12:60", "1360"):
        assert moment_us(service.read(), view, wrong) is None


def test_a_press_or_shift_there_is_not_says_so(service):
    assert load_shift(service.read(), View(press="X")).lack
    assert load_shift(service.read(), View(press="P", date=DAY, shift="night")).lack


def test_rejects_lie_where_the_pieces_were_made(service):
    (row,) = service.read().floor.rejects(DAY.isoformat(), "", "").to_dict("records")
    assert (row["rejected"], row["causes"], row["kind"]) == (12, "BUR", "full")
    assert us("06:00") <= row["from_us"] < row["to_us"] <= us("09:51")


def test_what_takes_a_moment_is_worked_out_beside_and_kept(service):
    reading = service.read()
    first = reading.floor.signs()
    for _ in range(200):
        if reading.floor.signs().version == reading.version:
            break
        time.sleep(0.05)
    told = reading.floor.signs()
    assert first.version in (-1, reading.version)
    assert told.version == reading.version
    # Sharpened at 06:30, so 19,200 of its 21,000 strokes came after.
    assert told.to_sharpen == {"D": (20_000 - 19_200, 20_000)}
    assert told.alarms.empty


def test_what_was_taken_off_an_edge_is_entered_in_the_unit_shown_and_kept_in_millimetres():
    assert shift._removed_mm(0.05) == 0.05
    use_locale(Locale("en", INCH))
    try:
        assert shift._removed_mm(0.002) == 0.051
        assert "Removed, in" in json.dumps(forms_html(ShiftView(View()), ()), cls=PlotlyJSONEncoder)
    finally:
        use_locale(None)
