"""A report's files: nothing of another customer, nothing that runs, the same bytes again, and names of any kind."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import re
import struct
import subprocess
import zipfile
import zlib
from html import unescape
from pathlib import Path

import pandas as pd
import pytest

from monitor.enter.actions import write as write_action
from monitor.ledger import Ledger
from monitor.report import Branding, Output, branding_of, folder_of, gather, make, view_of, write
from monitor.report.tables import TABLES
from monitor.report.view import CustomerWeek
from shared.errors import RequestError
from shared.plant import ReportStyle
from tests.programs import need
from tests.report.plant import PLANT, SECRETS, Works, loaded

MONDAY = dt.date(2026, 11, 2)
LONG = "Northern Hinge and Bracket Assembly Works of the Upper Valley, Second Plant, East"
HOSTILE = '=HYPERLINK("http://x","y") <script>alert(1)</script> #import "x" $x$ *b* `c` \\\\ &amp;'
CUSTOMERS = {"Acme": 2, "Acme West": 1, "West": 1, "Acme West & Sons <b>": 1}
WORKS = Works(
    CUSTOMERS,
    MONDAY,
    days=3,
    names={
        "zqaa": LONG,
        "zqab": HOSTILE,
        "zqac": "Bracketwithoutanyspaceinitsnamewhichgoesonandonforeightycharacterstobeexact0123",
    },
)
#: What a customer's paper has no place for.
NEVER = (
    "availability", "effectiveness", "oee", "downtime", "planned_s", "running_s", "stopped_s", "cost", "supplier",
    "operator", "shift",
)  # fmt: skip
#: Who wrote about causes, and where the files lay.
WRITER = "Zqwriter"


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return loaded(WORKS, tmp_path_factory.mktemp("making"))


@pytest.fixture(scope="module")
def views(root: Path) -> dict[str, CustomerWeek]:
    with Ledger.open(root) as ledger:
        for part, customer in WORKS.parts():
            write_action(ledger, customer, "2026-W45", {(part, "BUR"): ("", f"done for {part}")}, WRITER)
        week = gather(ledger.snapshot(), "2026-W45")
        return {customer: view_of(week, customer) for customer in week.customers}


@pytest.fixture(scope="module")
def papers(views: dict[str, CustomerWeek]) -> dict[str, dict[str, bytes]]:
    return {customer: make(view, Branding(ReportStyle()), set(Output)) for customer, view in views.items()}


def searched(files: dict[str, bytes], folder: Path) -> dict[str, str]:
    """Everything a reader could find in some files: text, parts, properties and hidden streams."""
    found: dict[str, str] = {}
    for name, content in files.items():
        if name.endswith(".xlsx"):
            with zipfile.ZipFile(io.BytesIO(content)) as parts:
                found |= {f"{name}!{part}": unescape(parts.read(part).decode()) for part in parts.namelist()}
        elif name.endswith(".pdf"):
            found |= searched_pdf(content, folder)
        elif name.endswith(".parquet"):
            table = pd.read_parquet(io.BytesIO(content))
            found[name] = table.to_csv() + content.decode("latin-1")
        else:
            found[name] = unescape(content.decode())
    return found


def searched_pdf(content: bytes, folder: Path) -> dict[str, str]:
    need("pdftotext", "pdfinfo", "qpdf")
    path = folder / "searched.pdf"
    path.write_bytes(content)
    text = ran("pdftotext", "-layout", str(path), "-").decode()
    plain = ran("qpdf", "--qdf", "--object-streams=disable", "--warning-exit-0", str(path), "-")
    wide = re.sub(rb"<FEFF([0-9A-Fa-f]+)>", lambda hexes: bytes.fromhex(hexes[1].decode()), plain)
    return {
        "report.pdf text": re.sub("[\u200b\u00ad]", "", text),
        "report.pdf properties": ran("pdfinfo", "-meta", str(path)).decode() + ran("pdfinfo", str(path)).decode(),
        "report.pdf streams": plain.decode("latin-1"),
        "report.pdf wide": wide.replace(b"\0", b"").decode("latin-1"),
    }


def ran(*words: str) -> bytes:
    return subprocess.run(words, check=True, capture_output=True).stdout


@pytest.mark.parametrize("customer", CUSTOMERS)
def test_no_file_holds_anything_of_another_customer(
    papers: dict[str, dict[str, bytes]], customer: str, tmp_path: Path
) -> None:
    own = WORKS.tokens(customer)
    others = {part for part, _ in WORKS.parts()} - own
    longer = [name for name in CUSTOMERS if name != customer and name not in customer]
    for name, text in searched(papers[customer], tmp_path).items():
        assert not [part for part in others if part in text], name
        assert not [secret for secret in (*SECRETS, WRITER, str(tmp_path.parent), "/ledger") if secret in text], name
        without = text.replace(customer, "")
        assert not [other for other in longer if other in without], name
        if "qpdf" not in name and "streams" not in name:
            assert not [word for word in NEVER if re.search(rf"\b{word}\b", text, re.IGNORECASE)], name
    assert own <= set(re.findall("zq[a-z]{2}", searched(papers[customer], tmp_path)["report.html"]))


def test_what_was_done_is_told_to_the_customer(papers: dict[str, dict[str, bytes]], tmp_path: Path) -> None:
    places = searched(papers["West"], tmp_path)
    found = {name.partition("!")[0] for name, text in places.items() if "done for zqad" in re.sub(r"\s+", " ", text)}
    assert {"report.html", "report.pdf text", "report.xlsx", "data/actions.csv"} <= found


def test_the_search_finds_what_is_there(papers: dict[str, dict[str, bytes]], tmp_path: Path) -> None:
    places = searched(papers["West"], tmp_path)
    found = {name for name, text in places.items() if "zqad" in text}
    assert {"report.html", "report.pdf text", "data/parts.csv", "data/parts.parquet"} <= found
    assert "report.pdf wide" in found  # the words for screen readers are kept in wide characters
    assert any(name.startswith("report.xlsx!xl/sharedStrings") for name in found)


def test_the_same_version_gives_the_same_bytes(root: Path, papers: dict[str, dict[str, bytes]]) -> None:
    with Ledger.open(root) as ledger:
        again = make(view_of(gather(ledger.snapshot(), "2026-W45"), "Acme"), Branding(ReportStyle()), set(Output))
    assert {name for name in again if again[name] != papers["Acme"][name]} == set()
    assert set(again) == set(papers["Acme"])


def test_nothing_in_the_workbook_runs(papers: dict[str, dict[str, bytes]]) -> None:
    with zipfile.ZipFile(io.BytesIO(papers["Acme"]["report.xlsx"])) as parts:
        sheets = [parts.read(name).decode() for name in parts.namelist() if "worksheets/sheet" in name]
        names = parts.namelist()
    assert not [sheet for sheet in sheets if "<f>" in sheet or "<hyperlink" in sheet]
    assert sum('pane xSplit="1" ySplit="1"' in sheet for sheet in sheets) == len(TABLES)
    assert [name for name in names if name.startswith("xl/charts/chart")]


@pytest.mark.parametrize("part_no", ["=parts!$A$1", "parts!A1"])
def test_no_number_of_a_part_is_a_formula_in_a_chart(views: dict[str, CustomerWeek], part_no: str) -> None:
    tables = {
        name: table.assign(part_no=part_no) if "part_no" in table else table
        for name, table in views["West"].tables.items()
    }
    book = make(dataclasses.replace(views["West"], tables=tables), Branding(ReportStyle()), {Output.XLSX})[
        "report.xlsx"
    ]
    with zipfile.ZipFile(io.BytesIO(book)) as parts:
        charts = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/charts/chart")]
    assert len(charts) == 2
    asked = {formula for chart in charts for formula in re.findall(r"<c:f>([^<]*)", chart)}
    assert asked
    assert all(re.fullmatch(r"(trend|rejects)!\$[A-Z]\$\d+(:\$[A-Z]\$\d+)?", formula) for formula in asked)
    assert any(f"<a:t>{part_no}: ppm" in chart for chart in charts)


def test_a_long_customers_name_has_room_in_the_workbook(views: dict[str, CustomerWeek]) -> None:
    view = dataclasses.replace(views["Acme"], customer=LONG)
    book = io.BytesIO(make(view, Branding(ReportStyle()), {Output.XLSX})["report.xlsx"])
    with zipfile.ZipFile(book) as parts:
        about = parts.read("xl/worksheets/sheet1.xml").decode()
    assert float(re.search(r'<row r="1"[^>]* ht="([\d.]+)"', about)[1]) > 2 * 18  # type: ignore[index]
    header = re.search(r"<oddHeader>&amp;L(.*)&amp;Rabout</oddHeader>", about)[1]  # type: ignore[index]
    assert header.endswith("…")
    assert len(header) <= 64


def test_nothing_in_the_page_runs_or_leaves_it(papers: dict[str, dict[str, bytes]]) -> None:
    page = papers["Acme"]["report.html"].decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert not re.findall(r"""(?:src|href)\s*=\s*["'](?!data:|#s\d)""", page)
    assert "default-src 'none'" in page


