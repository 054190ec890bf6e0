"""What a report says, in order: summary, changes, parts one by one, material, containment, complaints, methods."""

from __future__ import annotations

import pandas as pd

from monitor.report.blocks import Block, Grid, GridColumn, Heading, Sign, Text
from monitor.report.register import FigureChange, SentReport
from monitor.report.sections.cells import Row, cause_of, doubts, rows_of, span, title_of
from monitor.report.sections.lists import complaints, containers, holds, lots
from monitor.report.sections.parts import part_blocks
from monitor.report.view import CustomerWeek
from monitor.report.words import MISSING, PaperWords

#: Changes listed one by one.
MOST_CHANGES = 30


def sections(
    view: CustomerWeek, words: PaperWords, colour: str, before: tuple[SentReport, list[FigureChange]] | None
) -> tuple[Block, ...]:
    """Return the blocks of a report; `before` is the report that was sent and what has changed since."""
    blocks: list[Block] = [Heading(1, words["summary"]), Text(_summary(view, words), listed=True)]
    if before is not None:
        blocks += _changes(*before, words)
    blocks += _overview(view, words)
    for part in rows_of(view.tables["parts"]):
        blocks += part_blocks(view, words, colour, part)
    blocks += [*lots(view, words), *complaints(view, words), *holds(view, words)]
    closing, traced = [*_methods(view, words), *_sign(words)], containers(view, words)
    # A list of containers is long and goes behind the signatures; that there are none is one sentence.
    return (*blocks, *traced, *closing) if view.tables["containers"].empty else (*blocks, *closing, *traced)


def _summary(view: CustomerWeek, words: PaperWords) -> tuple[str, ...]:
    parts = view.tables["parts"]
    made, told = ((parts[names].fillna(0) > 0).to_numpy().any() for names in (["made", "shipped"], ["complaints"]))
    if not made and not view.read:
        first = words["not_read"]
    elif not made and not told and view.tables["complaints"].empty:
        first = words["nothing"]
    else:
        first = words(
            "sum_output",
            made=words.number(parts["made"].sum()),
            parts=len(parts),
            good=words.number(parts["good"].sum(skipna=False)),
            shipped=words.number(parts["shipped"].sum(skipna=False)),
            shipments=len({name for names in view.tables["containers"]["shipment_id"] for name in names}),
        )
    return (
        first,
        _sum_ppm(view, words),
        _sum_cause(view, words),
        _sum_capability(view, words),
        _sum_material(view, words),
    )


def _sum_ppm(view: CustomerWeek, words: PaperWords) -> str:
    total = view.total
    if pd.isna(total["ppm_theirs"]):
        return words("sum_no_ppm", pieces=words.number(total["complaint_pieces"]))
    return words(
        "sum_ppm",
        pieces=words.number(total["complaint_pieces"]),
        ppm=words.ppm(total["ppm_theirs"]),
        low=words.ppm(total["theirs_low"]),
        high=words.ppm(total["theirs_high"]),
        ours=words.number(total["accepted_pieces"]),
        disputed=words.number(total["disputed"]),
    )


def _sum_cause(view: CustomerWeek, words: PaperWords) -> str:
    rejects = view.tables["rejects"]
    if rejects.empty:
        return words["sum_not_inspected"]
    if not rejects["rejected"].any():
        looked = rejects.drop_duplicates(["part_no", "kind"])["inspected"].sum()
        return words("sum_no_cause", inspected=words.number(looked))
    worst = rejects.sort_values("rejected", ascending=False, kind="stable").iloc[0]
    return words(
        "sum_cause",
        cause=cause_of(worst),
        part=worst["part_no"],
        rejected=words.number(worst["rejected"]),
        inspected=words.number(worst["inspected"]),
        rate=words.percent(worst["rate"]),
    )


def _sum_capability(view: CustomerWeek, words: PaperWords) -> str:
    rows = [row for row in rows_of(view.tables["capability"]) if row["n"]]
    if not rows:
        return words["sum_no_capability"]
    return words("sum_capability", proven=sum(not doubts(row, words) for row in rows), all=len(rows))


