"""Rows set aside as a person sees and mends them: grouped by reason, exported, changed, read back."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence

import pandas as pd

from monitor.write.formulas import guarded, unguarded
from shared.errors import RequestError
from shared.phrases import phrase
from shared.reasons import REASONS
from shared.reasons.files import FILE_LINE
from shared.reasons.kept import codes_of
from shared.tables import TABLES

#: Columns of an export that say which row is meant; those of the row itself follow.
KEEPING = ("set_aside_id", "set_aside_table", "set_aside_file", "set_aside_line", "set_aside_reason")
#: Column of a line that could not be cut into cells.
LINE_TEXT = "set_aside_text"


def chosen(
    rows: pd.DataFrame,
    *,
    table: str | None = None,
    file: str | None = None,
    load: int | None = None,
    reason: str | None = None,
    press: str | None = None,
) -> pd.DataFrame:
    """Rows set aside that fit every condition given; `file` is a part of its name in any case, `reason` a code."""
    kept = rows
    if table:
        kept = kept[kept["table"] == table]
    if load is not None:
        kept = kept[kept["load_id"] == load]
    if file:
        kept = kept[kept["file"].astype("str").str.contains(file, case=False, regex=False)]
    if reason:
        kept = kept[[reason in codes_of(codes) for codes in kept["code"]]]
    if press:
        kept = kept[[str(cells_of(row).get("press_id", "")) == press for row in kept["row"]]]
    return kept


def known_code(reason: str, rows: pd.DataFrame) -> str:
    """The code of a reason as it was asked for; raises RequestError for none, naming those that rows have."""
    if reason in REASONS:
        return reason
    there = sorted({code for codes in rows["code"] for code in codes_of(codes)})
    expected = phrase("a code of a reason ({codes})", codes=", ".join(there) or phrase("no rows are set aside"))
    raise RequestError("--reason", repr(reason), expected, phrase("see them with strokeledger set-aside list"))


def kind_of(codes: str, values: str) -> str:
    """What rows to be mended alike have in common: the code of each reason and the column it is about."""
    about = zip(codes_of(codes), json.loads(values), strict=True)
    return ";".join(f"{code}:{column}" if (column := held.get("column")) else code for code, held in about)


def grouped(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows counted by table and kind of reason, most first.

    Columns: table, kind, rows, files, and reason, code and values of the first of them.
    """
    names = ["table", "kind", "rows", "files", "reason", "code", "values"]
    if rows.empty:
        return pd.DataFrame(columns=names)
    kinds = [kind_of(*kept) for kept in zip(rows["code"], rows["values"], strict=True)]
    first = {name: (name, "first") for name in ("reason", "code", "values")}
    counted = (
        rows.assign(kind=kinds)
        .groupby(["table", "kind"], sort=False)
        .agg(rows=("id", "size"), files=("file", "nunique"), **first)
    )
    return counted.reset_index().sort_values("rows", ascending=False, kind="stable")[names]


def cells_of(row: str) -> dict[str, str]:
    """The cells of a row as it came; none where the line could not be cut into cells."""
    try:
        found = json.loads(row)
    except ValueError:
        return {}
    return {str(name): str(cell) for name, cell in found.items()} if isinstance(found, dict) else {}


def edited_row(row: str, values: Mapping[str, str]) -> str:
    """The row with some cells put in the place of others; an empty value empties the cell."""
    cells = {**cells_of(row), **values}
    return json.dumps({name: cell for name, cell in cells.items() if cell != ""}, ensure_ascii=False)


def as_values(table: str, pairs: Sequence[str]) -> dict[str, str]:
    """Values given as `column=value`; raises RequestError for another form or a column the table does not have."""
    values = {}
    for pair in pairs:
        name, equals, value = pair.partition("=")
        if not equals or name not in TABLES[table].columns:
            raise RequestError(
                f"--value {pair[:60]}",
                phrase("no column of the table") if equals else phrase("no equals sign"),
                phrase("column=value with one of {columns}", columns=", ".join(TABLES[table].columns)),
                phrase("write it so, for instance --value press_id=P07"),
            )
        values[name] = value
    return values


def export(rows: pd.DataFrame) -> str:
    """Rows set aside as CSV (RFC 4180), each with its cells as they came; nothing in it runs as a formula."""
    cells = [cells_of(row) for row in rows["row"]]
    columns = _columns(rows["table"].tolist(), cells)
    text = any(not found for found in cells)
    sink = io.StringIO()
    writer = csv.writer(sink, lineterminator="\r\n")
    writer.writerow([*KEEPING, *([LINE_TEXT] if text else []), *map(guarded, columns)])
    for row, found in zip(rows.to_dict("records"), cells, strict=True):
        known = [row["id"], row["table"], row["file"], row["line"], row["reason"]]
        line = [] if not text else ["" if found else row["row"]]
        writer.writerow([guarded(str(cell)) for cell in (*known, *line, *(found.get(name, "") for name in columns))])
    return sink.getvalue()


def _columns(tables: Sequence[str], cells: Sequence[Mapping[str, str]]) -> list[str]:
    """Columns in contract order where one table is exported, those of the cells otherwise; unknown ones last."""
    contract = [name for table in dict.fromkeys(tables) if table in TABLES for name in TABLES[table].columns]
    held = dict.fromkeys(name for found in cells for name in found)
    wanted = contract if len(set(tables)) == 1 else [name for name in contract if name in held]
    return list(dict.fromkeys([*wanted, *held]))


def read_back(text: str, where: str) -> dict[int, str]:
    """Rows of a mended export, by id, as JSON; raises RequestError where it is no export."""
    text = text.removeprefix("\ufeff")
    # Spreadsheets write the separator of their country.
    separator = max(",;\t|", key=text.partition("\n")[0].count)
    rows = csv.DictReader(io.StringIO(text), delimiter=separator)
    names = rows.fieldnames or []
    if KEEPING[0] not in names:
        seen = phrase("no column {column}", column=KEEPING[0])
        raise RequestError(where, seen, phrase("a file from set-aside export"), phrase("mend such a file"))
    found: dict[int, str] = {}
    for row in rows:
        number = (row[KEEPING[0]] or "").strip()
        if not number.isdigit():
            line = phrase(FILE_LINE, file=where, line=rows.line_num)
            seen = phrase("{column} is {seen!r}", column=KEEPING[0], seen=number[:30])
            raise RequestError(line, seen, phrase("its number"), phrase("leave it as it was"))
        cells = {unguarded(name): unguarded(cell or "") for name, cell in row.items() if name and _is_cell(name)}
        found[int(number)] = json.dumps({name: cell for name, cell in cells.items() if cell}, ensure_ascii=False)
    return found


def _is_cell(name: str) -> bool:
    return name not in KEEPING and name != LINE_TEXT
