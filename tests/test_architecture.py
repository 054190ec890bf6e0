"""What the import arrows cannot say: reckoning touches nothing outside itself, and nothing mutable outlives a call."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PRODUCT = ("monitor", "dashboards", "shared")
MOST_POSITIONAL = 5
EVERYTHING = (*PRODUCT, "sample_runs", "tests")
#: Lines of a module, in the product and elsewhere, and modules of a folder, `__init__` not counted.
LONGEST_MODULE, LONGEST_ELSEWHERE, FULLEST_FOLDER = 400, 500, 15
SAYS_NOTHING = {"core", "common", "utils", "misc"}

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


def takes(node: ast.FunctionDef, bound: bool) -> int:
    """How many values a function takes by position, without the object that it is bound to."""
    return len(node.args.posonlyargs) + len(node.args.args) - bound


def fields(node: ast.ClassDef) -> int:
    """How many values a class takes by position: those of its `__init__`, or the fields of a record."""
    for part in node.body:
        if isinstance(part, ast.FunctionDef) and part.name == "__init__":
            return takes(part, bound=True)
    return sum(isinstance(part, ast.AnnAssign) and "init=False" not in ast.unparse(part) for part in node.body)


def own_calls(trees: Iterable[ast.Module]) -> dict[str, int]:
    """Names of all functions and classes defined, with how many values they take by position.

    Those that take any number are left out: what they are given is a list.
    """
    own: dict[str, int] = {}
    listing: set[str] = set()
    for tree in trees:
        methods = {part for node in ast.walk(tree) if isinstance(node, ast.ClassDef) for part in node.body}
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                static = any(getattr(mark, "id", "") == "staticmethod" for mark in node.decorator_list)
                own[node.name] = max(own.get(node.name, 0), takes(node, bound=node in methods and not static))
                listing |= {node.name} if node.args.vararg else set()
            elif isinstance(node, ast.ClassDef):
                own[node.name] = max(own.get(node.name, 0), fields(node))
    return {name: values for name, values in own.items() if name not in listing}


def foreign_modules(tree: ast.Module) -> Iterator[str]:
    """Names under which a module knows whole modules that are not of the product."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.asname or alias.name for alias in node.names if alias.name.split(".")[0] not in PRODUCT)


def _owner(call: ast.Call) -> str:
    return call.func.value.id if isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Name) else ""


def long_calls(tree: ast.Module, own: Mapping[str, int]) -> Iterator[str]:
    """Calls of own functions and classes with more values by position than anybody can tell apart.

    A star carries as many as what is called may still take: who writes the call does not see how many they are.
    """
    foreign = set(foreign_modules(tree))
    for node in ast.walk(tree):
        name = called(node).removeprefix(".") if isinstance(node, ast.Call) else ""
        if not isinstance(node, ast.Call) or name not in own or _owner(node) in foreign:
            continue
        stars = any(isinstance(given, ast.Starred) for given in node.args)
        carried = own[name] - len(node.keywords) if stars else 0
        if max(len(node.args), carried) > MOST_POSITIONAL:
            yield f"line {node.lineno} calls {name} with {max(len(node.args), carried)} values by position"


def test_no_call_of_ours_passes_more_than_five_values_by_position() -> None:
    paths = modules(*PRODUCT)
    own = own_calls(ast.parse(path.read_text("utf-8")) for path in paths)
    assert findings(lambda tree: long_calls(tree, own), paths) == []


def test_reckoning_knows_no_files_no_clock_and_no_settings() -> None:
    assert findings(reached_outside, modules("monitor/reckoning")) == []


def test_nothing_mutable_lives_at_module_level() -> None:
    assert findings(kept_state, modules(*PRODUCT)) == []


def lengths(paths: Iterable[Path]) -> dict[str, int]:
    return {str(path.relative_to(ROOT)): len(path.read_text("utf-8").splitlines()) for path in paths}


