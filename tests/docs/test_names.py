"""Names that the manual mentions are in the source: files, modules, what is in them, and the layers in their order."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.docs.manual import PAGES, ROOT, code, read

FOLDERS = ("monitor", "dashboards", "shared", "sample_runs", "tests")
SOURCES = sorted(path for folder in FOLDERS for path in (ROOT / folder).rglob("*.py"))

#: What begins a dotted name of other packages, and what ends the name of a file.
ELSEWHERE = {"pandas", "datetime", "scipy", "importlinter", "tool"}
FILES = {"toml", "md", "csv", "parquet", "po", "py", "log", "lock", "jsonl", "in", "png", "txt", "pdf", "css", "js"}

PATH = re.compile(rf"(?<![\w/])((?:{'|'.join(FOLDERS)})(?:/[\w.-]+)+/?)(?![\w/]*[<{{*])")
QUOTED = re.compile(r"`([^`\n]+)`")
DOTTED = re.compile(r"[A-Za-z_]\w*(?:\.[A-Za-z_]\w*)+")
NAME = re.compile(r"_?[A-Za-z]+\w*(?:_\w+)+|(?:[A-Z][a-z]+){2,}")


def name_of(page: Path) -> str:
    return str(page.relative_to(ROOT))


def dotted(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def members(tree: ast.Module, module: str) -> Iterator[str]:
    """The module, what it binds or imports, and what its classes bind, each as a dotted name."""
    yield module
    for node in tree.body:
        for name in bound(node):
            yield f"{module}.{name}"
            if isinstance(node, ast.ClassDef):
                yield from (f"{module}.{name}.{one}" for one in inside(node))


def bound(node: ast.stmt) -> list[str]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return [node.name]
    if isinstance(node, ast.Import | ast.ImportFrom):
        return [alias.asname or alias.name for alias in node.names]
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return [target.id for target in targets if isinstance(target, ast.Name)]


def inside(node: ast.ClassDef) -> set[str]:
    """What a class binds, what its methods set, and what it has of its bases."""
    stored = (one for one in ast.walk(node) if isinstance(one, ast.Attribute) and isinstance(one.ctx, ast.Store))
    own = {name for part in node.body for name in bound(part)} | {one.attr for one in stored}
    bases = (CLASSES[base.id] for base in node.bases if isinstance(base, ast.Name) and base.id in CLASSES)
    return own.union(*(inside(base) for base in bases))


CLASSES = {node.name: node for path in SOURCES for node in ast.parse(read(path)).body if isinstance(node, ast.ClassDef)}
KNOWN = {name for path in SOURCES for name in members(ast.parse(read(path)), dotted(path))}
ENDINGS = {".".join(name.split(".")[at:]) for name in KNOWN for at in range(name.count("."))} | KNOWN
#: What a value of ours can be asked for, whatever the value is called.
ASKED = {name.rpartition(".")[2] for name in KNOWN}
WORDS = {word for path in SOURCES for word in re.findall(r"\w+", read(path))}


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_files_are_there(page: Path) -> None:
    named = {path.rstrip("/.") for path in PATH.findall(re.sub(r"\]\([^)]*\)", "", read(page)))}
    assert {path for path in named if not (ROOT / path).exists()} == set()
    modules = {name for quoted in QUOTED.findall(read(page)) for name in re.findall(r"(?<![\w/>])[\w/]+\.py\b", quoted)}
    assert {name for name in modules if not any(f"/{path}".endswith(f"/{name}") for path in SOURCES)} == set()


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_modules_and_what_is_in_them_are_there(page: Path) -> None:
    quoted = (re.sub(r"\S*/\S*|\[.*\]", "", text) for text in QUOTED.findall(read(page)))
    named = {name for text in quoted for name in DOTTED.findall(text)}
    ours = {name for name in named if name.split(".")[0] not in ELSEWHERE and name.split(".")[-1] not in FILES}
    assert {name for name in ours if name not in ENDINGS and not is_of_a_value(name)} == set()


def is_of_a_value(name: str) -> bool:
    """Tell whether a name is something asked of a value, as in `ledger.version`."""
    value, *asked = name.split(".")
    return value.islower() and value not in FOLDERS and len(asked) == 1 and asked[0] in ASKED


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_names_are_in_the_source(page: Path) -> None:
    named = {quoted for quoted in QUOTED.findall(read(page)) if NAME.fullmatch(quoted)}
    assert named - WORDS == set()


def test_arrows_are_those_that_are_checked() -> None:
    contracts = tomllib.loads(read(ROOT / "pyproject.toml"))["tool"]["importlinter"]["contracts"]
    layers = next(one["layers"] for one in contracts if one["name"].startswith("Data flows one way"))
    assert "\n".join(layers) + "\n" in code(read(ROOT / "DEVELOPERS.md"), "")


def test_map_has_every_folder() -> None:
    text = read(ROOT / "DEVELOPERS.md").partition("## Map")[2].partition("\n## ")[0]
    found = [path for folder in ("monitor", "dashboards") for path in (ROOT / folder).iterdir()]
    folders = {f"`{path.relative_to(ROOT)}/`" for path in found if path.is_dir() and path.name != "__pycache__"}
    modules = {f"`monitor/{path.name}`" for path in (ROOT / "monitor").glob("*.py") if path.stem[:2] != "__"}
    assert {name for name in folders | modules if name not in text} == set()
