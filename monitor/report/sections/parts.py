"""What a report says of one part: counts, trend, rejects by cause, what was done, control charts, capability."""

from __future__ import annotations

import pandas as pd

from monitor.report import drawing
from monitor.report.blocks import Block, Grid, GridColumn, Heading, Picture, Pictures, Text
from monitor.report.sections.cells import Row, cause_of, doubts, rows_of, title_of
from monitor.report.view import CustomerWeek
from monitor.report.words import MISSING, PaperWords


def part_blocks(view: CustomerWeek, words: PaperWords, colour: str, part: Row) -> list[Block]:
    """Return the blocks of one part of a view."""
    part_no = part["part_no"]
    heading = title_of(part) + (f", {words('revision', r=part['revision'])}" if part["revision"] else "")
    names = ("made", "setup_pieces", "rejected", "reworked", "good", "shipped", "accepted_pieces", "disputed")
    columns = tuple(GridColumn(words[name], True, 1) for name in names)
    counts = Grid(columns, (tuple(words.number(part[name]) for name in names),), leads=True)
    own = {name: view.tables[name][view.tables[name]["part_no"] == part_no] for name in _BY_PART}
    blocks: list[Block] = [Heading(1, heading), counts, *_trend(own["trend"], view.weeks, words, colour, part)]
    if pd.isna(part["made"]):
        return blocks
    blocks += [*_rejects(own["rejects"], words), *_actions(own["actions"], words)]
    blocks += _charts(own["charts"], words, colour, part_no)
    return blocks + _capability(own["capability"], words)


_BY_PART = ("trend", "rejects", "actions", "charts", "capability")


def _trend(table: pd.DataFrame, weeks: tuple[str, ...], words: PaperWords, colour: str, part: Row) -> list[Block]:
    table = table.set_index("week").reindex(list(weeks))
    ppm = [float(value) for value in table["ppm_theirs"]]
    ends = list(zip(table["theirs_low"].astype(float), table["theirs_high"].astype(float), strict=True))
    accepted = [float(value) for value in table["ppm_ours"]]
    svg = drawing.trend(
        [week[-3:] for week in weeks], ppm, ends=ends, accepted=accepted, colour=colour, label=words.number
    )
    last = words.ppm(part["ppm_theirs"])
    alt = words("trend_alt", part=part["part_no"], first=weeks[0], last=weeks[-1], ppm=last)
    caption = f"● {words['ppm_theirs']} · │ {words['interval']} · ▬ {words['ppm_ours']} · {words['no_dot']}"
    return [Heading(2, words["trend"]), Pictures((Picture(svg, alt, caption),))]


def _rejects(table: pd.DataFrame, words: PaperWords) -> list[Block]:
    heading = Heading(2, words["rejects"])
    if table.empty:
        return [heading, Text((words["not_inspected"],))]
    columns = (
        GridColumn(words["cause"], width=2),
        GridColumn(words["kind"], width=1.4),
        *(GridColumn(words[name], True) for name in ("inspected", "rejected", "reworked", "rate", "interval")),
    )
    rows = []
    for row in rows_of(table):
        span = words("to", low=words.percent(row["rate_low"]), high=words.percent(row["rate_high"]))
        counts = (words.number(row[name]) for name in ("inspected", "rejected", "reworked"))
        what = cause_of(row) or words["nothing_found"]
        rate = (MISSING, MISSING) if pd.isna(row["rate"]) else (words.percent(row["rate"]), span)
        rows.append((what, words[row["kind"]], *counts, *rate))
    return [heading, Grid(columns, tuple(rows))]


def _actions(table: pd.DataFrame, words: PaperWords) -> list[Block]:
    if table.empty:
        return []
    columns = (GridColumn(words["cause"], width=1), GridColumn(words["done"], width=3))
    return [Heading(2, words["actions"]), Grid(columns, tuple((cause_of(r), r["done"]) for r in rows_of(table)))]


def _charts(table: pd.DataFrame, words: PaperWords, colour: str, part_no: str) -> list[Block]:
    if table.empty:
        return [Heading(2, words["charts"]), Text((words["too_few_points"],), small=True)]
    items = [_chart(rows, words, colour, part_no) for _, rows in table.groupby(["kind", "cause"], sort=False)]
    return [Heading(2, words["charts"]), Pictures(tuple(items), across=2)]


def _chart(rows: pd.DataFrame, words: PaperWords, colour: str, part_no: str) -> Picture:
    first, centre = rows.iloc[0], float(rows["centre"].iloc[0])
    values, lows, highs = (list(100 * rows[name].astype(float)) for name in ("rate", "low", "high"))
    days = [words.hour(start) for start in rows["start_at"]]
    outside = [bool(beyond) for beyond in rows["outside"]]
    svg = drawing.control(
        days, values, centre=100 * centre, lows=lows, highs=highs, outside=outside, colour=colour, label=_percent(words)
    )
    what = {"cause": cause_of(first), "chart": first["chart"], "kind": words[first["kind"]], "hours": first["hours"]}
    told = {"part": part_no, "points": len(rows), "centre": words.percent(centre), "outside": sum(outside)}
    return Picture(svg, words("chart_alt", **what, **told), words("chart_caption", **what, **told))


def _percent(words: PaperWords) -> drawing.Label:
    def label(value: float, digits: int) -> str:
        return f"{words.number(value, digits)} %"

    return label


def _capability(table: pd.DataFrame, words: PaperWords) -> list[Block]:
    if table.empty:
        return []
    columns = (
        *(
            GridColumn(words[name], width=width)
            for name, width in (("characteristic", 1.7), ("limits", 1.5), ("press", 1.4))
        ),
        GridColumn(words["n"], True, 1.4),
        GridColumn(words["mean"], True),
        *(GridColumn(name, True) for name in ("Cp", "Cpk", "Pp", "Ppk")),
        GridColumn(words["ppk_interval"], True, 1.2),
        GridColumn(words["note"], width=1.7),
    )
    rows = []
    for row in rows_of(table):
        place = ", ".join(str(p) for p in (row["press_id"], row["die_id"]) if not pd.isna(p) and p != "")
        limits = f"{words.number(row['lower'], 3)} … {words.number(row['upper'], 3)} {row['unit']}".strip()
        indices = (words.number(row[name], 2) for name in ("cp", "cpk", "pp", "ppk"))
        low, high = row["ppk_low"], row["ppk_high"]
        ends = MISSING if pd.isna(low) else words("to", low=words.number(low, 2), high=words.number(high, 2))
        notes = "; ".join(doubts(row, words)) or words["in_order"]
        count = f"{words.number(row['n'])} ({words.number(row['subgroups'])})"
        mean = words.number(row["mean"], 4)
        rows.append((row["characteristic"], limits, place or MISSING, count, mean, *indices, ends, notes))
    return [Heading(2, words["capability"]), Grid(columns, tuple(rows))]