def longer(than: int, *folders: str) -> dict[str, int]:
    return {name: lines for name, lines in lengths(modules(*folders)).items() if lines > than}


def folders_of(paths: Iterable[Path]) -> dict[str, list[str]]:
    """Names of the modules in each folder that holds any, `__init__` not counted."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in paths:
        if path.stem != "__init__":
            found[str(path.parent)].append(path.stem)
    return found


def full_folders(paths: Iterable[Path]) -> dict[str, int]:
    return {folder: len(names) for folder, names in folders_of(paths).items() if len(names) > FULLEST_FOLDER}


def names_that_say_nothing(paths: Iterable[Path]) -> set[str]:
    return {part for path in paths for part in (*path.parts[:-1], path.stem) if part in SAYS_NOTHING}


def owned_twice(sources: Mapping[str, str]) -> dict[str, list[str]]:
    """Public classes at the top of more than one module, with the modules."""
    owners: dict[str, list[str]] = defaultdict(list)
    for module, source in sources.items():
        for node in ast.parse(source).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                owners[node.name].append(module)
    return {name: found for name, found in owners.items() if len(found) > 1}


def test_modules_stay_short() -> None:
    assert longer(LONGEST_MODULE, *PRODUCT) == {}
    assert longer(LONGEST_ELSEWHERE, "sample_runs", "tests") == {}


def test_folders_can_be_taken_in_at_a_glance() -> None:
    paths = [path.relative_to(ROOT) for path in modules(*EVERYTHING)]
    assert full_folders(paths) == {}
    assert names_that_say_nothing(paths) == set()


def test_each_class_name_has_one_owner() -> None:
    assert owned_twice({str(p.relative_to(ROOT)): p.read_text("utf-8") for p in modules(*PRODUCT)}) == {}


def test_a_full_folder_is_found() -> None:
    paths = [Path(f"monitor/load/part_{n}.py") for n in range(FULLEST_FOLDER)] + [Path("monitor/load/__init__.py")]
    assert full_folders(paths) == {}
    assert full_folders([*paths, Path("monitor/load/more.py")]) == {"monitor/load": FULLEST_FOLDER + 1}


def test_names_that_say_nothing_are_found() -> None:
    assert names_that_say_nothing([Path("monitor/core/day.py"), Path("shared/utils.py")]) == {"core", "utils"}
    assert names_that_say_nothing([Path("monitor/score.py")]) == set()


def test_a_second_owner_of_a_name_is_found() -> None:
    both = {"a.py": "class Line:\n    pass", "b.py": "class Line:\n    pass\nclass _Line:\n    pass"}
    assert owned_twice(both) == {"Line": ["a.py", "b.py"]}
    assert owned_twice({"a.py": "class Line:\n    pass", "b.py": "class _Line:\n    class Line:\n        pass"}) == {}


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


@pytest.mark.parametrize(
    ("call", "found"),
    [
        ("f(1, 2, 3, 4, 5)", 0),
        ("f(1, 2, 3, 4, 5, 6)", 1),
        ("f(*row)", 1),
        ("f(1, *row, e=5, f=6)", 0),
        ("Row(*row)", 1),
        ("Row(**row)", 0),
        ("x.say(*lines)", 0),
        ("x.say(1, 2, 3, 4, 5, 6)", 0),
        ("x.short(*row)", 0),
        ("other.f(*row)", 0),
        ("unknown(*row)", 0),
    ],
)
def test_long_calls_are_found(call: str, found: int) -> None:
    own = ast.parse(
        "def f(a, b, c, d, e, f): ...\n"
        "class Row:\n    a: int\n    b: int\n    c: int\n    d: int\n    e: int\n    f: int\n"
        "class X:\n    def say(self, *lines): ...\n    def short(self, a, b, c, d, e): ..."
    )
    assert len(list(long_calls(ast.parse(f"import other\n{call}"), own_calls([own])))) == found
