"""The week page in a real browser: the quality desk's Monday, from what is due to a report that is marked as sent."""

from __future__ import annotations

import dataclasses
import datetime as dt
import zipfile

import pandas as pd
import pytest
from playwright.sync_api import expect

from dashboards.assembly import assemble
from dashboards.ledger.service import LedgerService
from monitor.ledger import Ledger
from monitor.load.files import load
from monitor.report import Branding, Output, gather, last_sent, make, view_of
from shared.plant import ReportStyle
from tests.browser.conftest import Served
from tests.report.plant import PLANT, Works, loaded, text

STYLE = '[report]\nname = "House"\n[[report.customer]]\ncustomer = "Acme"\nday = "mon"\nlanguage = "de"\n'
WEEK = "2026-W45"


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    works = Works({"Acme": 1, "Acme West <b>": 1}, dt.date(2026, 11, 2), days=2)
    return loaded(works, tmp_path_factory.mktemp("week"), PLANT + STYLE)


@pytest.fixture(scope="module")
def served_week(root):
    served = Served(assemble(LedgerService(root)))
    yield served
    served.stop()


def test_a_monday_of_the_quality_desk(root, served_week, visit, tmp_path):
    page = visit(served_week, "/week")
    expect(page).to_have_url(f"{served_week.url}/week?customer=Acme&week={WEEK}")
    expect(page.locator(".due .standing").first).to_have_text("due, not sent")
    page.locator("textarea").first.fill("Stempel geschliffen")
    page.click("#week-save")
    expect(page.locator(".summary")).to_contain_text("enter your name")
    page.locator("textarea").first.fill("Stempel geschliffen")
    page.fill("#week-by", "Quality")
    page.click("#week-save")
    expect(page.locator(".cause small").first).to_contain_text("written by Quality")
    preview = page.frame_locator("iframe.paper")
    expect(preview.locator("main")).to_contain_text("Stempel geschliffen")
    expect(preview.locator("h1")).to_have_text("Qualitätsbericht der Woche")
    page.click("#week-make")
    with page.expect_download() as coming:
        page.get_by_role("link", name="PDF", exact=True).click()
    assert coming.value.suggested_filename == f"Acme-{WEEK}.pdf"
    coming.value.save_as(tmp_path / "report.pdf")
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF-")
    page.click("#week-sent")
    expect(page.locator(".making [role=alert]")).to_contain_text("enter your name")
    page.fill("#week-who", "Quality")
    page.click("#week-sent")
    expect(page.locator(".making .sent")).to_contain_text("by Quality, from ledger version 2")
    expect(page.locator(".due .standing").first).to_have_text("sent")
    expect(page.locator(".week")).to_contain_text("No figure has changed since then.")
    sent = last_sent(root, "Acme", WEEK)
    assert sent is not None
    assert {name.rpartition("/")[2] for name in sent.files} >= {"report.pdf", "report.xlsx", "report.html", "SCHEMA.md"}
    _correct(root, tmp_path)
    page.reload()
    expect(page.locator(".week")).to_contain_text("figures have changed since then.")
    expect(page.locator(".week .panel:not(.due) .table-box").first).to_contain_text("zqaa, Shipped")
    expect(preview.locator("main")).to_contain_text("Änderungen seit dem Bericht vom")


def _correct(root, folder):
    row = {"container_id": "B-zqaa-0-1", "opened_at": "2026-11-02T07:00:00", "closed_at": "2026-11-02T07:59:59",
           "quantity": 3000, "press_id": "P-zqaa", "part_no": "zqaa"}  # fmt: skip
    (folder / "containers-new.csv").write_text(text([row]), "utf-8")
    with Ledger.open(root) as ledger:
        load([folder / "containers-new.csv"], ledger, correct=True)


def test_the_reports_of_all_customers_come_as_one_file(served_week, visit, tmp_path):
    page = visit(served_week, f"/week?week={WEEK}")
    page.click("#week-all")
    with page.expect_download() as coming:
        page.get_by_role("link", name="All files (ZIP)").click()
    coming.value.save_as(tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        names = archive.namelist()
    assert {name.partition("/")[0] for name in names} == {"Acme", "Acme-West-b"}
    assert f"Acme/{WEEK}/data/parts.parquet" in names


def test_the_preview_runs_nothing_and_its_contents_lead_to_its_sections(served_week, visit):
    page = visit(served_week, f"/week?customer=Acme+West+%3Cb%3E&week={WEEK}")
    expect(page.locator(".head h1")).to_have_text("Acme West <b>")
    preview = page.frame_locator("iframe.paper")
    preview.locator("nav a").last.click()
    expect(preview.locator(":target")).to_be_in_viewport()
    assert page.locator("iframe.paper").get_attribute("sandbox") == ""


@pytest.mark.parametrize(
    ("search", "told"),
    [
        ("?week=2026-W44", "Nothing was made, shipped or complained about"),
        ("?week=2026-W99", "There is no week 2026-W99"),
        ("?customer=Acm", "There is no customer Acm"),
    ],
)
def test_what_cannot_be_shown_is_said(served_week, visit, search, told):
    page = visit(served_week, f"/week{search}")
    expect(page.locator(".week")).to_contain_text(told)


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark"), (1920, "light")])
def test_the_page_fits_every_screen(served_week, visit, width, scheme):
    page = visit(served_week, f"/week?customer=Acme&week={WEEK}", width=width, scheme=scheme)
    expect(page.locator("iframe.paper")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_file_that_no_job_made_is_not_there(served_week, visit):
    page = visit(served_week, "/week")
    for path in ("/papers/none/all.zip", "/papers/none/..%2F..%2Fetc%2Fpasswd"):
        assert page.request.get(served_week.url + path).status == 404


def test_no_name_is_cut_into_letters_on_a_phone(root, chromium, tmp_path):
    with Ledger.open(root) as ledger:
        files = make(view_of(gather(ledger.snapshot(), WEEK), "Acme"), Branding(ReportStyle()), {Output.HTML})
    (tmp_path / "report.html").write_bytes(files["report.html"])
    page = chromium.new_context(offline=True, viewport={"width": 390, "height": 900}).new_page()
    page.goto((tmp_path / "report.html").as_uri())
    part = page.locator("td", has_text="zqaa bracket zqaa").first
    assert part.bounding_box()["height"] < 80  # Three lines.
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.context.close()


def test_the_page_of_a_report_works_from_a_folder_without_a_network(root, chromium, tmp_path):
    with Ledger.open(root) as ledger:
        view = view_of(gather(ledger.snapshot(), WEEK), "Acme")
    files = make(
        dataclasses.replace(view, tables={**view.tables, "lots": _many(view.tables["lots"])}),
        Branding(ReportStyle()),
        {Output.HTML},
    )
    (tmp_path / "report.html").write_bytes(files["report.html"])
    asked = []
    context = chromium.new_context(offline=True, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: asked.append(message.text))
    page.goto((tmp_path / "report.html").as_uri())
    page.get_by_role("link", name="Open containment").click()
    expect(page.get_by_role("heading", name="Open containment")).to_be_in_viewport()
    folded = page.locator("details").first
    expect(folded.locator("table")).not_to_be_visible()
    folded.locator("summary").click()
    expect(folded.locator("table")).to_be_visible()
    assert page.locator("svg title").first.text_content().startswith("W")
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    context.close()
    assert asked == [(tmp_path / "report.html").as_uri()]


def _many(table):
    return pd.concat([table] * 20, ignore_index=True)