def test_a_hostile_name_is_printed_as_it_stands(papers: dict[str, dict[str, bytes]], tmp_path: Path) -> None:
    text = searched(papers["Acme"], tmp_path)["report.pdf text"]
    assert "$x$ *b* `c`" in text.replace("\n", " ")
    assert papers["Acme"]["data/parts.csv"].decode().count("'=HYPERLINK") == 1


def test_the_pdf_is_sound_tagged_and_carries_its_fonts(papers: dict[str, dict[str, bytes]], tmp_path: Path) -> None:
    searched(papers["Acme"], tmp_path)
    path = tmp_path / "searched.pdf"
    assert b"No syntax or stream encoding errors" in ran("qpdf", "--check", str(path))
    assert re.search(rb"Tagged: +yes", ran("pdfinfo", str(path)))
    fonts = ran("pdffonts", str(path)).decode().splitlines()[2:]
    assert fonts
    assert all("DejaVu" in font and re.search(r"yes yes yes", font) for font in fonts)


@pytest.mark.parametrize(("language", "title"), [("en", "Weekly"), ("es", "Informe"), ("de", "Qualitätsbericht")])
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_language_and_paper_can_be_printed(
    views: dict[str, CustomerWeek], language: str, title: str, page: str
) -> None:
    style = ReportStyle.model_validate({"language": language, "page": page, "address": ["Street 1", "Town"]})
    files = make(views["Acme"], Branding(style), {Output.PDF, Output.HTML, Output.XLSX})
    assert title in files["report.html"].decode()
    assert files["report.pdf"].startswith(b"%PDF-")


