"""Renders the columns of the input tables and of the figures from what they say of themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from monitor.figures import FIGURES
from shared.fields import Field
from shared.figures import Figure
from shared.table import Table
from shared.tables import TABLES

_GROUPS = {"book": "Plant book: what there is", "material": "Material", "event": "Events: what happened"}
MARK = "<!-- columns: written by python -m monitor.manual -->"


def tables_page(text: str) -> str:
    """The page with the columns of the input tables written anew; what stands above the mark is kept."""
    parts = [MARK + "\n"]
    for group, title in _GROUPS.items():
        parts.append(f"## {title}\n")
        parts.extend(_input_table(table) for table in TABLES.values() if table.group == group)
    return text.partition(MARK)[0] + "\n".join(parts)


def figures_page(text: str) -> str:
    """The page with the columns of the figures written anew; what stands above the mark is kept."""
    parts = [MARK + "\n", "## Every column\n", *(_figure_table(figure) for figure in FIGURES.values())]
    return text.partition(MARK)[0] + "\n".join(parts)


def _input_table(table: Table) -> str:
    names = (f"`{name}`" for name in table.key)
    lines = [f"### {table.name}\n", f"{table.meaning} Key: {', '.join(names)}.\n"]
    lines += _rows(("column", "holds", "meaning"), (_column(table, name) for name in table.columns))
    return "\n".join(lines) + "\n"


def _column(table: Table, name: str) -> tuple[str, str, str]:
    field = table.field(name)
    meaning = f"{field.meaning} (planned)" if field.planned else field.meaning
    if field.to_the_day:
        meaning += f"; a date alone is the {'end' if field.to_end else 'start'} of that plant day"
    star = "*" if name in table.required else ""
    must = table.refers.get(name)
    may = table.mentions.get(name)
    link = f"; must be known in {' or '.join(must)}" if must else f"; see {' or '.join(may)}" if may else ""
    return f"`{name}`{star}", field.expected(), meaning + link


def _figure_table(figure: Figure) -> str:
    lines = [f"### {figure.name}\n", f"One row per {figure.row_per}.\n"]
    lines += _rows(("column", "holds", "meaning"), (_figure_column(column) for column in figure.columns))
    sums = [f"{whole} = {' + '.join(parts)}" for whole, parts in figure.closes]
    if sums:
        lines += ["", "In every row: " + "; ".join(f"`{line}`" for line in sums) + "."]
    return "\n".join(lines) + "\n"


def _figure_column(field: Field) -> tuple[str, str, str]:
    unit = f" [{field.unit}]" if field.unit else ""
    holds = "one of " + ", ".join(field.choices) if field.choices else field.kind.value + unit
    return f"`{field.name}`", holds, field.meaning


def _rows(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    yield "| " + " | ".join(head) + " |"
    yield "|---" * len(head) + "|"
    for row in rows:
        yield "| " + " | ".join(row) + " |"
