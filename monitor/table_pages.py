"""Renders the manual's page of tables from the tables themselves: `python -m monitor.table_pages [FILE]`."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from monitor.figures import FIGURES
from shared.fields import Field
from shared.figures import Figure
from shared.table import Table
from shared.tables import TABLES

PAGE = Path(__file__).parent.parent / "docs" / "tables.md"
_GROUPS = {"book": "Plant book: what there is", "material": "Material", "event": "Events: what happened"}
_INTRODUCTION = """# Tables

Written by `python -m monitor.table_pages`; change the tables under `shared/tables/` and the figures, not this page.

A table arrives as CSV (UTF-8, a header row, commas, quotes doubled inside quotes) or Parquet, in any number
of files.  A file belongs to the table its name starts with, up to the first `-` or `.`:
`strokes-2026-11-02.csv`, `coils.parquet`.  Times are ISO 8601; with an offset they are taken as they are,
without one they are plant time.  A time that is *planned* may lie ahead; others have happened, and lie no further
ahead of the load, or back, than `[times]` in `plant.toml` says.  `*` = required.  A value outside its range
is set aside with its row; the ranges catch a wrong unit, not a bad day.
"""


def tables_page() -> str:
    """The whole page as Markdown: the input tables by group, then the figure tables."""
    parts = [_INTRODUCTION]
    for group, title in _GROUPS.items():
        parts.append(f"## {title}\n")
        parts.extend(_input_table(table) for table in TABLES.values() if table.group == group)
    parts.append("## Figures: what comes out\n")
    parts.extend(_figure_table(figure) for figure in FIGURES.values())
    return "\n".join(parts)


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


def main() -> None:
    """Write the page to the file named, or to its place in the manual."""
    page = Path(sys.argv[1]) if len(sys.argv) > 1 else PAGE
    page.write_text(tables_page(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
