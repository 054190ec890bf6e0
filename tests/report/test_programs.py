"""What other programs make of a report's files: LibreOffice of the workbook, qpdf and poppler of the PDF."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from monitor.enter.actions import write
from monitor.ledger import Ledger
from monitor.report import Branding, CustomerWeek, Output, gather, make, view_of
from monitor.report.tables import TABLES, CellKind
from monitor.report.words import PHRASES, words
from shared.plant import ReportStyle
from tests.programs import need
from tests.report.plant import PLANT, Works, loaded

MONDAY = dt.date(2026, 11, 2)
LONG = "Bracketwithoutanyspaceinitsnamewhichgoesonandonforeightycharacterstobeexact0123"
LANGUAGES = {
    "A English": ("en", "A4"),
    f"A {2 * LONG[:39]}": ("en", "Letter"),
    "B Deutsch": ("de", "Letter"),
    "C Español": ("es", "A4"),
}
#: Every value as it is, every sheet, in UTF-8.
_TO_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,true,false,false,false,false,-1"


@pytest.fixture(scope="module")
def views(tmp_path_factory: pytest.TempPathFactory) -> dict[str, CustomerWeek]:
    works = Works(dict.fromkeys(LANGUAGES, 2), MONDAY, days=2, names={"zqaa": LONG, "zqab": "=1+1"})
    root = loaded(works, tmp_path_factory.mktemp("programs"), PLANT)
    with Ledger.open(root) as ledger:
        write(ledger, "A English", "2026-W45", {("zqaa", "BUR"): ("", "=cmd|' /C calc'!A0\npunch sharpened")}, "Q")
        week = gather(ledger.snapshot(), "2026-W45")
        return {customer: view_of(week, customer) for customer in week.customers}


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> CustomerWeek:
    """The week after the last delivery, while a hold still stands."""
    with Ledger.open(loaded(Works({2 * LONG[:39]: 1}, MONDAY, days=2), tmp_path_factory.mktemp("empty"))) as ledger:
        return view_of(gather(ledger.snapshot(), "2026-W46"), 2 * LONG[:39])


@pytest.fixture(scope="module", params=LANGUAGES)
def pdf(
    request: pytest.FixtureRequest, views: dict[str, CustomerWeek], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    language, page = LANGUAGES[request.param]
    style = ReportStyle.model_validate(
        {"name": "House", "language": language, "page": page, "address": ["1 Mill Lane"]}
    )
    path = tmp_path_factory.mktemp("pdf") / f"{language}-{page}.pdf"
    path.write_bytes(make(views[request.param], Branding(style), {Output.PDF})["report.pdf"])
    return path


def ran(*words: object) -> str:
    need(str(words[0]))
    return subprocess.run([str(word) for word in words], check=True, capture_output=True, text=True).stdout


@pytest.mark.slow
def test_the_workbook_opened_and_recomputed_holds_what_was_written(
    views: dict[str, CustomerWeek], tmp_path: Path
) -> None:
    view = views["A English"]
    path = tmp_path / "report.xlsx"
    path.write_bytes(make(view, Branding(ReportStyle()), {Output.XLSX})["report.xlsx"])
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    ran("soffice", profile, "--headless", "--convert-to", _TO_CSV, "--outdir", tmp_path, path)
    for name, table in view.tables.items():
        text = (tmp_path / f"report-{name}.csv").read_text("utf-8")
        head, *rows = csv.reader(io.StringIO(text)) if len(table) else (list(table.columns),)
        assert head == list(table.columns)
        assert len(rows) == len(table), name
        for seen, written in zip(rows, table.itertuples(index=False), strict=True):
            assert [*map(_plain, seen)] == [*map(_told, written, TABLES[name].columns.values())], name


def _plain(cell: str) -> object:
    try:
        number = float(cell.removesuffix("%")) / (100 if cell.endswith("%") else 1)
        return pytest.approx(number, rel=1e-12)
    except ValueError:
        return cell


def _told(value: Any, kind: CellKind) -> object:
    if isinstance(value, tuple):
        return ";".join(value)
    if pd.isna(value) or value == "":
        return ""
    if kind is CellKind.TIME:
        return dt.datetime.fromisoformat(value).strftime("%Y-%m-%d %H:%M:%S")
    if kind is CellKind.FLAG:
        return str(bool(value)).upper()
    return value


def test_every_font_is_embedded(pdf: Path) -> None:
    lines = ran("pdffonts", pdf).splitlines()[2:]
    assert len(lines) >= 2
    assert [line for line in lines if not re.search(r" yes (?:yes|no ) (?:yes|no ) +\d+", line)] == []


def test_the_pages_are_sound_and_of_the_paper_asked_for(pdf: Path) -> None:
    assert "No syntax or stream encoding errors" in ran("qpdf", "--check", pdf)
    size = {"A4": "595.276 x 841.89", "Letter": "612 x 792"}[pdf.stem.partition("-")[2]]
    assert size in ran("pdfinfo", pdf)


def test_no_page_is_all_but_empty(pdf: Path) -> None:
    *pages, last = ran("pdftotext", "-layout", pdf, "-").rstrip("\f").split("\f")
    assert [number for number, page in enumerate(pages, 1) if len(page.split()) < 60] == []
    assert len(last.split()) > 25


def test_no_word_leaves_its_page(pdf: Path) -> None:
    box = ran("pdftotext", "-bbox", pdf, "-")
    width, height = map(float, re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', box)[0])
    words = re.findall(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">', box)
    margin = 18 / 25.4 * 72 - 1
    outside = [word for word in words if float(word[0]) < margin or float(word[2]) > width - margin]
    assert len(words) > 500
    assert outside == []
    assert all(float(word[1]) > 0 and float(word[3]) < height for word in words)


def test_no_heading_of_a_column_runs_into_the_next(pdf: Path) -> None:
    spoken = words(pdf.stem[:2])
    heads = {word for key in PHRASES for word in spoken[key].split() if "{" not in word}
    box = r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="[\d.-]+">([^<]+)<'
    read = [
        (float(x), float(y), float(end), word)
        for x, y, end, word in re.findall(box, ran("pdftotext", "-bbox", pdf, "-"))
    ]
    pairs = [(a, b) for a, b in pairwise(read) if a[1] == b[1] and b[0] > a[0] and {a[3], b[3]} <= heads]
    assert len(pairs) > 100
    # A space between words of the smallest text is wider.
    assert [(a[3], b[3]) for a, b in pairs if b[0] - a[2] < 2] == []


def test_numbers_stay_whole_and_the_counts_of_a_part_stay_with_its_trend(tmp_path: Path) -> None:
    with Ledger.open(loaded(Works({"Acme": 12}, MONDAY, days=2), tmp_path)) as ledger:
        view = view_of(gather(ledger.snapshot(), "2026-W45"), "Acme")
    (tmp_path / "parts.pdf").write_bytes(make(view, Branding(ReportStyle()), {Output.PDF})["report.pdf"])
    told = ran("pdftotext", "-layout", tmp_path / "parts.pdf", "-")
    assert re.search(r"Q-zqaa, Q-zqab.*\n +Q-", told)  # The holds go over two lines.
    assert not re.search(r"\b[QPD]-\s*\n", told)
    pages = [(page.count("Set-up"), page.count(words("en")["trend"])) for page in told.split("\f")]
    assert sum(counts for counts, _ in pages) == 12
    assert [counts for counts, _ in pages] == [trends for _, trends in pages]


def test_axes_name_their_days_as_the_reader_does(pdf: Path) -> None:
    day = {"en": "2 Nov", "es": "2 nov", "de": "2. Nov."}[pdf.stem[:2]]
    assert f"{day} 06h" in ran("pdftotext", "-layout", pdf, "-")


@pytest.mark.parametrize(("language", "page"), [("en", "A4"), ("de", "Letter"), ("es", "Letter")])
def test_the_report_of_an_empty_week_is_one_page(empty: CustomerWeek, language: str, page: str, tmp_path: Path) -> None:
    style = ReportStyle.model_validate({"language": language, "page": page, "address": ["1 Mill Lane"]})
    (tmp_path / "empty.pdf").write_bytes(make(empty, Branding(style), {Output.PDF})["report.pdf"])
    assert re.search(r"Pages: +1\n", ran("pdfinfo", tmp_path / "empty.pdf"))
    assert "Bissell" not in ran("pdftotext", tmp_path / "empty.pdf", "-")


class Tree:
    """The objects of a PDF as qpdf tells them, and its structure."""

    def __init__(self, pdf: Path) -> None:
        told = json.loads(ran("qpdf", "--json", "--json-key=qpdf", pdf))
        self.objects = {name: body.get("value") for name, body in told["qpdf"][1].items()}
        self.root = self.of(self.objects["trailer"]["/Root"])

    def of(self, value: Any) -> Any:
        while isinstance(value, str) and value.endswith(" R"):
            value = self.objects[f"obj:{value}"]
        return value

    def walk(self, node: Any) -> Iterator[dict[str, Any]]:
        node = self.of(node)
        if isinstance(node, list):
            for child in node:
                yield from self.walk(child)
        elif isinstance(node, dict):
            if "/S" in node:
                yield node
            yield from self.walk(node.get("/K", []))


def test_who_hears_a_report_hears_its_order_its_tables_and_its_charts(pdf: Path) -> None:
    tree = Tree(pdf)
    assert tree.root["/Lang"] == f"u:{pdf.stem[:2]}"
    assert tree.of(tree.root["/MarkInfo"])["/Marked"] is True
    assert tree.of(tree.root["/ViewerPreferences"])["/DisplayDocTitle"] is True
    nodes = list(tree.walk(tree.of(tree.root["/StructTreeRoot"])["/K"]))
    kinds = [node["/S"] for node in nodes]
    headings = [kind for kind in kinds if re.fullmatch(r"/H\d", kind)]
    assert headings[0] == "/H1"
    assert all(int(after[2]) <= int(before[2]) + 1 for before, after in pairwise(headings))
    figures = [node for node in nodes if node["/S"] == "/Figure"]
    assert len(figures) >= 4
    assert all(len(tree.of(figure["/Alt"])) > 20 for figure in figures)
    tables = [node for node in nodes if node["/S"] == "/Table"]
    assert len(tables) >= 5
    for table in tables:
        assert "/TH" in {node["/S"] for node in tree.walk(table["/K"])}
    metadata = ran("pdfinfo", "-meta", pdf)
    assert re.search(r"pdfuaid:part[>=\"]+1", metadata)
    assert "Tiny works" in metadata
