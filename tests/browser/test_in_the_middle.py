"""Each page's main task with somebody else at the same page, a reload and a new server in the middle of it."""

from __future__ import annotations

import csv
import io

import pytest
from playwright.sync_api import expect

from dashboards.app import build_app
from monitor.figures.genealogy.holds import history
from monitor.keep.backup import backup
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.browser.conftest import Served

PHONE = {"width": 390, "height": 844, "scheme": "dark"}
LATE = "2026-10-22T07:3{0}:13,P1,7{0}O\n"


@pytest.fixture
def root(sample_root, tmp_path):
    """A copy of the sample's ledger with three rows set aside that a person can mend."""
    with Ledger.open(sample_root) as ledger:
        backup(ledger, tmp_path / "ledger")
    (tmp_path / "strokes-late.csv").write_text("time,press_id,counter\n" + "".join(map(LATE.format, range(3))))
    with Ledger.open(tmp_path / "ledger") as ledger:
        load([tmp_path / "strokes-late.csv"], ledger)
    return tmp_path / "ledger"


class Plant:
    """Two people at one page, and the server they ask."""

    def __init__(self, root, visit, path):
        self.root = root
        self._served = Served(build_app(root))
        self.url = self._served.url
        self.one = visit(self._served, path, restarts=True)
        self.other = visit(self._served, path, **PHONE, restarts=True)

    def interrupt(self):
        """The first of the two loads the page anew, and a new server takes the place of the old one."""
        self.one.reload()
        self.one.wait_for_load_state("networkidle")
        anew = build_app(self.root)
        self._served.stop()
        self._served = Served(anew, int(self.url.rsplit(":", 1)[1]))

    def stop(self):
        self._served.stop()


def pick(page, dropdown, option):
    page.locator(f"#{dropdown}").click()
    page.get_by_role("option", name=option).first.click()


def die(plant):
    one, other = plant.one, plant.other
    heading = one.get_by_role("heading", level=1)
    pick(one, "die-shift", "Early")
    expect(one.locator(".die .head")).to_contain_text("Early shift")
    pick(other, "die-pick", "D-120")
    expect(other.get_by_role("heading", level=1)).to_contain_text("D-120")
    plant.interrupt()
    expect(heading).to_contain_text("D-114")
    expect(one.locator(".die .head")).to_contain_text("Early shift")
    pick(one, "die-shift", "Night")
    expect(one.locator(".die .head")).to_contain_text("Night shift")
    expect(one.locator("#die-scrap .main-svg").first).to_be_visible()
    expect(other.get_by_role("heading", level=1)).to_contain_text("D-120")


def coils(plant):
    one, other = plant.one, plant.other
    for page, found in ((one, "LOT-0417"), (other, "C-20215")):
        page.fill("#coils-find", found)
        page.press("#coils-find", "Enter")
        expect(page.locator(".coil-rows tbody tr").first).to_contain_text(found)
    rows = one.locator(".coil-rows tbody tr")
    count = rows.count()
    plant.interrupt()
    expect(rows).to_have_count(count)
    one.get_by_role("button", name="Used, kg").click()
    expect(one.locator("th[aria-sort=descending]")).to_contain_text("Used, kg")
    rows.first.get_by_role("link").first.click()
    expect(one.locator("#trace-flow .main-svg").first).to_be_visible()
    expect(other.locator(".coil-rows tbody tr")).to_have_count(1)


def bench(plant):
    one, other = plant.one, plant.other
    for page, case, told in ((one, "D-101 · FLT", "FLT out of flat"), (other, "D-114 · CRK", "CRK crack at the bend")):
        page.locator(".case", has_text=case).click()
        expect(page.get_by_role("heading", name=told)).to_be_visible(timeout=30_000)
    plant.interrupt()
    expect(one.get_by_role("heading", name="FLT out of flat on D-101")).to_be_visible(timeout=30_000)
    with one.expect_download(timeout=60_000) as taken:
        one.get_by_role("button", name="Rows as CSV").click()
    rows = list(csv.DictReader(io.StringIO(taken.value.path().read_text("utf-8-sig"))))
    assert len([row for row in rows if row["side"] == "bad"]) == one.locator("#bench-rows tbody tr").count()
    expect(other.get_by_role("heading", name="CRK crack at the bend on D-114")).to_be_visible()


def trace(plant):
    one, other = plant.one, plant.other
    for page, coil in ((one, "C-20208"), (other, "C-20209")):
        page.fill("#trace-value", coil)
        page.click("#trace-find")
        expect(page.get_by_role("heading", name=f"Coil {coil}")).to_be_visible()
        page.fill("#trace-why", f"edge cracks on {coil}")
    other.fill("#trace-who", "Quality")
    other.click("#trace-place")
    expect(other.locator(".summary")).to_contain_text("Hold H-0001 placed on coil C-20209.")
    plant.interrupt()
    expect(one.get_by_role("heading", name="Coil C-20208")).to_be_visible()
    one.fill("#trace-why", "edge cracks")
    one.fill("#trace-who", "Toolroom")
    one.click("#trace-place")
    expect(one.locator(".summary")).to_contain_text("Hold H-0002 placed on coil C-20208.")
    with Ledger.open(plant.root) as ledger:
        holds = history(ledger.snapshot()).set_index("hold_id")
    assert holds.loc[["H-0001", "H-0002"], "placed_by"].tolist() == ["Quality", "Toolroom"]


