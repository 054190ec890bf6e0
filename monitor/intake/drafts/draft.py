"""Proposes a profile for a file nobody has described yet, and marks what the file does not show."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from monitor.intake.drafts.headings import column_for
from monitor.intake.profiles.heads import clean
from monitor.intake.profiles.lines import Record, records, text_lines
from monitor.intake.profiles.moments import order_of
from monitor.intake.profiles.numbers import UNIT_WORDS
from monitor.intake.profiles.parts import Layout
from shared.errors import RefusedFile
from shared.fields import Kind
from shared.tables import TABLES

_ROWS = 200
_HEADER_WITHIN = 30
_SIGNS = (";", "\t", ",", "|")
_WIDE = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
_OPEN = "# ? "


@dataclass
class _FirstRows:
    """What the first rows of a file show."""

    encoding: str
    delimiter: str
    names: list[str]
    above: int
    units: bool
    rows: list[list[str]] = field(default_factory=list)

    def cells(self, name: str) -> list[str]:
        place = self.names.index(name)
        return [row[place].strip() for row in self.rows if place < len(row) and row[place].strip()]


def draft(path: Path) -> str:
    """A profile in TOML; lines that begin with `# ?` say what has to be settled by hand.  Raises RefusedFile."""
    seen = _look(path)
    columns = _columns(seen.names)
    table = _table(set(columns.values()))
    wanted = {column: name for name, column in columns.items() if column in TABLES[table].columns}
    lines = [f'table = "{table}"', "", "[match]", f"name = {_text(_pattern(path.name))}", "", "[file]"]
    lines += [*_file_lines(seen, [name for name in wanted.values() if name in seen.names]), ""]
    lines += _time_lines(seen, table, wanted, path.name)
    for column in TABLES[table].columns:
        lines += _column_lines(column, wanted.get(column), column in TABLES[table].required, seen)
    used = {*wanted.values(), *(_date_and_time(seen) if "time" in wanted else ())}
    unused = [name for name in seen.names if name and name not in used]
    lines += [f"{_OPEN}the heading {_text(name)} is not used" for name in unused]
    return "\n".join(lines) + "\n"


def _look(path: Path) -> _FirstRows:
    encoding = _encoding(path)
    texts = [line.text for line in islice(text_lines(path, encoding), _ROWS) if line.text.strip()]
    if not texts:
        raise RefusedFile(path.name, "no rows at all", "rows of text", "Check the file")
    delimiter = _delimiter(texts)
    layout = Layout(delimiter=delimiter)
    rows = [row for row in islice(records(text_lines(path, encoding), layout), _ROWS) if row.cells]
    width = Counter(len(row.cells) for row in rows).most_common(1)[0][0]
    above = _header(rows, width)
    names = [clean(cell, "") for cell in rows[above].cells]
    units = above + 1 < len(rows) and _is_units(rows[above + 1])
    body = [row.cells for row in rows[above + 1 + units :]]
    return _FirstRows(encoding, delimiter, names=names, above=above, units=units, rows=body)


def _header(rows: Sequence[Record], width: int) -> int:
    """Place of the row that has most headings that are known, else of the first that is as wide as most."""
    known = [sum(bool(column_for(clean(cell, ""))) for cell in row.cells) for row in rows[:_HEADER_WITHIN]]
    wide = next((place for place, row in enumerate(rows) if len(row.cells) == width), 0)
    return known.index(max(known)) if max(known) else wide


def _encoding(path: Path) -> str:
    try:
        with path.open("rb") as file:
            start = file.read(1 << 16)
    except OSError as error:
        raise RefusedFile(path.name, str(error.strerror), "a file that can be read", "See to the file") from None
    if start[:2] in _WIDE:
        return _WIDE[start[:2]]
    try:
        start.decode("utf-8")
    except UnicodeDecodeError as error:
        return "utf-8" if error.start > len(start) - 4 else "windows-1252"
    return "utf-8"


def _delimiter(texts: Sequence[str]) -> str:
    """The sign that stands in most lines the same number of times."""

    def lines_alike(sign: str) -> int:
        counts = Counter(text.count(sign) for text in texts if sign in text)
        return counts.most_common(1)[0][1] if counts else 0

    return max(_SIGNS, key=lines_alike)


def _is_units(row: Record) -> bool:
    words = [cell.strip().lower() for cell in row.cells if cell.strip()]
    return (
        bool(words)
        and all(word in UNIT_WORDS or not re.search(r"\d", word) for word in words)
        and any(word in UNIT_WORDS for word in words)
    )


def _columns(names: Iterable[str]) -> dict[str, str]:
    """Column by heading, each column once."""
    found: dict[str, str] = {}
    for name in names:
        column = column_for(name)
        if column and column not in found.values():
            found[name] = column
    return found


def _table(columns: set[str]) -> str:
    """The table of which most required columns are there, and fewest are missing."""

    def fit(name: str) -> tuple[int, int]:
        required = set(TABLES[name].required)
        return len(required & columns) - len(required - columns), len(columns & set(TABLES[name].columns))

    return max(("strokes", *TABLES), key=fit)


def _pattern(name: str) -> str:
    return re.sub(r"\d[\d._-]*\d|\d", "*", name)


def _file_lines(seen: _FirstRows, numeric: Sequence[str]) -> list[str]:
    lines = [f"encoding = {_text(seen.encoding)}"]
    if seen.encoding == "windows-1252":
        lines.append(f"{_OPEN}the file is not UTF-8; check that letters beyond a to z come out right")
    lines.append(f"delimiter = {_text('tab' if seen.delimiter == chr(9) else seen.delimiter)}")
    if seen.above:
        lines.append(f"skip_to = {_text(seen.names[0])}")
    if seen.units:
        lines += ["header_rows = 2", "units_row = 2"]
    return lines + _sign_lines([cell for name in numeric if _is_number(name) for cell in seen.cells(name)])


def _is_number(name: str) -> bool:
    column = column_for(name)
    return bool(column) and any(
        table.field(column).kind in (Kind.COUNT, Kind.NUMBER) for table in TABLES.values() if column in table.columns
    )


def _sign_lines(cells: Sequence[str]) -> list[str]:
    """Decimal and thousands signs, where the cells show them beyond doubt."""
    lines = []
    for sign, other in (",.", ".,"):
        with_sign = [cell for cell in cells if sign in cell]
        if any(cell.count(sign) > 1 or other in cell.split(sign, 1)[1] for cell in with_sign):
            lines.append(f"thousands = {_text(sign)}")
        elif any(not re.search(rf"{re.escape(sign)}\d{{3}}$", cell) for cell in with_sign):
            lines.append(f"decimal = {_text(sign)}")
        elif with_sign:
            lines.append(
                f"{_OPEN}{with_sign[0]} may have a decimal {sign!r} or a mark of thousands: name one of the two"
            )
            lines.append(f"{_OPEN}decimal = {_text(sign)}")
            lines.append(f"{_OPEN}thousands = {_text(sign)}")
    if any(re.search(r"\d['’]\d{3}", cell) for cell in cells):
        lines.append('thousands = "\'"')
    if any(re.search(r"\d[ \u00a0\u2009\u202f]\d{3}", cell) for cell in cells):
        lines.append('thousands = " "')
    if any(cell in ("-", "--", "n/a", "NULL") for cell in cells):
        lines.append(f"null_words = {json.dumps(sorted({c for c in cells if c in ('-', '--', 'n/a', 'NULL')}))}")
    return lines


def _time_lines(seen: _FirstRows, table: str, wanted: dict[str, str], where: str) -> list[str]:
    timed = [name for column, name in wanted.items() if TABLES[table].field(column).kind is Kind.TIME]
    cells = [cell for name in timed for cell in seen.cells(name)]
    lines = []
    if cells and all(re.fullmatch(r"\d{5}([.,]\d+)?", cell) for cell in cells):
        lines.append("serial1900 = true")
    try:
        order = order_of(cells, where)
    except RefusedFile:
        order = ""
        lines.append(f'{_OPEN}date_order = "dmy" or "mdy": the first {len(cells)} rows do not show it')
    if order:
        lines.append(f"date_order = {_text(order)}")
    return ["[time]", *lines, ""] if lines else []


def _column_lines(column: str, name: str | None, required: bool, seen: _FirstRows) -> list[str]:
    if name:
        pair = _date_and_time(seen) if column == "time" else []
        lines = [f"[columns.{column}]", f"from = {json.dumps(pair, ensure_ascii=False) if pair else _text(name)}"]
        unit = re.search(r"[(\[]\s*([^)\]]+?)\s*[)\]]", name)
        if unit and (found := UNIT_WORDS.get(unit[1].lower(), unit[1])) in ("in", "lb", "ft/min", "ft", "oz"):
            lines.append(f"unit = {_text(found)}")
        if column == "time" and not pair and seen.cells(name) and not re.search(r"\d:\d\d|T\d", seen.cells(name)[0]):
            lines.append(f"{_OPEN}no time of day in {seen.cells(name)[0][:20]!r}: join it with the heading that has it")
        return [*lines, ""]
    if not required:
        return []
    return [
        f"{_OPEN}no heading was taken for {column}; one of",
        f"{_OPEN}[columns.{column}]",
        f'{_OPEN}from = "…"  or  constant = "…"' + (f"  (one of: {', '.join(filter(None, seen.names))[:120]})"),
        "",
    ]


def _date_and_time(seen: _FirstRows) -> list[str]:
    """Headings of a date and of a time of day that stand apart, the date first."""
    timed = [name for name in seen.names if name and column_for(name) == "time" and seen.cells(name)]
    dates = [name for name in timed if not re.search(r"\d:\d\d", seen.cells(name)[0])]
    clocks = [name for name in timed if re.fullmatch(r"\d{1,2}:\d\d.*", seen.cells(name)[0])]
    return [dates[0], clocks[0]] if dates and clocks else []


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
