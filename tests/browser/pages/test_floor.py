"""What the floor enters, in a real browser over a real ledger: two taps, two people, a reload and a restart between."""

from __future__ import annotations

import datetime as dt

import pytest
from playwright.sync_api import expect

from dashboards.app import build_app
from monitor.enter.floor import StandstillSpan, give_reason
from monitor.figures import figure
from tests.browser.conftest import Served
from tests.invented.tiny import DAY, SHIFTS, Tiny, at

PHONE = {"width": 390, "height": 844}


def us(clock):
    return int(dt.datetime.fromisoformat(at(clock)).timestamp()) * 1_000_000


@pytest.fixture
def plant(tmp_path):
    """P stood 07:00 to 07:20, 09:50 to 10:00 and after the break to 10:40, and stands since 13:00."""
    one = Tiny(tmp_path, SHIFTS)
    names = [("CCH", "coil change", "setup"), ("PUN", "broken punch", "tooling"), ("NOP", "no order", "planned")]
    names += [(f"X{n:02d}", f"other reason {n}", "other") for n in range(14)]
    for reason, name, kind in names:
        one.add("reasons", reason=reason, name=name, kind=kind)
    one.set_die(at("06:00"))
    for begin, end in (("06:00", "07:00"), ("07:20", "09:50"), ("10:40", "13:00")):
        one.run(at(begin), at(end))
    one.add("strokes", time=at("13:30"), press_id="P", counter=1000 + one.counters["P"])
    one.load()
    yield one
    one.ledger.close()


@pytest.fixture
def served(plant):
    one = Served(build_app(plant.ledger.root))
    yield one
    one.stop()


def reasons(plant):
    rows = figure(plant.ledger, "stops")
    rows = rows[rows["reason"] != "break"]
    return dict(zip((start[11:16] for start in rows["start_at"]), rows["reason"], strict=True))


def tile(page, name):
    return page.locator(".sheet").get_by_role("button", name=name)


def test_two_taps_on_a_phone_give_a_standing_press_its_reason(plant, served, visit):
    page = visit(served, "/", **PHONE)
    page.locator("button.state").click()
    tile(page, "broken punch").click()
    expect(page.locator(".told")).to_contain_text("broken punch")
    expect(page.locator("button.state")).to_contain_text("broken punch")
    assert reasons(plant)["13:00"] == "PUN"


def test_two_taps_on_the_die_on_a_phone_give_a_stop_its_reason_and_change_it(plant, served, visit):
    page = visit(served, "/die?die=D", **PHONE)
    stops = page.locator(".beside .stop-rows button")
    morning = stops.filter(has_text="07:00–07:20")
    expect(morning).to_contain_text("no reason yet")
    assert morning.bounding_box()["height"] >= 48
    morning.click()
    tile(page, "broken punch").click()
    expect(page.locator(".told")).to_contain_text("broken punch")
    expect(morning).to_contain_text("broken punch")
    assert reasons(plant)["07:00"] == "PUN"
    page.locator(".shift-ribbons .mark[title*='07:00']").click()
    tile(page, "coil change").click()
    expect(morning).to_contain_text("coil change")
    assert reasons(plant)["07:00"] == "CCH"
    page.locator(".told").get_by_role("button", name="Undo").click()
    expect(morning).to_contain_text("broken punch")
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_what_is_tapped_on_a_phone_is_large_enough_for_gloves(served, visit):
    page = visit(served, "/", **PHONE)
    page.locator(".needs button").first.click()
    expect(tile(page, "coil change")).to_be_visible()
    for wanted in (".needs button", ".tiles > li > button", "button.state"):
        boxes = [box.bounding_box() for box in page.locator(wanted).all() if box.is_visible()]
        assert boxes
        assert min(box["height"] for box in boxes) >= 48, wanted
        assert min(box["width"] for box in boxes) >= 100, wanted
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_no_more_than_twelve_are_offered_and_the_most_used_first(plant, served, visit):
    give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "X07")
    page = visit(served, "/")
    page.locator("button.state").click()
    tiles = page.locator(".sheet-body > .tiles button")
    expect(tiles).to_have_count(12)
    expect(tiles.first).to_contain_text("other reason 7")
    page.get_by_text("5 more reasons").click()
    expect(page.locator(".sheet details button").first).to_be_visible()