def week(plant):
    one, other = plant.one, plant.other
    for page, done, by in ((one, "punch ground", "Toolroom"), (other, "stripper shimmed", "Quality")):
        page.locator("textarea").first.fill(done)
        page.fill("#week-by", by)
    other.click("#week-save")
    expect(other.locator(".cause small").first).to_contain_text("Quality")
    one.click("#week-save")
    expect(one.locator(".summary")).to_contain_text("entretanto Quality escribió 'stripper shimmed'")
    plant.interrupt()
    field = one.locator("textarea").first
    expect(field).to_have_value("stripper shimmed")
    field.fill("stripper shimmed, punch ground")
    one.fill("#week-by", "Toolroom")
    one.click("#week-save")
    expect(one.locator(".cause small").first).to_contain_text("Toolroom")
    expect(one.frame_locator("iframe.paper").locator("main")).to_contain_text("stripper shimmed, punch ground")


def hand_over(plant):
    one, other = plant.one, plant.other
    one.fill("#handover-note", "half a note")
    other.fill("#handover-note", "chute blocked at 03:40")
    other.get_by_role("button", name="Write note").click()
    expect(other.locator(".notes-part")).to_contain_text("chute blocked at 03:40")
    expect(one.locator("#handover-note")).to_have_value("half a note")
    plant.interrupt()
    expect(one.locator(".notes-part")).to_contain_text("chute blocked at 03:40")
    one.fill("#handover-note", "a whole note")
    one.get_by_role("button", name="Write note").click()
    expect(one.locator(".notes-part")).to_contain_text("a whole note")
    expect(one.locator(".notes-part")).to_contain_text("chute blocked at 03:40")
    assert "half a note" not in one.locator("main").inner_text()


def intake(plant):
    one, other = plant.one, plant.other
    option = "3 × strokes: counter is '70O'"
    for page in (one, other):
        pick(page, "intake-reason", option)
        expect(page.locator("#intake-body tbody tr")).to_have_count(3)
        page.fill("#intake-who", "Planner")
    number = other.locator("#intake-body tbody td").first.inner_text()
    one.fill("#intake-rows", number)
    other.fill("#intake-rows", number)
    pick(other, "intake-column", "counter")
    other.fill("#intake-value", "54723")
    other.click("#intake-release")
    expect(other.locator("#intake-done")).to_contain_text("1 row let in")
    expect(one.locator("#intake-body tbody tr")).to_have_count(2)
    expect(one.locator("#intake-rows")).to_have_value(number)
    plant.interrupt()
    pick(one, "intake-reason", "2 × strokes")
    expect(one.locator("#intake-body tbody tr")).to_have_count(2)
    one.fill("#intake-who", "Planner")
    one.click("#intake-release")
    expect(one.locator("#intake-done")).to_contain_text("0 rows let in. 2 stay. Row ")


def shift(plant):
    one, other = plant.one, plant.other
    one.get_by_label("Good since").fill("22:30")
    other.get_by_role("button", name="05:00–06:00").click()
    other.locator(".sheet .tiles button").first.click()
    expect(other.locator(".entries > li")).to_have_count(1)
    expect(one.locator(".entries > li")).to_have_count(1)
    expect(one.get_by_label("Good since")).to_have_value("22:30")
    plant.interrupt()
    one.get_by_label("Good since").fill("22:35")
    one.get_by_role("button", name="Enter first-off").click()
    expect(one.locator(".told")).to_contain_text("First-off entered")
    for page in (one, other):
        expect(page.locator(".entries > li")).to_have_count(2)


TASKS = [
    (die, "/die?die=D-114"),
    (coils, "/coils"),
    (bench, "/bench"),
    (trace, "/trace"),
    (week, "/week?lang=es"),
    (hand_over, "/handover"),
    (intake, "/intake"),
    (shift, "/shift?press=P1"),
]


@pytest.mark.parametrize(("task", "path"), TASKS, ids=[task.__name__ for task, _ in TASKS])
def test_a_task_is_done_whatever_happens_meanwhile(root, visit, task, path):
    plant = Plant(root, visit, path)
    try:
        task(plant)
        for page in (plant.one, plant.other):
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    finally:
        plant.stop()


@pytest.fixture(scope="module")
def served_sample(sample_root):
    served = Served(build_app(sample_root))
    yield served
    served.stop()


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light"), (1920, "dark")])
@pytest.mark.parametrize(
    ("path", "wanted"),
    [("/coils", ".coil-rows tbody tr"), ("/trace?value=C-20208", ".main-svg"), ("/intake", "#intake-body tbody tr")],
)
def test_it_fits_every_screen(served_sample, visit, path, wanted, width, scheme):
    page = visit(served_sample, path, width=width, scheme=scheme)
    expect(page.locator(wanted).first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
