"""A report as a workbook: typed cells, native charts, ready to print; text from files is never a formula or a link."""

from __future__ import annotations

import datetime as dt
import io

import pandas as pd
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from monitor.export import written
from monitor.report.tables import TABLES, CellKind
from monitor.report.view import CustomerWeek
from monitor.report.words import PaperWords

_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "nan_inf_to_errors": False,
}
_NUMBERS = {CellKind.COUNT: "#,##0", CellKind.NUMBER: "#,##0.00##", CellKind.SHARE: "0.000%"}
#: Times are plant time, as the sheet `about` says; a spreadsheet knows no offsets.
_FORMATS = {**_NUMBERS, CellKind.TIME: "yyyy-mm-dd hh:mm"}
_PAPERS = {"A4": 9, "Letter": 1}
_WIDEST = 42
_ABOUT_WIDTH, _ABOUT_LETTERS = 96, 84
_TITLE_LETTERS, _HEADER_LETTERS = 56, 64
#: Charts stand two beside one another, so many rows and columns apart.
_CHART_ROWS, _CHART_COLUMNS = 14, 10


def xlsx(view: CustomerWeek, words: PaperWords, colour: str, page: str, made_at: dt.datetime) -> bytes:
    """Return the workbook; `made_at` is the time its properties name, so that the same view gives the same bytes."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, _OPTIONS) as book:
        title = f"{words['title']} {words('for', customer=view.customer)}"
        book.set_properties({"title": title, "author": view.plant, "created": made_at})
        head = book.add_format({"bold": True, "bg_color": colour, "font_color": "#ffffff", "text_wrap": True})
        _about(book, view, words, title, page)
        pictures = _added(book, "pictures", page, title)
        for name, table in view.tables.items():
            _sheet(book, name, table=written(table), head=head, page=page, title=title)
        _columns(book, head, page, title)
        _trend_charts(book, pictures, view.tables["trend"], colour, words)
        _cause_chart(book, pictures, view.tables["rejects"], colour, words)
    return out.getvalue()


def _added(book: Workbook, name: str, page: str, title: str) -> Worksheet:
    """Add a sheet that prints one page wide."""
    sheet = book.add_worksheet(name)
    sheet.set_landscape()
    sheet.set_paper(_PAPERS[page])
    sheet.fit_to_pages(1, 0)
    # In a header `&` begins a command of the spreadsheet; what is longer would run into the name of the sheet.
    short = title if len(title) <= _HEADER_LETTERS else f"{title[: _HEADER_LETTERS - 1]}…"
    sheet.set_header(f"&L{short.replace('&', '&&')}&R{name}")
    sheet.set_footer("&R&P / &N")
    return sheet


def _about(book: Workbook, view: CustomerWeek, words: PaperWords, title: str, page: str) -> None:
    sheet = _added(book, "about", page, title)
    sheet.set_column(0, 0, _ABOUT_WIDTH)
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    methods = ("method_pieces", "method_ppm", "method_charts", "method_capability", "method_trace", "advice")
    lines = [
        f"{words['week']} {view.week}",
        words("range", from_=words.moment(view.from_), to=words.moment(view.to), zone=view.timezone),
        words("version", version=view.version, hash=view.figures_hash),
        *(words[name] for name in methods),
    ]
    # No program works out the height of a wrapped row that a file does not state.
    # A long word of a long title goes to a line of its own.
    sheet.set_row(0, 19.5 * (1 if len(title) <= _TITLE_LETTERS else 2 + len(title) // _TITLE_LETTERS))
    sheet.write_string(0, 0, title, book.add_format({"bold": True, "font_size": 14, "text_wrap": True}))
    for row, line in enumerate(lines, 1):
        sheet.set_row(row, 15.5 * -(-len(line) // _ABOUT_LETTERS))
        sheet.write_string(row, 0, line, wrapped)


def _columns(book: Workbook, head: Format, page: str, title: str) -> None:
    """Add the sheet that says what every column means."""
    sheet = _added(book, "columns", page, title)
    for at, (label, width) in enumerate((("sheet", 13), ("column", 18), ("kind", 30), ("meaning", 84))):
        sheet.write_string(0, at, label, head)
        sheet.set_column(at, at, width)
    rows = [(n, c, kind.value, table.meanings[c]) for n, table in TABLES.items() for c, kind in table.columns.items()]
    for row, cells in enumerate(rows, 1):
        for at, cell in enumerate(cells):
            sheet.write_string(row, at, cell)
    sheet.freeze_panes(1, 0)
    sheet.repeat_rows(0)


def _sheet(book: Workbook, name: str, table: pd.DataFrame, head: Format, page: str, title: str) -> None:
    sheet = _added(book, name, page, title)
    kinds = TABLES[name].columns
    for at, (column, kind) in enumerate(kinds.items()):
        sheet.write_string(0, at, column, head)
        style = book.add_format({"num_format": _FORMATS[kind]}) if kind in _FORMATS else None
        sheet.set_column(at, at, _width(column, table[column], kind), style)
        _write(sheet, at, table[column], kind)
    sheet.freeze_panes(1, 1)
    if len(table):
        sheet.autofilter(0, 0, len(table), len(kinds) - 1)
    sheet.repeat_rows(0)


def _write(sheet: Worksheet, at: int, values: pd.Series, kind: CellKind) -> None:
    """Write a column below its head; a cell of which nothing is known stays empty."""
    write = {CellKind.TEXT: sheet.write_string, CellKind.TIME: sheet.write_datetime, CellKind.FLAG: sheet.write_boolean}
    cell = write.get(kind, sheet.write_number)
    known = values.notna()
    if kind in (CellKind.TEXT, CellKind.TIME):
        values = values.fillna("")
        known = values != ""
    if kind is CellKind.TIME:
        values = values.map(lambda told: dt.datetime.fromisoformat(told).replace(tzinfo=None) if told else told)
    for row, (value, shown) in enumerate(zip(values.tolist(), known, strict=True), 1):
        if shown:
            cell(row, at, value)


def _width(column: str, values: pd.Series, kind: CellKind) -> float:
    text = kind is CellKind.TEXT
    longest = (
        max((len(str(value)) for value in values.head(200)), default=0) if text else 16 if kind is CellKind.TIME else 9
    )
    return min(_WIDEST, max(len(column), longest) + 2)


def _trend_charts(book: Workbook, sheet: Worksheet, table: pd.DataFrame, colour: str, words: PaperWords) -> None:
    names = list(table.columns)
    for place, (part_no, rows) in enumerate(table.groupby("part_no", sort=False)):
        first, last = int(rows.index[0]) + 1, int(rows.index[-1]) + 1
        chart = book.add_chart({"type": "line"})
        for column, line in (("ppm_theirs", colour), ("ppm_ours", "#b8390e")):
            at = names.index(column)
            chart.add_series(
                {
                    "name": words[column],
                    "categories": ["trend", first, names.index("week"), last, names.index("week")],
                    "values": ["trend", first, at, last, at],
                    "line": {"color": line},
                    "marker": {"type": "circle", "size": 5, "fill": {"color": line}, "border": {"color": line}},
                }
            )
        description = f"{part_no}: {words['trend']}"
        chart.set_title({"name": words["trend"], "name_font": {"size": 11}})
        # Handed to set_title, the number of a part that looks like the place of a cell would become a formula.
        chart.title.name = description
        chart.set_legend({"position": "bottom"})
        chart.set_y_axis({"min": 0, "major_gridlines": {"visible": True, "line": {"color": "#d3cfc4"}}})
        chart.set_size({"width": 620, "height": 260})
        sheet.insert_chart(*_place(place), chart, {"description": description})


def _cause_chart(book: Workbook, sheet: Worksheet, table: pd.DataFrame, colour: str, words: PaperWords) -> None:
    names = list(table.columns)
    if not len(table):
        return
    last = len(table)
    chart = book.add_chart({"type": "bar"})
    where = ["rejects", 1, names.index("part_no"), last, names.index("cause")]
    at = names.index("rejected")
    chart.add_series(
        {
            "name": words["rejected"],
            "categories": where,
            "values": ["rejects", 1, at, last, at],
            "fill": {"color": colour},
            "gap": 40,
        }
    )
    chart.set_title({"name": words["rejects"], "name_font": {"size": 11}})
    chart.set_legend({"none": True})
    chart.set_y_axis({"reverse": True})
    chart.set_size({"width": 620, "height": min(1200, 120 + 24 * last)})
    parts = -(-table["part_no"].nunique() // 2) * 2
    sheet.insert_chart(*_place(parts), chart, {"description": words["rejects"]})


def _place(number: int) -> tuple[int, int]:
    return 1 + _CHART_ROWS * (number // 2), _CHART_COLUMNS * (number % 2)