def test_the_parts_of_a_stop_around_a_break_are_one_tap_and_undone_at_once(plant, served, visit):
    page = visit(served, "/")
    page.locator(".needs button", has_text="09:50").click()
    expect(page.locator(".sheet h2")).to_have_text("P: 2 stops")
    tile(page, "coil change").click()
    expect(page.locator(".told")).to_contain_text("coil change")
    assert [reasons(plant)[clock] for clock in ("09:50", "10:30")] == ["CCH", "CCH"]
    page.locator(".told").get_by_role("button", name="Undo").click()
    expect(page.locator(".told")).to_contain_text("Taken back")
    assert set(reasons(plant).values()) == {"no reason yet"}


def test_a_stop_is_tapped_on_the_ribbon_and_by_the_keyboard(plant, served, visit):
    page = visit(served, "/")
    page.locator(".mark.kind-none").first.click()
    expect(page.locator(".sheet h2")).to_contain_text("07:00 to 07:20")
    page.keyboard.press("Escape")
    expect(page.locator(".sheet")).to_be_hidden()
    page.locator(".needs button").last.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".sheet")).to_be_visible()
    first = page.locator(".tiles button").first
    expect(first).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".told")).to_contain_text("Undo")
    expect(page.locator(".sheet")).to_be_hidden()


def test_of_two_people_the_second_is_told_and_asked(plant, served, visit):
    one, other = visit(served, "/"), visit(served, "/", **PHONE)
    for page in (one, other):
        page.locator(".needs button", has_text="07:00").click()
        expect(tile(page, "coil change")).to_be_visible()
    one.get_by_label("Who enters it").fill("Shift leader")
    tile(one, "coil change").click()
    expect(one.locator(".told")).to_contain_text("coil change")
    tile(other, "broken punch").click()
    expect(other.get_by_role("alert").filter(has_text="Shift leader entered “coil change”")).to_be_visible()
    assert reasons(plant)["07:00"] == "CCH"
    other.get_by_role("button", name="Enter “broken punch” all the same").click()
    expect(other.locator(".told")).to_contain_text("broken punch")
    assert reasons(plant)["07:00"] == "PUN"


def test_one_reason_for_several_stops_after_a_reload_in_the_middle(plant, served, visit):
    page = visit(served, f"/shift?press=P&date={DAY}&shift=early")
    boxes = page.get_by_role("checkbox")
    expect(boxes).to_have_count(4)
    boxes.nth(0).click()
    page.reload()
    expect(page.get_by_role("button", name="One reason for all ticked")).to_be_disabled()
    for number in (0, 2, 3):
        page.get_by_role("checkbox").nth(number).click()
    page.get_by_role("button", name="One reason for all ticked").click()
    expect(page.locator(".sheet h2")).to_have_text("P: 3 stops")
    tile(page, "no order").click()
    expect(page.locator(".stop-rows li.bare")).to_have_count(1)
    assert sorted(reasons(plant).values()) == ["NOP", "NOP", "NOP", "no reason yet"]


def pick(page, dropdown, option):
    page.locator(f"#{dropdown}").click()
    page.get_by_role("option", name=option).click()


def test_a_stop_is_split_and_both_stand_in_the_history(plant, served, visit):
    page = visit(served, f"/shift?press=P&date={DAY}&shift=early")
    page.get_by_label("Who enters it").evaluate("e => e.closest('dialog').showModal()")
    page.get_by_label("Who enters it").fill("Toolroom")
    page.get_by_role("button", name="Close").click()
    pick(page, "shift-stop", "07:00")
    page.get_by_label("At (hh:mm)", exact=True).fill("07:08")
    pick(page, "shift-before", "coil change")
    pick(page, "shift-after", "broken punch")
    page.get_by_role("button", name="Split", exact=True).click()
    expect(page.locator(".told")).to_contain_text("The stop is split")
    assert (reasons(plant)["07:00"], reasons(plant)["07:08"]) == ("CCH", "PUN")
    expect(page.locator(".entries > li").first).to_contain_text("Toolroom")
    page.locator(".entries").get_by_role("button", name="Undo").first.click()
    expect(page.locator(".entries .undone")).to_have_count(1)
    assert "07:08" not in reasons(plant)


def test_first_off_service_and_a_wrong_time(plant, served, visit):
    page = visit(served, f"/shift?press=P&date={DAY}&shift=early")
    page.get_by_label("Good since").fill("25:99")
    page.get_by_role("button", name="Enter first-off").click()
    expect(page.locator(".told")).to_contain_text("such as 13:05")
    page.get_by_label("Good since").fill("06:10")
    page.get_by_role("button", name="Enter first-off").click()
    expect(page.locator(".told")).to_contain_text("First-off entered")
    assert figure(plant.ledger, "shifts")["setup_pieces"].sum() == 600
    page.get_by_label("Station").fill("1")
    page.get_by_label("Done at").fill("13:00")
    page.get_by_role("button", name="Enter work").click()
    expect(page.locator(".told")).to_contain_text("Work on D entered")
    assert figure(plant.ledger, "service")["strokes_since_sharpening"].tolist() == [0]


