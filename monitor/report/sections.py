"""What a report says, in order: summary, changes, parts one by one, material, containment, complaints, methods."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from monitor.report import drawing
from monitor.report.blocks import Block, Column, Grid, Heading, Picture, Pictures, Sign, Text
from monitor.report.register import Change, Sent
from monitor.report.view import View
from monitor.report.words import MISSING, Words

Row = Mapping[Hashable, Any]

#: Usual demands on a running process; common practice, no source.
PPK_WANTED = 1.33
SUBGROUPS_WANTED = 25
#: Changes listed one by one.
MOST_CHANGES = 30


def sections(view: View, words: Words, colour: str, before: tuple[Sent, list[Change]] | None) -> tuple[Block, ...]:
    """Return the blocks of a report; `before` is the report that was sent and what has changed since."""
    blocks: list[Block] = [Heading(1, words["summary"]), Text(_summary(view, words), listed=True)]
    if before is not None:
        blocks += _changes(*before, words)
    blocks += _overview(view, words)
    for part in _rows(view.tables["parts"]):
        blocks += _part(view, words, colour, part)
    blocks += [*_lots(view, words), *_complaints(view, words), *_holds(view, words)]
    blocks += [*_methods(view, words), *_sign(words), *_containers(view, words)]
    return tuple(blocks)


def _rows(table: pd.DataFrame) -> list[dict[Hashable, Any]]:
    return table.to_dict("records")


def _summary(view: View, words: Words) -> tuple[str, ...]:
    parts = view.tables["parts"]
    if not parts[["made", "shipped", "complaints"]].fillna(0).to_numpy().any() and view.tables["complaints"].empty:
        first = words["nothing"]
    else:
        first = words(
            "sum_output",
            made=words.number(parts["made"].sum()),
            parts=len(parts),
            good=words.number(parts["good"].sum()),
            shipped=words.number(parts["shipped"].sum(skipna=False)),
            shipments=view.tables["containers"]["shipment_id"].nunique(),
        )
    return (
        first,
        _sum_ppm(view, words),
        _sum_cause(view, words),
        _sum_capability(view, words),
        _sum_material(view, words),
    )


def _sum_ppm(view: View, words: Words) -> str:
    total = view.total
    return words(
        "sum_ppm",
        pieces=words.number(total["complaint_pieces"]),
        ppm=words.ppm(total["ppm_theirs"]),
        low=words.ppm(total["theirs_low"]),
        high=words.ppm(total["theirs_high"]),
        ours=words.number(total["accepted_pieces"]),
        disputed=words.number(total["disputed"]),
    )


def _sum_cause(view: View, words: Words) -> str:
    rejects = view.tables["rejects"]
    if rejects.empty:
        return words["sum_not_inspected"]
    if not rejects["rejected"].any():
        looked = rejects.drop_duplicates(["part_no", "kind"])["inspected"].sum()
        return words("sum_no_cause", inspected=words.number(looked))
    worst = rejects.sort_values("rejected", ascending=False, kind="stable").iloc[0]
    return words(
        "sum_cause",
        cause=_cause(worst),
        part=worst["part_no"],
        rejected=words.number(worst["rejected"]),
        inspected=words.number(worst["inspected"]),
        rate=words.percent(worst["rate"]),
    )


def _sum_capability(view: View, words: Words) -> str:
    rows = [row for row in _rows(view.tables["capability"]) if row["n"]]
    if not rows:
        return words["sum_no_capability"]
    return words("sum_capability", proven=sum(not _doubts(row, words) for row in rows), all=len(rows))


def _sum_material(view: View, words: Words) -> str:
    lots, holds = view.tables["lots"], view.tables["holds"]
    shipped = lots[lots["shipped_pieces"] != 0]
    return words(
        "sum_material",
        lots=shipped.loc[shipped["lot"] != "", "lot"].nunique(),
        heats=shipped.loc[shipped["heat"] != "", "heat"].nunique(),
        containers=view.tables["containers"]["container_id"].nunique(),
        holds=", ".join(holds["hold_id"]) or words["none"],
    )


def _changes(sent: Sent, changes: list[Change], words: Words) -> list[Block]:
    heading = Heading(1, words("changes", when=sent.sent_at[:10], version=sent.version))
    if not changes:
        return [heading, Text((words["no_changes"],))]
    columns = (Column(words["figure"], width=3), Column(words["was"], True, 1), Column(words["is"], True, 1))
    rows = tuple(
        (_named(change.name, words), change.was or MISSING, change.now or MISSING) for change in changes[:MOST_CHANGES]
    )
    more = len(changes) - len(rows)
    rest = [Text((words("more_changes", n=more),), small=True)] if more > 0 else []
    return [heading, Grid(columns, rows), *rest]


def _named(name: str, words: Words) -> str:
    """Return what a figure of the register is called: `parts|B-7|made` is B-7, Made."""
    _, *where, column = name.split("|")
    return ", ".join([*(part for part in where if part), words.phrases.get(column, column)])


_COUNTED = ("made", "good", "shipped", "complaint_pieces")


def _overview(view: View, words: Words) -> list[Block]:
    parts = _rows(view.tables["parts"])
    if not parts:
        return []
    labels = [Column(words["part"], width=2.2), *(Column(words[name], True) for name in _COUNTED)]
    labels += [Column(words["ppm_theirs"], True), Column(words["interval"], True), Column(words["ppm_ours"], True)]
    rows = [(_title(row), *_figures(row, words)) for row in parts]
    if len(parts) > 1:
        rows.append((words["total"], *_figures(view.total, words)))
    return [Heading(1, words["all_parts"]), Grid(tuple(labels), tuple(rows), total=len(parts) > 1)]


def _figures(row: Row, words: Words) -> tuple[str, ...]:
    counts = tuple(words.number(row[name]) for name in _COUNTED)
    span = _span(row["theirs_low"], row["theirs_high"], words)
    return (*counts, words.ppm(row["ppm_theirs"]), span, words.ppm(row["ppm_ours"]))


def _span(low: Any, high: Any, words: Words) -> str:
    if pd.isna(low) or pd.isna(high):
        return MISSING
    return words("to", low=words.ppm(low), high=words.ppm(high))


def _title(row: Row) -> str:
    return f"{row['part_no']} {row['name']}".strip()


def _part(view: View, words: Words, colour: str, part: Row) -> list[Block]:
    part_no = part["part_no"]
    heading = _title(part) + (f", {words('revision', r=part['revision'])}" if part["revision"] else "")
    names = ("made", "setup_pieces", "rejected", "reworked", "good", "shipped", "accepted_pieces", "disputed")
    counts = Grid(
        tuple(Column(words[name], True, 1) for name in names), (tuple(words.number(part[name]) for name in names),)
    )
    own = {name: view.tables[name][view.tables[name]["part_no"] == part_no] for name in _BY_PART}
    blocks: list[Block] = [Heading(1, heading), counts, *_trend(own["trend"], view.weeks, words, colour, part)]
    if pd.isna(part["made"]):
        return blocks
    blocks += [*_rejects(own["rejects"], words), *_charts(own["charts"], words, colour, part_no)]
    return blocks + _capability(own["capability"], words)


_BY_PART = ("trend", "rejects", "charts", "capability")


def _trend(table: pd.DataFrame, weeks: tuple[str, ...], words: Words, colour: str, part: Row) -> list[Block]:
    table = table.set_index("week").reindex(list(weeks))
    ppm = [float(value) for value in table["ppm_theirs"]]
    ends = list(zip(table["theirs_low"].astype(float), table["theirs_high"].astype(float), strict=True))
    accepted = [float(value) for value in table["ppm_ours"]]
    svg = drawing.trend([week[-3:] for week in weeks], ppm, ends, accepted, colour, words.number)
    last = words.ppm(part["ppm_theirs"])
    alt = words("trend_alt", part=part["part_no"], first=weeks[0], last=weeks[-1], ppm=last)
    caption = f"● {words['ppm_theirs']} · │ {words['interval']} · ▬ {words['ppm_ours']} · {words['no_dot']}"
    return [Heading(2, words["trend"]), Pictures((Picture(svg, alt, caption),))]


def _cause(row: Row | pd.Series) -> str:
    name, cause = str(row["cause_name"]), str(row["cause"])
    return f"{cause} {name}".strip()


def _rejects(table: pd.DataFrame, words: Words) -> list[Block]:
    heading = Heading(2, words["rejects"])
    if table.empty:
        return [heading, Text((words["not_inspected"],))]
    columns = (
        Column(words["cause"], width=2),
        Column(words["kind"], width=1.4),
        *(Column(words[name], True) for name in ("inspected", "rejected", "reworked", "rate", "interval")),
    )
    rows = []
    for row in _rows(table):
        span = words("to", low=words.percent(row["rate_low"]), high=words.percent(row["rate_high"]))
        counts = (words.number(row[name]) for name in ("inspected", "rejected", "reworked"))
        what = _cause(row) or words["nothing_found"]
        rate = (MISSING, MISSING) if pd.isna(row["rate"]) else (words.percent(row["rate"]), span)
        rows.append((what, words[row["kind"]], *counts, *rate))
    return [heading, Grid(columns, tuple(rows))]


def _charts(table: pd.DataFrame, words: Words, colour: str, part_no: str) -> list[Block]:
    if table.empty:
        return [Heading(2, words["charts"]), Text((words["too_few_points"],), small=True)]
    items = [_chart(rows, words, colour, part_no) for _, rows in table.groupby(["kind", "cause"], sort=False)]
    return [Heading(2, words["charts"]), Pictures(tuple(items), across=2)]


def _chart(rows: pd.DataFrame, words: Words, colour: str, part_no: str) -> Picture:
    first, centre = rows.iloc[0], float(rows["centre"].iloc[0])
    values, lows, highs = (list(100 * rows[name].astype(float)) for name in ("rate", "low", "high"))
    days = [f"{start[5:10]} {start[11:13]}h" for start in rows["start_at"]]
    outside = [bool(beyond) for beyond in rows["outside"]]
    svg = drawing.control(days, values, 100 * centre, lows, highs, outside, colour, _percent(words))
    what = {"cause": _cause(first), "chart": first["chart"], "kind": words[first["kind"]], "hours": first["hours"]}
    told = {"part": part_no, "points": len(rows), "centre": words.percent(centre), "outside": sum(outside)}
    return Picture(svg, words("chart_alt", **what, **told), words("chart_caption", **what, **told))


def _percent(words: Words) -> drawing.Label:
    def label(value: float, digits: int) -> str:
        return f"{words.number(value, digits)} %"

    return label


def _doubts(row: Row, words: Words) -> list[str]:
    """Return why a capability may not be taken at its word."""
    if not row["n"]:
        return [words["not_measured"]]
    checks = (
        (row["subgroups"] < SUBGROUPS_WANTED, "few"),
        (row["stable"] is False, "not_stable"),
        (row["normal"] is False, "not_normal"),
        (pd.isna(row["ppk"]) or row["ppk"] < PPK_WANTED, "below"),
    )
    return [words[name] for doubt, name in checks if doubt]


def _capability(table: pd.DataFrame, words: Words) -> list[Block]:
    if table.empty:
        return []
    columns = (
        *(
            Column(words[name], width=width)
            for name, width in (("characteristic", 1.9), ("limits", 1.6), ("press", 0.8))
        ),
        Column(words["n"], True, 1.2),
        Column(words["mean"], True),
        *(Column(name, True) for name in ("Cp", "Cpk", "Pp", "Ppk")),
        Column(f"Ppk {words['interval']}", True, 1.2),
        Column(words["note"], width=1.9),
    )
    rows = []
    for row in _rows(table):
        place = ", ".join(str(p) for p in (row["press_id"], row["out"]) if not pd.isna(p) and p != "")
        limits = f"{words.number(row['lower'], 3)} … {words.number(row['upper'], 3)} {row['unit']}".strip()
        indices = (words.number(row[name], 2) for name in ("cp", "cpk", "pp", "ppk"))
        low, high = row["ppk_low"], row["ppk_high"]
        span = MISSING if pd.isna(low) else words("to", low=words.number(low, 2), high=words.number(high, 2))
        doubts = "; ".join(_doubts(row, words)) or words["in_order"]
        count = f"{words.number(row['n'])} ({words.number(row['subgroups'])})"
        mean = words.number(row["mean"], 4)
        rows.append((row["characteristic"], limits, place or MISSING, count, mean, *indices, span, doubts))
    return [Heading(2, words["capability"]), Grid(columns, tuple(rows))]


def _lots(view: View, words: Words) -> list[Block]:
    table = view.tables["lots"]
    if table.empty:
        return []
    columns = (
        *(Column(words[name], width=1) for name in ("part", "lot", "heat")),
        *(Column(words[name], True) for name in ("coils", "containers", "filled_pieces", "shipped")),
    )
    rows = [
        (
            row["part_no"],
            row["lot"] or words["not_known"],
            row["heat"] or MISSING,
            *(words.number(row[name]) for name in ("coils", "containers", "filled_pieces", "shipped_pieces")),
        )
        for row in _rows(table)
    ]
    return [Heading(1, words["lots"]), Grid(columns, tuple(rows))]


def _complaints(view: View, words: Words) -> list[Block]:
    heading, table = Heading(1, words["complaints"]), view.tables["complaints"]
    if table.empty:
        return [heading, Text((words["no_complaints"],))]
    labels = (
        ("complaint", 1.3),
        ("reported", 1.2),
        ("part", 1),
        ("container", 1.1),
        ("delivered", 1.2),
        ("cause", 1.4),
    )
    columns = (
        *(Column(words[name], width=width) for name, width in labels),
        Column(words["pieces"], True),
        Column(words["our_count"], width=1.5),
        Column(words["standing"], width=1.1),
    )
    rows = []
    for row in _rows(table):
        place = row["container_id"] or row["shipment_id"] or MISSING
        what = (row["complaint_id"], row["reported_at"][:10], row["part_no"], place, row["delivered_in"])
        count = MISSING
        if not pd.isna(row["our_inspected"]):
            count = words("of", part=words.number(row["our_rejected"]), whole=words.number(row["our_inspected"]))
        standing = words["open" if row["standing"] == "disputed" else row["standing"]]
        rows.append((*what, _cause(row) or MISSING, words.number(row["pieces"]), count, standing))
    return [heading, Grid(columns, tuple(rows))]


def _holds(view: View, words: Words) -> list[Block]:
    heading, table = Heading(1, words["holds"]), view.tables["holds"]
    if table.empty:
        return [heading, Text((words["no_holds"],))]
    columns = (
        *(Column(words[name], width=1) for name in ("hold", "placed", "held", "part")),
        *(Column(words[name], True) for name in ("here", "gone")),
    )
    rows = [
        (
            row["hold_id"],
            row["placed_at"][:10],
            words(f"scope_{row['scope']}", v=row["value"]),
            row["parts"].replace(";", ", "),
            *(
                f"{words.number(row[f'containers_{where}'])} / {words.number(row[f'pieces_{where}'])}"
                for where in ("here", "shipped")
            ),
        )
        for row in _rows(table)
    ]
    return [heading, Grid(columns, tuple(rows))]


def _methods(view: View, words: Words) -> list[Block]:
    rows = ", ".join(f"{table} {words.number(count)}" for table, count in view.set_aside.items())
    names = ("method_pieces", "method_ppm", "method_charts", "method_capability", "method_trace")
    lines = (*(words[name] for name in names), words("set_aside", rows=rows or words["none"]), words["advice"])
    return [Heading(1, words["methods"]), Text(lines, small=True)]


def _sign(words: Words) -> list[Block]:
    who = tuple(words[name] for name in ("prepared", "checked", "released"))
    return [Heading(1, words["sign"]), Sign(who, (words["signature"], words["date"]))]


def _containers(view: View, words: Words) -> list[Block]:
    heading, table = Heading(1, words["trace"]), view.tables["containers"]
    if table.empty:
        return [heading, Text((words["no_shipments"],))]
    labels = ("part", "shipped_at", "shipment", "container", "lot", "heat", "coil")
    columns = (
        *(Column(words[n], width=1.7 if n == "shipped_at" else 1) for n in labels),
        Column(words["pieces"], True),
    )
    rows = [
        (
            row["part_no"],
            row["shipped_at"][:16].replace("T", " "),
            *(row[name] for name in ("shipment_id", "container_id")),
            row["lot"] or MISSING,
            row["heat"] or MISSING,
            row["coil_id"].replace(";", ", ") or words["not_known"],
            words.number(row["pieces"]),
        )
        for row in _rows(table)
    ]
    return [heading, Grid(columns, tuple(rows))]
