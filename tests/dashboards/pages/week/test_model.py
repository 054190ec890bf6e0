"""The week page's model over a real ledger: it agrees with the report and the other pages, and says what is lacking."""

from __future__ import annotations

import datetime as dt
import time

import pytest

from dashboards.assembly import assemble
from dashboards.ledger.quality_desk import MOST_JOBS, Job
from dashboards.ledger.service import LedgerService
from dashboards.pages.die.model import load_die
from dashboards.pages.week.model import load_week
from dashboards.pages.week.page import fetch
from dashboards.pages.week.view import job_html, week_html
from dashboards.request.formats import count
from dashboards.request.url import View
from monitor.figures import figure
from monitor.ledger import Ledger
from monitor.report import ReportStatus, last_sent
from shared.errors import RequestError
from tests.report.plant import PLANT, Works, loaded

WEEK = "2026-W45"
MONDAY = dt.date(2026, 11, 2)
ACME = View(customer="Acme", week=WEEK)
STYLE = '[report]\n[[report.customer]]\ncustomer = "Acme"\nday = "tue"\n'


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    works = Works({"Acme": 2, "West": 1}, MONDAY, days=2)
    return LedgerService(loaded(works, tmp_path_factory.mktemp("desk"), PLANT + STYLE))


@pytest.fixture(scope="module")
def root(service):
    return service.desk._ledger.root


def made(service, customers):
    number = service.desk.start(WEEK, customers)
    for _ in range(600):
        if service.desk.job(number).finished:
            return number
        time.sleep(0.1)
    raise AssertionError("the job does not end")


def test_the_page_the_figures_and_the_die_page_say_the_same(service, root):
    part = load_week(service.desk, ACME).report.view.tables["parts"].iloc[0]
    pieces = load_die(service.read(), View(die="D-zqaa", since=MONDAY, until=dt.date(2026, 11, 8))).totals[0]
    assert pieces.value == count(part["made"])
    assert pieces.below[0].startswith(count(part["good"]))
    with Ledger.open(root) as ledger:
        weekly = figure(ledger, "customer_week", from_="2026-11-02", to="2026-11-09").query("customer == 'Acme'")
    total = load_week(service.desk, ACME).report.view.total
    assert {name: total[name] for name in ("made", "good", "shipped", "complaint_pieces", "disputed")} == {
        name: weekly[name].sum() for name in ("made", "good", "shipped", "complaint_pieces", "disputed")
    }
    shown = str(week_html(load_week(service.desk, ACME)))
    assert repr(count(total["made"]))[1:-1] in shown
    assert repr(count(total["shipped"]))[1:-1] in shown


def test_the_first_customer_and_the_newest_week_are_shown_where_the_address_names_none(service):
    shown = load_week(service.desk, View())
    assert (shown.customer, shown.week.name, shown.week.first, shown.week.last) == (
        "Acme", WEEK, MONDAY, dt.date(2026, 11, 8)
    )  # fmt: skip


@pytest.mark.parametrize(
    ("view", "told"),
    [
        (View(customer="Acm"), "There is no customer Acm. Customers are: Acme, West."),
        (View(week="2025-W53"), "There is no week 2025-W53."),
        (View(week="<b>"), "There is no week <b>."),
    ],
)
def test_what_nobody_knows_is_said(service, view, told):
    shown = load_week(service.desk, view)
    assert shown.lack.startswith(told)
    assert shown.report is None


def test_an_empty_week_and_a_part_without_inspections_are_said(tmp_path, service):
    assert load_week(service.desk, View(customer="Acme", week="2026-W44")).empty
    ahead = str(week_html(load_week(service.desk, View(customer="Acme", week="2026-W46"))))
    assert "nothing is known of it yet" in ahead
    assert "Nothing was made" not in ahead
    quiet = LedgerService(loaded(Works({"Acme": 1}, MONDAY, days=1, quiet=True), tmp_path))
    shown = load_week(quiet.desk, ACME)
    assert (shown.empty, shown.silent) == (False, ["zqaa"])
    assert "Not inspected in this week: zqaa" in str(week_html(shown))


def test_causes_come_by_part_and_by_their_rejects(service):
    causes = load_week(service.desk, ACME).causes
    assert [(cause.part_no, cause.cause) for cause in causes] == [
        ("zqaa", "BUR"), ("zqaa", "CRK"), ("zqab", "BUR"), ("zqab", "CRK"),
    ]  # fmt: skip
    assert causes[0].rejected > causes[1].rejected > 0
    service.desk.write("Acme", WEEK, {("zqaa", "BUR"): ("", "punch sharpened")}, "Quality")
    assert [(cause.done, cause.by) for cause in load_week(service.desk, ACME).causes[:2]] == [
        ("punch sharpened", "Quality"), ("", ""),
    ]  # fmt: skip


def test_what_is_due_follows_plant_toml_and_the_register(service):
    assert {row.customer: (row.on, row.standing) for row in service.desk.due(WEEK)} == {
        "Acme": (dt.date(2026, 11, 10), ReportStatus.DUE),
        "West": (None, ReportStatus.UNPLANNED),
    }


def test_a_job_makes_the_files_and_is_marked_as_sent_with_their_hashes(service, root):
    number = made(service, ["West"])
    job = service.desk.job(number)
    assert (job.done, job.failed) == (1, None)
    assert fetch(service.desk, number, f"West/{WEEK}/report.pdf").data.startswith(b"%PDF-")
    assert fetch(service.desk, number, f"West/{WEEK}/../../x").status_code == 404
    with pytest.raises(RequestError, match="name"):
        service.desk.mark_sent(number, " ")
    assert last_sent(root, "West", WEEK) is None
    (entry,) = service.desk.mark_sent(number, "Quality")
    assert last_sent(root, "West", WEEK) == entry
    assert entry.by == "Quality"
    assert set(entry.files) == {name.removeprefix(f"West/{WEEK}/") for name in job.files}


def test_a_job_that_fails_says_why_and_is_not_sent(service, root):
    number = made(service, ["West"])
    job = Job(
        WEEK, ("West",), 1, finished=True, failed=RequestError("logo", "the logo is missing", "a logo", "copy it")
    )
    service.desk._jobs[number] = job
    assert "the logo is missing" in str(job_html(number, job))
    with pytest.raises(RequestError, match="make them first"):
        service.desk.mark_sent(number, "Quality")


def test_only_the_last_jobs_are_kept(service):
    numbers = [made(service, ["West"]) for _ in range(MOST_JOBS + 1)]
    assert service.desk.job(numbers[0]) is None
    assert "Make them again" in str(job_html(numbers[0], None))


def test_a_logo_that_is_no_picture_is_said_in_place_of_the_preview(tmp_path):
    root = loaded(Works({"Acme": 1}, MONDAY, days=1), tmp_path, PLANT + '[report]\nlogo = "logo.png"\n')
    (root / "logo.png").write_bytes(b"no picture")
    answer = assemble(LedgerService(root)).server.test_client().get(f"/preview?customer=Acme&week={WEEK}&lang=en")
    assert answer.status_code == 200
    assert "a picture in PNG, JPEG or SVG" in answer.get_data(as_text=True)
