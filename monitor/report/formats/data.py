"""The tables of a report as CSV and Parquet, with a note that says what every column means."""

from __future__ import annotations

from monitor.export import as_parquet
from monitor.report.tables import TABLES
from monitor.report.view import CustomerWeek


def data_files(view: CustomerWeek) -> dict[str, bytes]:
    """Return the files by name; the same view gives the same bytes."""
    found = {"SCHEMA.md": _schema(view).encode()}
    for name, table in view.tables.items():
        found[f"{name}.csv"] = view.csv[name].encode()
        found[f"{name}.parquet"] = as_parquet(table)
    return found


def _schema(view: CustomerWeek) -> str:
    lines = [
        f"# {_plain(view.customer)}, week {view.week}",
        "",
        f"{view.from_} to {view.to} (end not included), plant time {view.timezone}. Ledger version {view.version}.",
        f"SHA-256 of the figures: `{view.figures_hash}`.",
        "",
        "CSV is UTF-8 with a header row (RFC 4180); an apostrophe stands there before all that a spreadsheet would run",
        "as a formula, in Parquet text stands as it is. An empty value is not known and never stands for 0.",
    ]
    for name, table in TABLES.items():
        lines += [
            "",
            f"## {name}",
            "",
            f"One row per {table.row_per}.",
            "",
            "| column | kind | meaning |",
            "|---|---|---|",
        ]
        lines += [f"| `{c}` | {kind.value} | {table.meanings[c]} |" for c, kind in table.columns.items()]
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """Return text that Markdown cannot read as anything but text."""
    return "".join(f"\\{c}" if c in "\\`*_{}[]()#+-.!<>|&" else c for c in text.replace("\n", " "))
