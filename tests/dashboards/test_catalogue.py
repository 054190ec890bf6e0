"""Every word on a screen stands in the catalogue in every language, and nothing else does."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboards.pages import PAGES
from dashboards.parts.ribbon import OWN_REASONS
from monitor.reckoning.press.stops import BREAK, CLOSED, NO_REASON, NO_SHIFT
from shared.words import LANGUAGES, topics

ROOT = Path(__file__).parents[2]
PRODUCT = ("dashboards", "monitor", "shared")
SCREENS = ("dashboards", "monitor/charts", "monitor/report", "monitor/enter/tags.py")
#: Functions that say a text, and which argument it is.
MARKS = {"say": 0, "say_n": 1, "key": 0, "phrase": 0, "Template": 1}
#: Errors whose parts a screen may show.
ERRORS = {"RequestError", "Overtaken", "RefusedFile", "LedgerBusy", "DamagedPart", "PlantError"}
#: What only commands and programs say, and what whoever writes a column profile is told.
ENGLISH = (
    "monitor/cli",
    "monitor/export.py",
    "monitor/figures/__init__.py",
    "monitor/figures/genealogy/search.py",
    "monitor/intake/drafts/",
    "monitor/intake/profiles/",
    "monitor/reader.py",
    "shared/units.py",
)

OTHERS = [language for language in LANGUAGES if language != "en"]


def texts(path: Path) -> Iterator[tuple[str, str]]:
    """English texts that a module says, with where they stand; of what counts something the text for one."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            for said in _choices(node.args[MARKS[name]]) if name in MARKS and len(node.args) > MARKS[name] else ():
                yield said, f"{path.relative_to(ROOT)}:{node.lineno}"


def _choices(text: ast.expr) -> list[str]:
    if isinstance(text, ast.IfExp):
        return [*_choices(text.body), *_choices(text.orelse)]
    return [text.value] if isinstance(text, ast.Constant) and text.value else []


def marks(path: Path) -> bool:
    """Whether what a module says may stand on a screen: it is one, or it makes phrases."""
    name = path.relative_to(ROOT).as_posix()
    return name.startswith(SCREENS) or "from shared.phrases import" in path.read_text("utf-8")


@pytest.fixture(scope="module")
def used():
    modules = [path for folder in PRODUCT for path in sorted((ROOT / folder).rglob("*.py")) if marks(path)]
    return {text: where for path in modules for text, where in texts(path)}


@pytest.fixture(scope="module")
def written():
    """Every string that stands in the source; a table of constants need not mark each of its own."""
    trees = (ast.parse(path.read_text("utf-8")) for folder in PRODUCT for path in (ROOT / folder).rglob("*.py"))
    nodes = (node for tree in trees for node in ast.walk(tree))
    return {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated(used, language):
    known = {text for entries in topics(language).values() for text in entries}
    assert {text: where for text, where in used.items() if text not in known} == {}


@pytest.mark.parametrize("language", OTHERS)
def test_no_entry_is_dead(written, language):
    dead = {text: topic for topic, entries in topics(language).items() for text in entries if text not in written}
    assert dead == {}


def test_the_names_of_pages_are_marked(used):
    assert {page.name for page in PAGES} <= set(used)


def test_reasons_that_the_reckoning_gives_are_marked():
    assert set(OWN_REASONS) == {NO_REASON, BREAK, CLOSED, NO_SHIFT}


def test_what_errors_say_is_phrases():
    """A screen may show an error of any module but those that only commands reach, in the viewer's language."""
    bare = {}
    for path in (path for folder in PRODUCT for path in sorted((ROOT / folder).rglob("*.py"))):
        name = path.relative_to(ROOT).as_posix()
        if not name.startswith(ENGLISH):
            bare |= {f"{name}:{line}": text for line, text in _bare_parts(path)}
    assert bare == {}


def _bare_parts(path: Path) -> Iterator[tuple[int, str]]:
    """Parts of errors that are written out in a module without being phrases; options of commands are no words."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ERRORS:
            for part in node.args[:4]:
                pieces = part.values if isinstance(part, ast.JoinedStr) else [part]
                said = "".join(piece.value for piece in pieces if isinstance(piece, ast.Constant))
                if any(map(str.isalpha, said)) and not said.startswith("--"):
                    yield node.lineno, ast.unparse(part)
