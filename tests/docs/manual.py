"""The pages of the manual as text: which there are, their links, sections, tables and sentences."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md")))

_FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
_MEASURED = re.compile(r"<!-- \w+: begin -->.*?<!-- \w+: end -->", re.DOTALL)
_LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")


def read(page: Path) -> str:
    return page.read_text("utf-8")


def without_code(text: str) -> str:
    return _FENCE.sub("", text)


def links(text: str) -> list[str]:
    return _LINK.findall(without_code(text))


def anchors(text: str) -> set[str]:
    """Names under which a page's headings can be linked, as GitHub makes them."""
    titles = re.findall(r"^#+ (.+)$", without_code(text), re.MULTILINE)
    plain = (re.sub(r"[^\w\- ]", "", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", title)) for title in titles)
    return {title.strip().lower().replace(" ", "-") for title in plain}


def code(text: str, language: str) -> list[str]:
    """The code blocks of one language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def sections(text: str) -> Iterator[tuple[str, str]]:
    """Title and text of each section of the second rank."""
    for part in re.split(r"^## ", text, flags=re.MULTILINE)[1:]:
        title, _, rest = part.partition("\n")
        yield title, rest


def tables(text: str) -> Iterator[list[list[str]]]:
    """The cells of each table, the row of its headings first."""
    for block in re.findall(r"(?:^\|.*\|\n)+", text, re.MULTILINE):
        rows = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in block.splitlines()]
        yield [[cell.strip("| ") for cell in row] for row in (rows[0], *rows[2:])]


def sentences(text: str) -> Iterator[str]:
    """Sentences of a page, without code, tables, headings and what a benchmark wrote; code in a line is one word."""
    prose = re.sub(r"^(\||#|<!--).*$", "", _MEASURED.sub("", without_code(text)), flags=re.MULTILINE)
    prose = re.sub(r"`[^`]*`", "x", re.sub(r"!?\[([^\]]*)\]\([^)]*\)", r"\1", prose))
    for paragraph in re.split(r"\n\s*\n|^\s*(?:[-*]|\d+\.) ", prose, flags=re.MULTILINE):
        words = " ".join(word for word in paragraph.split() if re.search(r"[\w.!?]", word))
        yield from (one for one in re.split(r"(?<=[.!?])[*_)\"']*\s+", words) if one)
