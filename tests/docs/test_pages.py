"""Pages of the manual: their links lead somewhere, the first is short, and sentences can be read at walking speed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shared.tables import TABLES
from tests.docs.manual import PAGES, ROOT, anchors, links, read, sections, sentences, tables

MOST_WORDS = 20

LENGTHS = {"README.md": 900, "DEVELOPERS.md": 1900}


def name_of(page: Path) -> str:
    return str(page.relative_to(ROOT))


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_links_lead_somewhere(page: Path) -> None:
    for link in links(read(page)):
        target, _, anchor = link.partition("#")
        if re.match(r"[a-z]+:", target):
            continue
        path = (page.parent / target).resolve() if target else page
        assert path.exists(), link
        assert path.is_relative_to(ROOT), link
        assert not anchor or anchor in anchors(read(path)), link


@pytest.mark.parametrize(("name", "most"), LENGTHS.items())
def test_what_is_read_first_is_short(name: str, most: int) -> None:
    assert len(read(ROOT / name).split()) <= most


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_page_can_be_reached_from_the_readme(page: Path) -> None:
    seen, waiting = set[Path](), [ROOT / "README.md"]
    while waiting:
        at = waiting.pop()
        if at not in seen:
            seen.add(at)
            targets = ((at.parent / link.partition("#")[0]).resolve() for link in links(read(at)))
            waiting += [target for target in targets if target in PAGES]
    assert page in seen


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_sentences_are_short(page: Path) -> None:
    assert [one for one in sentences(read(page)) if len(one.split()) > MOST_WORDS] == []


def test_whatever_a_figure_needs_is_a_table() -> None:
    (_, *needs), *_ = tables(dict(sections(read(ROOT / "README.md")))["What it reads"])
    assert {name for _, named in needs for name in re.findall(r"`(\w+)`", named)} <= set(TABLES)


def test_every_picture_is_shown() -> None:
    shown = {link for page in PAGES for link in links(read(page))}
    pictures = {path.name for path in (ROOT / "docs").glob("*.png")}
    assert pictures == {link.removeprefix("docs/") for link in shown if link.endswith(".png")}