def test_a_plant_without_a_name_leaves_no_gap_in_the_foot(views: dict[str, CustomerWeek], tmp_path: Path) -> None:
    nameless = dataclasses.replace(views["West"], plant="")
    text = searched(make(nameless, Branding(ReportStyle()), {Output.PDF}), tmp_path)["report.pdf text"]
    assert re.search(r"^ *Ledger version \d+ ", text, re.MULTILINE)


def test_four_hundred_lots_fill_a_table_with_its_heading_on_every_page(tmp_path: Path) -> None:
    root = loaded(Works({"Acme": 1}, MONDAY, days=5, coils_a_day=80), tmp_path)
    with Ledger.open(root) as ledger:
        view = view_of(gather(ledger.snapshot(), "2026-W45"), "Acme")
    lots = view.tables["lots"]["lot"]
    assert lots[lots != ""].nunique() == 400
    text = searched(make(view, Branding(ReportStyle()), {Output.PDF}), tmp_path)["report.pdf text"]
    pages = [page for page in text.split("\f") if len(re.findall(r"L-zqaa-\d-\d+", page)) > 5]
    assert len(pages) > 8
    assert all(re.search(r"Part +(?:Shipped at +Delivery|Lot +Heat)", page) for page in pages)


def test_the_logo_is_taken_from_the_ledgers_folder_and_missed_in_words(
    root: Path, views: dict[str, CustomerWeek]
) -> None:
    style = ReportStyle.model_validate({"logo": "logo.svg"})
    with pytest.raises(RequestError, match="copy the file"):
        branding_of(style, root)
    (root / "logo.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="20"><path d="M0 0h9"/></svg>'
    )
    files = make(views["West"], branding_of(style, root), {Output.PDF, Output.HTML})
    assert "data:image/svg+xml;base64," in files["report.html"].decode()


