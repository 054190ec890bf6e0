"""Makes a customer's report in the formats asked for, and writes its files whole or not at all."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from monitor.report.blocks import Paper
from monitor.report.formats.data import data_files
from monitor.report.formats.html import html
from monitor.report.formats.pdf import LARGEST_LOGO, logo_fault, pdf
from monitor.report.formats.xlsx import xlsx
from monitor.report.register import SentReport, changes, figures_of
from monitor.report.sections.outline import sections
from monitor.report.view import CustomerWeek
from monitor.report.words import PaperWords, words
from monitor.write.whole_files import write_files
from shared.errors import RequestError
from shared.phrases import phrase
from shared.plant import ReportStyle

_SHOWN_OF_HASH = 16
_UNSAFE = re.compile(r"[^\w-]+")
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
_LONGEST_NAME = 60
#: Luminance up to which the contrast to white is 4.5 : 1, as WCAG 2.2 asks of text.
_DARK_ENOUGH = 1.05 / 4.5 - 0.05


class Output(StrEnum):
    """A format of the report."""

    PDF = "pdf"
    XLSX = "xlsx"
    HTML = "html"
    DATA = "data"


@dataclass(frozen=True)
class Branding:
    """How a paper looks: the plant's style, and the logo it names."""

    style: ReportStyle
    logo: bytes = b""

    @property
    def colour(self) -> str:
        """The plant's colour, darkened until what is written in it can be read on white, and white on it."""
        parts = [int(self.style.colour[at : at + 2], 16) for at in (1, 3, 5)]
        shades = ([round(part * share / 100) for part in parts] for share in range(100, -1, -1))
        return "#" + "".join(f"{part:02x}" for part in next(s for s in shades if _luminance(s) <= _DARK_ENOUGH))


def _luminance(parts: Sequence[int]) -> float:
    """Return the relative luminance of a colour, 0 to 1 (WCAG 2.2)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (part / 255 for part in parts)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def make(
    view: CustomerWeek, branding: Branding, outputs: Collection[Output], before: SentReport | None = None
) -> dict[str, bytes]:
    """Return the files of a report by name; the same view, style and earlier report give the same bytes."""
    to = branding.style.to(view.customer)
    language = words(to.language or branding.style.language)
    page = to.page or branding.style.page
    # The end of the week stands for the time of making: a clock would make every copy another one.
    made_at = dt.datetime.combine(view.to_date, dt.time())
    with ThreadPoolExecutor(1) as beside:
        printed: Future[bytes] | None = None
        found: dict[str, bytes] = {}
        if Output.PDF in outputs or Output.HTML in outputs:
            paper = _paper(view, branding, language, page, before)
            if Output.PDF in outputs:
                # The typesetter works outside the interpreter: the other files are made meanwhile.
                printed = beside.submit(pdf, paper, int(made_at.replace(tzinfo=dt.UTC).timestamp()))
            if Output.HTML in outputs:
                found["report.html"] = html(paper).encode()
        if Output.XLSX in outputs:
            found["report.xlsx"] = xlsx(view, language, branding.colour, page, made_at)
        if Output.DATA in outputs:
            found |= {f"data/{name}": content for name, content in data_files(view).items()}
        return found if printed is None else {"report.pdf": printed.result(), **found}


def _paper(view: CustomerWeek, branding: Branding, language: PaperWords, page: str, before: SentReport | None) -> Paper:
    style = branding.style
    since = None if before is None else (before, changes(before, view))
    return Paper(
        language=language.language,
        page=page,
        colour=branding.colour,
        title=language["title"],
        subtitle=language("for", customer=view.customer),
        week=f"{language['week']} {view.week}",
        range=language("range", from_=language.moment(view.from_), to=language.moment(view.to), zone=view.timezone),
        version=language("version", version=view.version, hash=view.figures_hash[:_SHOWN_OF_HASH]),
        sender=view.plant,
        address=style.address,
        page_of=language["page"],
        contents=language["contents"],
        rows=language["rows"],
        logo=branding.logo,
        logo_kind=_kind(style),
        logo_alt=language("logo", name=view.plant),
        blocks=sections(view, language, branding.colour, since),
    )


def branding_of(style: ReportStyle, root: Path) -> Branding:
    """Return the house style with its logo from the folder of the ledger; raises RequestError where there is none."""
    if not style.logo:
        return Branding(style)
    path = root / style.logo
    try:
        logo = path.read_bytes()
    except OSError as error:
        mend = phrase("copy the file into the folder of the ledger, or take the logo out of plant.toml")
        named = phrase("the logo that plant.toml names")
        raise RequestError(str(path), error.strerror or str(error), named, mend) from None
    if fault := logo_fault(logo, _kind(style)):
        expected = phrase(
            "a picture in PNG, JPEG or SVG, as its name says, of at most {most} MB", most=LARGEST_LOGO // 10**6
        )
        raise RequestError(str(path), fault, expected, phrase("save the logo anew, or take it out of plant.toml"))
    return Branding(style, logo)


def _kind(style: ReportStyle) -> str:
    return style.logo.rpartition(".")[2].lower()


def folder_of(customer: str, customers: Collection[str]) -> str:
    """Return a folder name for a customer that no other customer has, on any system."""
    name = _slug(customer)
    alike = [other for other in customers if _slug(other).casefold() == name.casefold()]
    if len(alike) > 1 or _RESERVED.fullmatch(name) or len(name) > _LONGEST_NAME or not name:
        name = f"{name[:_LONGEST_NAME]}-{hashlib.sha256(customer.encode()).hexdigest()[:8]}"
    return name


def _slug(customer: str) -> str:
    return _UNSAFE.sub("-", customer).strip("-")


def write(files: Mapping[str, bytes], folder: Path) -> None:
    """Write files into a folder, all of them or none; raises RequestError where it cannot be written to."""
    write_files(files, folder)


def as_sent(view: CustomerWeek, files: Mapping[str, bytes], sent_at: str, by: str = "") -> SentReport:
    """Return the entry of the register for a report that goes out; `sent_at` is ISO 8601 in plant time."""
    hashes = {name: hashlib.sha256(content).hexdigest() for name, content in sorted(files.items())}
    return SentReport(
        view.customer,
        view.week,
        version=view.version,
        sent_at=sent_at,
        figures_hash=view.figures_hash,
        files=hashes,
        figures=figures_of(view),
        by=by,
    )
