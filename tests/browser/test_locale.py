"""Language, units, range and files as people use them: on one page, and by two at once."""

import csv
import io
import re

import pandas as pd
import pytest
from playwright.sync_api import expect

DIE = "/die?die=D102"


def drawn(page):
    expect(page.locator("#die-hours .main-svg").first).to_be_visible()


def test_a_language_is_switched_and_stays(served, visit):
    page = visit(served, DIE)
    drawn(page)
    page.get_by_role("button", name="DE Deutsch").click()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    expect(page.get_by_role("heading", name="Teile je Stunde")).to_be_visible()
    drawn(page)
    expect(page.locator("#die-hours")).to_contain_text("Teile je Stunde")
    assert "die=D102" in page.url
    page.get_by_role("link", name="Tafel").click()
    expect(page.locator(".press").first).to_contain_text("Ausschuss")
    page.reload()
    expect(page.locator("html")).to_have_attribute("lang", "de")


def test_a_link_may_name_language_and_units(served, visit):
    page = visit(served, f"{DIE}&lang=es&units=inch")
    drawn(page)
    expect(page.get_by_role("heading", name="A dónde fue el fleje")).to_be_visible()
    expect(page.locator("#die-strip")).to_contain_text(" lb")
    page.get_by_role("button", name="m, kg").click()
    expect(page.locator("#die-strip")).to_contain_text(" kg")


def test_two_people_at_once_keep_their_own_locale(served, visit):
    pages = {lang: visit(served, f"/?lang={lang}") for lang in ("en", "es", "de")}
    words = {"en": "Scrap", "es": "Rechazo", "de": "Ausschuss"}
    for _ in range(2):
        for lang, page in pages.items():
            expect(page.locator(".press").first).to_contain_text(words[lang])
            page.goto(served.url)


def test_a_range_is_picked_and_is_in_the_address(served, visit):
    page = visit(served, DIE)
    drawn(page)
    page.get_by_role("link", name="Day", exact=True).click()
    expect(page.locator(".ranges .here")).to_have_text("Day")
    page.get_by_role("link", name="← earlier").click()
    page.wait_for_url(re.compile("since=2026-11-01&until=2026-11-01"))
    page.get_by_role("link", name="Shift", exact=True).click()
    page.wait_for_url(re.compile("shift="))
    expect(page.locator(".whole tbody tr")).to_have_count(1)
    page.go_back()
    expect(page.locator(".ranges .here")).to_have_text("Day")


def test_figures_and_charts_are_taken_away(served, visit):
    page = visit(served, DIE)
    drawn(page)
    panel = page.locator("section", has=page.locator("#die-hours"))
    with page.expect_download() as got:
        panel.get_by_role("link", name="CSV").click()
    rows = list(csv.DictReader(io.StringIO(got.value.path().read_text("utf-8-sig"))))
    assert rows
    assert {row["die_id"] for row in rows} == {"D102"}
    with page.expect_download() as got:
        panel.get_by_role("link", name="Parquet").click()
    assert len(pd.read_parquet(got.value.path())) == len(rows)
    with page.expect_download() as got:
        panel.get_by_role("button", name="Chart as PNG").click()
    assert got.value.path().read_bytes().startswith(b"\x89PNG")
    assert got.value.suggested_filename.endswith(".png")


def test_a_table_is_folded_away_beside_its_chart(served, visit):
    page = visit(served, DIE)
    drawn(page)
    panel = page.locator("section", has=page.locator("#die-stops"))
    expect(panel.locator("table")).to_be_visible()
    panel.get_by_text("Table", exact=True).click()
    expect(panel.locator("table")).to_be_hidden()


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("path", ["/", DIE])
def test_a_page_prints_what_it_shows(served, visit, path, size):
    page = visit(served, path)
    expect(page.locator("main :is(.press, .panel)").first).to_be_visible()
    page.emulate_media(media="print")
    for hidden in (".stations", ".switch >> nth=0"):
        expect(page.locator(hidden)).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert page.pdf(format=size).startswith(b"%PDF")