def png(wide: int, high: int) -> bytes:
    """A picture of one colour."""

    def part(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = (b"\0" + b"\xc8\x1e\x3c" * wide) * high
    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    parts = part(b"IHDR", head) + part(b"IDAT", zlib.compress(rows)) + part(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


@pytest.mark.parametrize(("wide", "high"), [(40, 40), (400, 20)])
def test_a_logo_of_pixels_is_printed_however_wide(
    root: Path, views: dict[str, CustomerWeek], tmp_path: Path, wide: int, high: int
) -> None:
    (root / "logo.png").write_bytes(png(wide, high))
    style = ReportStyle.model_validate({"logo": "logo.png"})
    files = make(views["West"], branding_of(style, root), {Output.PDF, Output.HTML})
    assert "data:image/png;base64," in files["report.html"].decode()
    assert "Logo of Tiny works" in searched({"report.pdf": files["report.pdf"]}, tmp_path)["report.pdf wide"]
    listed = ran("pdfimages", "-list", str(tmp_path / "searched.pdf")).decode().splitlines()[2:]
    ((shown_wide, shown_high, inch),) = [[int(line.split()[at]) for at in (3, 4, 12)] for line in listed]
    assert (shown_wide, shown_high) == (wide, high)
    assert 25.4 * wide / inch < 61
    assert 25.4 * high / inch < 15


@pytest.mark.parametrize(
    "content", [b"", b"hello", png(9, 9)[:-40], b"<svg><broken", b"\xff\xd8\xff\xe0", b"\0" * 1_000_001]
)
@pytest.mark.parametrize("name", ["logo.png", "logo.jpeg", "logo.svg"])
def test_a_logo_that_is_no_picture_is_refused_in_words(root: Path, name: str, content: bytes) -> None:
    (root / name).write_bytes(content)
    with pytest.raises(RequestError, match="expected a picture in PNG, JPEG or SVG") as refused:
        branding_of(ReportStyle.model_validate({"logo": name}), root)
    assert name in str(refused.value)


@pytest.mark.parametrize(
    ("plant", "printed"),
    [("#1d4f63", "#1d4f63"), ("#ffffff", "#757575"), ("#ffee00", "#807700"), ("#000000", "#000000")],
)
def test_a_colour_too_bright_to_be_read_is_darkened_as_far_as_needed(
    views: dict[str, CustomerWeek], plant: str, printed: str
) -> None:
    branding = Branding(ReportStyle.model_validate({"colour": plant}))
    assert branding.colour == printed
    files = make(views["West"], branding, {Output.HTML, Output.XLSX})
    assert f"color:{printed}" in files["report.html"].decode()
    with zipfile.ZipFile(io.BytesIO(files["report.xlsx"])) as parts:
        assert f"FF{printed[1:].upper()}" in parts.read("xl/styles.xml").decode()


@pytest.mark.parametrize("customer", ["../../etc", "con", "", "a" * 200, "A/B", "..", "/", "\\x", "Müller & Söhne"])
def test_a_customers_folder_is_one_plain_name(customer: str) -> None:
    name = folder_of(customer, [customer])
    assert re.fullmatch(r"[\w-]{1,70}", name)
    assert name.lower() != "con"


def test_customers_alike_get_folders_apart() -> None:
    alike = ["A B", "A-B", "a b"]
    assert len({folder_of(customer, alike).casefold() for customer in alike}) == 3


def test_a_file_is_written_whole_and_a_folder_that_cannot_be_is_told(tmp_path: Path) -> None:
    write({"data/a.csv": b"1"}, tmp_path / "out")
    assert [path.name for path in (tmp_path / "out").rglob("*") if path.is_file()] == ["a.csv"]
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(RequestError, match="--out"):
        write({"a": b"1"}, tmp_path / "file")


def test_the_house_style_is_read_from_plant_toml(tmp_path: Path) -> None:
    style = '[report]\nname = "House"\n[[report.customer]]\ncustomer = "Acme"\nlanguage = "de"\npage = "Letter"\n'
    root = loaded(Works({"Acme": 1, "West": 1}, MONDAY, days=1), tmp_path, PLANT + style)
    with Ledger.open(root) as ledger:
        week = gather(ledger.snapshot(), "2026-W45")
    papers = {
        c: make(view_of(week, c), Branding(week.plant.report), {Output.HTML})["report.html"].decode()
        for c in ("Acme", "West")
    }
    assert 'lang="de"' in papers["Acme"]
    assert 'lang="en"' in papers["West"]
    assert "House" in papers["West"]