def test_a_note_is_handed_over_and_is_only_text(plant, served, visit):
    page = visit(served, f"/handover?date={DAY}&shift=early")
    page.get_by_label("For those who come after").fill("<img src=x onerror=alert(1)> chute blocked")
    page.get_by_role("button", name="Write note").click()
    expect(page.locator(".notes-part")).to_contain_text("<img src=x onerror=alert(1)> chute blocked")
    assert page.locator("main img").count() == 0
    with page.expect_download() as told:
        page.get_by_role("button", name="PDF").click()
    assert told.value.suggested_filename == f"hand-over-{DAY}-early.pdf"


def test_a_note_that_is_kept_leaves_its_field_and_lists_speak_the_language(plant, served, visit):
    page = visit(served, f"/shift?press=P&date={DAY}&shift=early&lang=de")
    page.locator("#shift-note").fill("Rinne verstopft")
    page.locator("#shift-write").click()
    expect(page.locator(".entries")).to_contain_text("Rinne verstopft")
    expect(page.locator("#shift-note")).to_have_value("")
    page.locator("#shift-stop").click()
    expect(page.get_by_placeholder("Suchen")).to_be_visible()


def test_a_server_that_starts_anew_in_the_middle_loses_nothing(plant, visit):
    first = Served(build_app(plant.ledger.root))
    port = int(first.url.rsplit(":", 1)[1])
    page = visit(first, "/", restarts=True)
    page.locator(".needs button", has_text="07:00").click()
    expect(tile(page, "coil change")).to_be_visible()
    first.stop()
    again = Served(build_app(plant.ledger.root), port)
    try:
        tile(page, "coil change").click()
        expect(page.locator(".told")).to_contain_text("coil change")
        assert reasons(plant)["07:00"] == "CCH"
    finally:
        again.stop()


def test_a_tap_that_no_server_takes_is_told_and_can_be_made_again(plant, visit):
    first = Served(build_app(plant.ledger.root))
    port = int(first.url.rsplit(":", 1)[1])
    page = visit(first, "/", restarts=True, **PHONE)
    page.locator("button.state").click()
    expect(tile(page, "broken punch")).to_be_visible()
    first.stop()
    tile(page, "broken punch").click()
    expect(page.locator(".unanswered")).to_contain_text("did not answer")
    expect(page.locator(".unanswered")).to_be_in_viewport(ratio=1)
    assert reasons(plant)["13:00"] == "no reason yet"
    again = Served(build_app(plant.ledger.root), port)
    try:
        tile(page, "broken punch").click()
        expect(page.locator(".told")).to_contain_text("broken punch")
        expect(page.locator(".unanswered")).to_be_empty()
        assert reasons(plant)["13:00"] == "PUN"
    finally:
        again.stop()


def test_a_slow_server_is_waited_for_in_words(plant, served, visit):
    page, held, free = visit(served, "/", **PHONE), [], []
    expect(page.locator("button.state")).to_be_visible()
    page.route("**/_dash-update-component*", lambda route: route.continue_() if free else held.append(route))
    page.locator("button.state").click()
    expect(page.locator(".told")).to_have_text("Waiting for the server.")
    free.append(True)
    for route in held:
        route.continue_()
    expect(tile(page, "broken punch")).to_be_visible()
    expect(page.locator(".told")).to_be_empty()


def test_what_is_loaded_is_shown_within_five_seconds_and_nothing_jumps(plant, served, visit):
    page = visit(served, "/", width=390, height=500)
    expect(page.locator(".press")).to_have_count(1)
    page.evaluate("window.scrollTo(0, 300); window.blank = 0")
    button = page.locator(".needs button", has_text="07:00")
    button.focus()
    page.wait_for_timeout(100)
    before = button.bounding_box()["y"]
    assert page.evaluate("window.scrollY") > 0
    page.evaluate(
        """new MutationObserver(() => { if (!document.querySelector('.press')) { window.blank += 1; } })
             .observe(document.body, {subtree: true, childList: true})"""
    )
    plant.run(at("13:31"), at("13:40"))
    plant.load()
    expect(page.locator("div.state")).to_contain_text("Running", timeout=7_000)
    page.wait_for_timeout(100)
    # What is above became lower, so the page moved with it: what somebody reads stays where it is on the screen.
    assert abs(button.bounding_box()["y"] - before) < 5
    assert page.evaluate("window.blank") == 0
    expect(button).to_be_focused()


