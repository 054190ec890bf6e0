"""Writes a figure table as text, CSV, JSON or Parquet; text from files stays text."""

from __future__ import annotations

import sys
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.write.formulas import guarded_table
from monitor.write.visible import visible, visible_lines
from monitor.write.whole_files import write_file
from shared.errors import RequestError
from shared.identifiers import joined

if TYPE_CHECKING:
    import pandas as pd


class Format(StrEnum):
    """How a table is written."""

    TABLE = "table"
    CSV = "csv"
    JSON = "json"
    PARQUET = "parquet"


def write(table: pd.DataFrame, format_: Format, out: Path | None) -> None:
    """Write a figure table to a file or the screen; Parquet needs a file.

    Raises RequestError where the file cannot be written.
    """
    if format_ is Format.PARQUET:
        if out is None:
            raise RequestError("--format parquet", "no file", "a file to write to", "add --out FILE.parquet")
        write_file(out, as_parquet(table))
        return
    text = _TEXTS[format_](table)
    if out is None:
        # A terminal obeys what stands in the text; a file or another program is given it as it is.
        sys.stdout.write(visible_lines(text.replace("\r\n", "\n")) if sys.stdout.isatty() else text)
    else:
        write_file(out, text.encode("utf-8", "backslashreplace"))


def written(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table with each tuple of names as a `;`-list; `shared.identifiers.listed` reads it back."""
    lists = {
        str(name): [joined(cell) if isinstance(cell, tuple) else cell for cell in column]
        for name, column in table.items()
        if column.dtype == object and any(isinstance(cell, tuple) for cell in column)
    }
    # Without rows nothing tells that a column holds names: it is text, not nothing.
    empty = [str(name) for name, column in table.items() if column.dtype == object] if table.empty else []
    return table.assign(**lists).astype(dict.fromkeys(empty, "str"))


def as_csv(table: pd.DataFrame) -> str:
    """Return CSV (RFC 4180); an apostrophe stands before text that a spreadsheet would take for a formula."""
    return guarded_table(written(table)).to_csv(index=False, lineterminator="\r\n")


def as_parquet(table: pd.DataFrame) -> bytes:
    """Return a Parquet file; text is kept as it is, since nothing runs it there."""
    stream = BytesIO()
    written(table).to_parquet(stream, index=False)
    return stream.getvalue()


def as_json(table: pd.DataFrame) -> str:
    """Return JSON: a list of rows; what is not known is null."""
    return written(table).to_json(orient="records", force_ascii=False, indent=1) + "\n"


def as_text(table: pd.DataFrame) -> str:
    """Return aligned columns; what is not known is blank, and what would move the cursor is a blot."""
    if table.empty:
        return "no rows: load files first, or ask for another range (strokeledger figures --help)\n"
    shown = written(table).copy()
    for name in shown.columns:
        if shown[name].dtype == "float64":
            shown[name] = shown[name].map(_short, na_action="ignore")
    for name in shown.select_dtypes(["object", "str"]).columns:
        shown[name] = shown[name].map(visible, na_action="ignore")
    return shown.astype("object").where(shown.notna(), "").to_string(index=False) + "\n"


def _short(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


_TEXTS = {Format.TABLE: as_text, Format.CSV: as_csv, Format.JSON: as_json}