def _sum_material(view: CustomerWeek, words: PaperWords) -> str:
    lots, holds = view.tables["lots"], view.tables["holds"]
    shipped = lots[lots["shipped_pieces"] != 0]
    return words(
        "sum_material",
        lots=shipped.loc[shipped["lot"] != "", "lot"].nunique(),
        heats=shipped.loc[shipped["heat"] != "", "heat"].nunique(),
        containers=view.tables["containers"]["container_id"].nunique(),
        holds=", ".join(holds["hold_id"]) or words["none"],
    )


def _changes(sent: SentReport, changes: list[FigureChange], words: PaperWords) -> list[Block]:
    heading = Heading(1, words("changes", when=words.day(sent.sent_at), version=sent.version))
    if not changes:
        return [heading, Text((words["no_changes"],))]
    columns = (
        GridColumn(words["figure"], width=3),
        GridColumn(words["was"], True, 1),
        GridColumn(words["is"], True, 1),
    )
    rows = tuple(
        (named(change.name, words), figure_text(change.was, words), figure_text(change.now, words))
        for change in changes[:MOST_CHANGES]
    )
    more = len(changes) - len(rows)
    rest = [Text((words("more_changes", n=more),), small=True)] if more > 0 else []
    return [heading, Grid(columns, rows), *rest]


def figure_text(value: str, words: PaperWords) -> str:
    """Return a value of the register as it is written: a count in the reader's way, a dash where there is none."""
    return words.number(int(value)) if value.isdecimal() else value or MISSING


def named(name: str, words: PaperWords) -> str:
    """Return what a figure of the register is called: `parts|B-7|made` is B-7, Made."""
    table, *where, column = name.split("|")
    places = [words[part] if table == "rejects" and part in ("full", "sample", "tub") else part for part in where]
    return ", ".join([*(place for place in places if place), words[column]])


_COUNTED = ("made", "good", "shipped", "complaint_pieces")


def _overview(view: CustomerWeek, words: PaperWords) -> list[Block]:
    parts = rows_of(view.tables["parts"])
    if not parts:
        return []
    labels = [GridColumn(words["part"], width=2.2), *(GridColumn(words[name], True) for name in _COUNTED)]
    labels += [
        GridColumn(words["ppm_theirs"], True),
        GridColumn(words["interval"], True),
        GridColumn(words["ppm_ours"], True),
    ]
    rows = [(title_of(row), *_figures(row, words)) for row in parts]
    if len(parts) > 1:
        rows.append((words["total"], *_figures(view.total, words)))
    return [Heading(1, words["all_parts"]), Grid(tuple(labels), tuple(rows), total=len(parts) > 1)]


def _figures(row: Row, words: PaperWords) -> tuple[str, ...]:
    counts = tuple(words.number(row[name]) for name in _COUNTED)
    ends = span(row["theirs_low"], row["theirs_high"], words)
    return (*counts, words.ppm(row["ppm_theirs"]), ends, words.ppm(row["ppm_ours"]))


def _methods(view: CustomerWeek, words: PaperWords) -> list[Block]:
    rows = ", ".join(f"{table} {words.number(count)}" for table, count in view.set_aside.items())
    tables = view.tables
    shown = {
        "method_pieces": True,
        "method_ppm": True,
        "method_charts": not tables["rejects"].empty,
        "method_capability": bool((tables["capability"]["n"] > 0).any()),
        "method_trace": not tables["lots"].empty,
    }
    lines = (
        *(words[name] for name, used in shown.items() if used),
        words("set_aside", rows=rows or words["none"]),
        words["advice"],
    )
    return [Heading(1, words["methods"]), Text(lines, small=True)]


def _sign(words: PaperWords) -> list[Block]:
    who = tuple(words[name] for name in ("prepared", "checked", "released"))
    return [Heading(1, words["sign"]), Sign(who, (words["step"], words["signature"], words["date"]))]