def test_old_readings_are_said_loudly_and_the_clock_goes_on(plant, served, visit):
    page = visit(served, "/")
    stale = page.locator(".stale")
    page.clock.install(time=dt.datetime(2026, 11, 2, 13, 34, tzinfo=dt.UTC))
    page.reload()
    expect(page.locator(".press")).to_have_count(1)
    page.clock.run_for(3_000)
    assert stale.get_attribute("data-told") is None
    page.clock.run_for(4 * 60_000)
    told = stale.get_attribute("data-told")
    assert told == "No reading of any press for 8 min: what you see is as of 13:30."
    page.clock.fast_forward("24:00:00")
    page.clock.run_for(1_500)
    told = stale.get_attribute("data-told")
    assert told == "No reading of any press for 24 h: what you see is as of Mon 2 Nov 2026, 13:30."


def test_the_wall_has_no_chrome_large_letters_and_the_plant_s_clock(plant, served, visit):
    page = visit(served, "/?wall=1", width=1920, height=1080)
    expect(page.locator(".press")).to_have_count(1)
    expect(page.locator(".bar")).to_be_hidden()
    expect(page.locator(".clock")).to_have_attribute(
        "data-told", dt.datetime.now(dt.UTC).strftime("%H:%M"), timeout=5_000
    )
    small = page.evaluate(SMALLEST)
    assert small >= 22, small
    assert page.evaluate("document.documentElement.scrollHeight <= innerHeight")


def test_names_of_eighty_letters_stay_in_their_place(plant, served, visit):
    press, die = "P" + "W" * 79, "D" + "M" * 79
    plant.add("presses", press_id=press, rated_spm=200)
    plant.die(die, 1)
    plant.set_die(at("06:00"), die, press)
    plant.add("strokes", time=at("06:00"), press_id=press, counter=1)
    plant.add("strokes", time=at("13:30"), press_id=press, counter=1)
    plant.load()
    page = visit(served, "/?wall=1", width=1920, height=1080)
    expect(page.locator(".press")).to_have_count(2)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for width in (1920, 390):
        page.set_viewport_size({"width": width, "height": 1080})
        page.goto(served.url)
        name = page.get_by_role("link", name=press)
        expect(name).to_be_visible()
        place, room = name.bounding_box(), page.locator(f"[data-press={press}] .who").bounding_box()
        assert place["width"] <= room["width"]
        assert place["height"] < 130
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


#: Height of the smallest letters on the screen; 22 px are 14 mm on a screen of 55 inches, a letter 10 mm high.
SMALLEST = """() => {
  const seen = [];
  const walk = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const place = walk.currentNode.parentElement, box = place.getBoundingClientRect();
    if (walk.currentNode.textContent.trim() && box.width && box.height && place.checkVisibility()) {
      seen.push(parseFloat(getComputedStyle(place).fontSize));
    }
  }
  return Math.min(...seen.filter(size => size > 0));
}"""


def test_the_wall_turns_its_pages_until_every_press_was_shown(served_crowd, visit):
    page = visit(served_crowd, "/", width=1920, height=1080)
    page.clock.install()
    page.goto(served_crowd.url + "/?wall=1")
    expect(page.locator(".press")).to_have_count(40)
    page.clock.run_for(1_500)
    label = page.locator(".wall").get_attribute("data-page")
    pages = int(label.split(" / ")[1])
    assert 8 <= pages <= 14
    shown = set()
    for _ in range(pages):
        rows = page.locator(".press:visible")
        shown |= {row.get_attribute("data-press") for row in rows.all()}
        boxes = [row.bounding_box() for row in rows.all()]
        assert max(box["y"] + box["height"] for box in boxes) <= 1080
        page.clock.run_for(12_000)
    assert len(shown) == 40


@pytest.mark.parametrize("width", [1920, 1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_floor_s_pages_fit_on_every_screen(plant, served, visit, width, scheme):
    give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "CCH", by="a function " + "long" * 15)
    for path, wanted in (("/shift?press=P", ".entries > li"), ("/handover", ".stops-part td")):
        page = visit(served, path, width=width, scheme=scheme)
        expect(page.locator(wanted).first).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), path
