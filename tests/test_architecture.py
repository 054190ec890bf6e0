"""What the import arrows cannot say: reckoning touches nothing outside itself, and nothing mutable outlives a call."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PRODUCT = ("monitor", "dashboards", "shared")
LONGEST_MODULE = 500

SYSTEM = {"glob", "io", "locale", "logging", "os", "pathlib", "pickle", "platform", "random", "shutil", "socket", "sys"}
OUTSIDE = SYSTEM | {"sqlite3", "subprocess", "tempfile", "threading", "time", "tomllib", "urllib", "uuid"}
SETTINGS = {"shared.plant", "shared.tables", "shared.reference"}
PLAIN_CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
CLOCK_CALLS = {"now", "today", "utcnow", "perf_counter", "monotonic"}
FILE_CALLS = {"read_text", "read_bytes", "write_text", "write_bytes", "to_csv", "to_parquet", "tofile"}
CHANGING_CALLS = {"add", "append", "clear", "discard", "extend", "insert", "pop", "popitem", "remove", "setdefault"}
CONTAINERS = {"list", "dict", "set", "defaultdict", "deque", "OrderedDict", "Counter"}


def modules(*folders: str) -> list[Path]:
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def findings(search: Callable[[ast.Module], Iterable[str]], paths: Iterable[Path]) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}: {found}" for path in paths for found in search(ast.parse(path.read_text("utf-8")))
    ]


def called(node: ast.expr | None) -> str:
    """Name of what is called; a method's name begins with a dot."""
    if not isinstance(node, ast.Call):
        return ""
    return node.func.id if isinstance(node.func, ast.Name) else "." + getattr(node.func, "attr", "")


def imported(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def reached_outside(tree: ast.Module) -> Iterator[str]:
    """Whatever in a module opens a file, asks the clock, the system, the settings or an unseeded die."""
    for name in imported(tree):
        if name.split(".")[0] in OUTSIDE or name in SETTINGS:
            yield f"imports {name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = called(node)
            method = name.removeprefix(".")
            if name in PLAIN_CALLS or (method != name and method in CLOCK_CALLS | FILE_CALLS):
                yield f"line {node.lineno} calls {method}"
            if method == "default_rng" and not node.args:
                yield f"line {node.lineno} draws without a seed"


def module_names(tree: ast.Module) -> dict[str, ast.expr | None]:
    """Names that a module binds, with what they are bound to."""
    bound: dict[str, ast.expr | None] = {}
    for node in tree.body:
        if isinstance(node, ast.Assign):
            bound |= {target.id: node.value for target in node.targets if isinstance(target, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            bound[node.target.id] = node.value
    return bound


def begins_empty(value: ast.expr | None) -> bool:
    if isinstance(value, ast.Call):
        return called(value).removeprefix(".") in CONTAINERS and all(isinstance(a, ast.Name) for a in value.args)
    return (isinstance(value, ast.Dict) and not value.keys) or (isinstance(value, ast.List) and not value.elts)


def changed(function: ast.AST) -> Iterator[tuple[int, str]]:
    """Lines and names where a function writes into something it can only have from elsewhere."""
    own = {node.arg for node in ast.walk(function) if isinstance(node, ast.arg)}
    own |= {n.id for n in ast.walk(function) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    for node in ast.walk(function):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            place = node.func.value if node.func.attr in CHANGING_CALLS else None
        elif isinstance(node, ast.Subscript | ast.Attribute) and not isinstance(node.ctx, ast.Load):
            place = node.value
        else:
            place = None
        if isinstance(place, ast.Name) and place.id not in own:
            yield place.lineno, place.id


def kept_state(tree: ast.Module) -> Iterator[str]:
    """Whatever a module would keep from one call to the next under a name of its own."""
    bound = module_names(tree)
    yield from (f"{name} begins empty, to be filled" for name, value in bound.items() if begins_empty(value))
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            yield from (f"line {line} changes {name}" for line, name in changed(function) if name in bound)


def test_reckoning_knows_no_files_no_clock_and_no_settings() -> None:
    assert findings(reached_outside, modules("monitor/reckoning")) == []


def test_nothing_mutable_lives_at_module_level() -> None:
    assert findings(kept_state, modules(*PRODUCT)) == []


def test_modules_stay_short() -> None:
    lengths = {
        str(p.relative_to(ROOT)): len(p.read_text("utf-8").splitlines())
        for p in modules(*PRODUCT, "sample_runs", "tests")
    }
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_MODULE} == {}


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("SEEN = {}", ["SEEN begins empty, to be filled"]),
        ("SEEN: set[str] = set()", ["SEEN begins empty, to be filled"]),
        ("SEEN = collections.defaultdict(list)", ["SEEN begins empty, to be filled"]),
        ("SIZES = {1: 2}\ndef f(x):\n    SIZES[x] = 1", ["line 3 changes SIZES"]),
        ("SIZES = [1]\ndef f(x):\n    SIZES.append(x)", ["line 3 changes SIZES"]),
        ("SIZES = [1]\ndef f(x):\n    SIZES = []\n    SIZES.append(x)", []),
        ("SIZES = [1]\ndef f(x):\n    return SIZES[x]", []),
    ],
)
def test_kept_state_is_found(source: str, found: list[str]) -> None:
    assert list(kept_state(ast.parse(source))) == found


@pytest.mark.parametrize(
    "source",
    [
        "from pathlib import Path",
        "import os.path",
        "from shared.plant import Plant",
        "open('x')",
        "dt.datetime.now()",
        "frame.to_csv('x')",
        "np.random.default_rng()",
    ],
)
def test_the_outside_world_is_found(source: str) -> None:
    assert len(list(reached_outside(ast.parse(source)))) == 1


def test_the_lock_pins_whatever_is_required_and_names_no_address() -> None:
    lock = (ROOT / "requirements.lock").read_text("utf-8")
    wanted = [
        line for name in ("requirements.in", "requirements-dev.in") for line in (ROOT / name).read_text().splitlines()
    ]
    names = {found[0].lower() for line in wanted if (found := re.match(r"[A-Za-z][\w.-]*", line))}
    assert names - set(re.findall(r"^([\w.-]+)==", lock, re.MULTILINE)) == set(), "run: make lock"
    assert "://" not in lock
