"""The worked examples of docs/figures.md: what is worked out by hand there is what the figures say."""

from __future__ import annotations

import ast
import datetime as dt
import math
import operator
import re
from collections.abc import Iterator

import pandas as pd
import pytest

from monitor.figures import AVAILABLE, FIGURES, figure
from monitor.ledger import Ledger
from monitor.load.files import load
from tests.docs.manual import ROOT, read, sections, tables

PAGE = read(ROOT / "docs" / "figures.md")
LOADED_AT = dt.datetime(2025, 12, 1, tzinfo=dt.UTC)
HEAD = ["column", "value", "by hand"]
DOES = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv}

Example = tuple[tuple[str, ...], list[list[str]]]


def examples() -> Iterator[Example]:
    """The figures that a section is about, and the rows of each example in it."""
    for title, text in sections(PAGE):
        names = tuple(name for name in re.findall(r"`(\w+)`", title) if name in FIGURES)
        yield from ((names, rows) for head, *rows in tables(text) if head == HEAD)


EXAMPLES = list(examples())


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, pd.DataFrame]]:
    """Every figure of the morning that the page works out."""
    with Ledger.open(tmp_path_factory.mktemp("morning") / "ledger", create=True) as ledger:
        load([ROOT / "sample_runs" / "morning"], ledger, now_us=int(LOADED_AT.timestamp()) * 1_000_000)
        yield {name: figure(ledger, name) for name in AVAILABLE}


def number(text: str) -> float | None:
    plain = text.replace(",", "").replace("−", "-")
    return float(plain) if re.fullmatch(r"-?\d+(\.\d+)?", plain) else None


def half_a_digit(text: str) -> float:
    return 0.5000001 * 10.0 ** -len(text.partition(".")[2])


def worked_out(text: str) -> float:
    """The value of a sum written with + − × / √ and brackets."""
    for written, meant in {",": "", "−": "-", "×": "*", "√": "sqrt"}.items():
        text = text.replace(written, meant)
    return value_of(ast.parse(text, mode="eval").body)


def value_of(node: ast.expr) -> float:
    if isinstance(node, ast.Constant):
        return float(node.value)  # type: ignore[arg-type]
    if isinstance(node, ast.BinOp):
        return float(DOES[type(node.op)](value_of(node.left), value_of(node.right)))  # type: ignore[index]
    assert isinstance(node, ast.Call)
    return math.sqrt(value_of(node.args[0]))


def shows(row: pd.Series, cells: list[list[str]]) -> bool:
    return all(agrees(row[name.strip("`")], value) for name, value, _ in cells)


def agrees(seen: object, written: str) -> bool:
    wanted = number(written)
    if wanted is None:
        return (";".join(seen) if isinstance(seen, tuple) else str(seen)) == written
    return pd.notna(seen) and abs(float(seen) - wanted) <= half_a_digit(written)  # type: ignore[arg-type, call-overload]


def figure_of(example: Example, figures: dict[str, pd.DataFrame]) -> str:
    """The figure that has a row with all the values of an example, "" for none."""
    names, cells = example
    columns = {name.strip("`") for name, *_ in cells}
    for name in names:
        table = figures[name]
        if columns <= set(table) and any(shows(row, cells) for _, row in table.iterrows()):
            return name
    return ""


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: f"{'-'.join(example[0])}-{example[1][0][1]}")
def test_values_are_those_of_a_row(example: Example, morning: dict[str, pd.DataFrame]) -> None:
    assert figure_of(example, morning)


@pytest.mark.parametrize(
    ("value", "sum_"), [(value, sum_) for _, rows in EXAMPLES for _, value, sum_ in rows if sum_], ids=str
)
def test_sum_by_hand_gives_the_value(value: str, sum_: str) -> None:
    assert abs(worked_out(sum_) - (number(value) or 0)) <= half_a_digit(value)


def test_every_figure_has_an_example(morning: dict[str, pd.DataFrame]) -> None:
    assert {figure_of(example, morning) for example in EXAMPLES} == set(AVAILABLE)


def test_every_figure_is_made_and_described() -> None:
    described = re.findall(r"^\| `(\w+)` \|", PAGE.partition("## What always adds up")[0], re.MULTILINE)
    assert sorted(described) == sorted(AVAILABLE) == sorted(FIGURES)


def test_closing_sums_are_those_of_the_figures() -> None:
    written = " ".join(PAGE.split())
    for told in (FIGURES[name] for name in AVAILABLE):
        for whole, parts in told.closes:
            if told.name != "loads" or whole == "read":
                assert f"`{whole} = {' + '.join(parts)}`" in written
