"""What stands on an evidence sheet: what was asked, the answer, charts, coils, the rows behind it, what to add."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from monitor.charts.strip import strip_svg
from monitor.figures.judgement.bench import GIVEN, certificates
from monitor.report.blocks import Block, Grid, GridColumn, Heading, Picture, Pictures, Sign, Text
from monitor.report.evidence.drawing import rates_svg, wear_svg
from monitor.verdict import names as naming
from monitor.verdict import sentences as telling
from monitor.verdict.advice import next_test
from shared.factors import Explanation
from shared.words import Words

if TYPE_CHECKING:
    from monitor.report.evidence.sheet import Evidence

Row = Mapping[Hashable, Any]

MOST_ROWS = 500
"""Rows printed; a longer list says so, and the CSV holds all."""

_MOST_COILS = 60
_MISSING = "–"


def blocks(found: Evidence, called: Sequence[str], command: str, words: Words) -> tuple[Block, ...]:
    """Return the blocks; `called`: die and cause with their names; `command` makes the sheet again."""
    return (
        Heading(1, words.say("What was asked")),
        _asked(found, called, command, words),
        Heading(1, words.say("The answer")),
        *_answer(found, words),
        Heading(1, words.say("Charts")),
        *_charts(found, words),
        *_coils(found, words),
        *_rows(found, words),
        *_to_add(words),
    )


def _asked(found: Evidence, called: Sequence[str], command: str, words: Words) -> Grid:
    look = found.look
    loaded = clock(look.book.calendar.local_iso([found.loaded_us])[0])
    from_, to = look.asked
    first, last = from_ or words.say("the beginning"), to or words.say("the end")
    told = [
        (words.say("Die"), called[0]),
        (words.say("Cause"), called[1]),
        (words.say("Line"), naming.named(found.line.explanation, words)),
        (words.say("Range"), words.say("{since} to {until}", since=first, until=last)),
        (words.say("Presses and parts"), words.say("all")),
        (words.say("Ledger"), words.say("version {version}, loaded {at}", version=look.version, at=loaded)),
        (words.say("Method"), words.say("docs/method-verdict.md; all dies and causes looked at together")),
        (words.say("Digest of the rows"), found.digest),
        (words.say("The same again"), command),
    ]  # fmt: skip
    return Grid((GridColumn(words.say("What"), width=1), GridColumn(words.say("Value"), width=4)), tuple(told))


def _answer(found: Evidence, words: Words) -> list[Block]:
    line, shown = found.line, found.line.explanation
    where = telling.open_first(found.stations, words)
    facts = [
        f"{naming.named(shown, words)}: {telling.verdict(line.verdict, words)} ({naming.side(shown.factor, words)}).",
        f"{telling.times(line, words)}.",
        *(f"{text}." for text in (telling.pieces(line, words), telling.chance(line, words)) if text),
        telling.by_hand(found.bad, found.compared, words),
    ]
    if line.verdict in GIVEN:
        points = telling.against(line, found.bad, found.compared, words)
        facts.append(words.say("Against it: {points}", points=" ".join(points) or words.say("Nothing in these data.")))
    facts.append(words.say("Next: {test}", test=next_test(line.next_test, words)))
    facts += [where, words.say(telling.CAUTION)] if where else []
    facts = [fact[:1].upper() + fact[1:] for fact in facts]
    return [Text(tuple(facts)), Heading(2, words.say("All lines of this die and cause")), _lines(found, words)]


def _lines(found: Evidence, words: Words) -> Grid:
    columns = (
        GridColumn(words.say("Verdict"), width=1.3),
        GridColumn(words.say("Line"), width=3),
        GridColumn(words.say("Times"), number=True, width=1),
        GridColumn(words.say("95 % interval"), number=True, width=1.4),
        GridColumn(words.say("Rejected"), number=True, width=1),
        GridColumn(words.say("Inspected"), number=True, width=1.2),
        GridColumn(words.say("False alarm"), width=2.4),
    )
    rows = [
        (
            telling.verdict(line.verdict, words),
            _line_name(line.explanation, words),
            _ratio(line.rate_ratio, words),
            f"{_ratio(line.ratio_low, words)} – {_ratio(line.ratio_high, words)}",
            words.number(line.rejected),
            words.number(line.inspected),
            telling.chance(line, words) or _MISSING,
        )
        for line in found.case.lines
    ]
    return Grid(columns, tuple(rows))


def _line_name(explanation: Explanation, words: Words) -> str:
    return f"{naming.factor(explanation.factor, words)}: {naming.level(explanation, words)}"


def _charts(found: Evidence, words: Words) -> list[Block]:
    told, suspect = found.case, set(found.bad["coil_id"]) - {""}
    summary = words.say(
        "{n} coils in the order run, {beyond} of them beyond the limits; usual rate {usual}.",
        n=words.number(len(told.coils)),
        beyond=words.number(int(told.coils["outside"].sum())),
        usual=words.per_cent(float(told.coils["usual"].iloc[0]), 3),
    )
    key = words.say(
        "Dots: coils with their 95 % interval, filled where they belong to the line. Thin line: usual rate; dashed: "
        "limits; thick: what wear alone would give. Triangles: sharpenings; blocks: lots; shaded: where the level "
        "changed."
    )
    drawn: list[Block] = [Pictures((Picture(rates_svg(told, suspect, words), summary, f"{summary} {key}"),))]
    bins = pd.DataFrame({name: getattr(told.wear, name) for name in _WEAR})
    if (bins["inspected"] > 0).any():
        text = words.say("Scrap rate by strokes since sharpening, with its 95 % interval.")
        drawn.append(Pictures((Picture(wear_svg(bins, words), text, text),)))
    if len(found.stations):
        text = words.say("The strip, station by station; framed: stations that can make it, in the order of opening.")
        shown = found.stations.assign(due_share=np.nan, below="")
        drawn.append(Pictures((Picture(strip_svg(shown, words=words), text, text),)))
    return drawn


_WEAR = ("strokes_from", "strokes_to", "inspected", "rejected", "rate", "rate_low", "rate_high")


def _coils(found: Evidence, words: Words) -> list[Block]:
    """The coils on the bad side, one by one, and their certificate values."""
    mine = set(found.bad["mounting_id"])
    coils = found.case.coils[found.case.coils["mounting_id"].isin(mine)]
    columns = (
        GridColumn(words.say("Coil")),
        GridColumn(words.say("Lot")),
        GridColumn(words.say("Heat")),
        GridColumn(words.say("Supplier")),
        GridColumn(words.say("Press")),
        GridColumn(words.say("First piece")),
        GridColumn(words.say("Rejected"), number=True),
        GridColumn(words.say("Inspected"), number=True),
        GridColumn(words.say("Rate"), number=True),
        GridColumn(words.say("95 % interval"), number=True),
    )
    shown = coils.head(_MOST_COILS)
    local = found.look.book.calendar.local_iso(shown["from_us"].tolist())
    rows = [_coil(row, at, words) for row, at in zip(shown.to_dict("records"), local, strict=True)]
    text = words.say(
        "Coils that rows of this line come from: {n}. Whole coils, whatever part of them the line is about.",
        n=words.number(len(coils)),
    )
    return [
        Heading(1, words.say("Coils")), Text((text,), small=True), Grid(columns, tuple(rows)),
        *_certificates(found, words),
    ]  # fmt: skip


def _coil(row: Row, at: str, words: Words) -> tuple[str, ...]:
    names = tuple(str(row[name]) or _MISSING for name in ("coil_id", "lot", "heat", "supplier", "press_id"))
    between = f"{words.per_cent(row['rate_low'], 2)} – {words.per_cent(row['rate_high'], 2)}"
    counts = (words.number(row["rejected"]), words.number(row["inspected"]), words.per_cent(row["rate"], 3))
    return (*names, clock(at), *counts, between)


def _certificates(found: Evidence, words: Words) -> list[Block]:
    """Each value's mean over the coils of the line and over the others, since a step within tolerance still tells."""
    table = certificates(found.case)
    if table.empty:
        return []
    mine = table["coil_id"].isin(set(found.bad["coil_id"]))
    rows = []
    for (name, source), part in table.groupby(["property", "source"], sort=False):
        called = naming.certificate(f"{name}_{source}" if source else str(name), words)
        sides = (part[mine[part.index]]["value"], part[~mine[part.index]]["value"])
        rows.append((called, *(_spread(values, words) for values in sides)))
    columns = (
        GridColumn(words.say("Certificate value or own test"), width=2),
        GridColumn(words.say("coils of the line"), number=True, width=2),
        GridColumn(words.say("other coils"), number=True, width=2),
    )
    return [Heading(2, words.say("Certificate values: mean, lowest to highest")), Grid(columns, tuple(rows))]


def _spread(values: pd.Series, words: Words) -> str:
    if values.empty:
        return _MISSING
    low, high = _number(values.min(), 3, words), _number(values.max(), 3, words)
    return f"{_number(values.mean(), 3, words)} ({low} – {high})"


def _rows(found: Evidence, words: Words) -> list[Block]:
    told = found.rows[found.rows["side"] == "bad"]
    shown = told.head(MOST_ROWS)
    notes = [telling.by_hand(found.bad, found.compared, words)]
    if len(told) > len(shown):
        text = "The first {shown} of {all} rows; the CSV holds all of them, and those they are compared with."
        notes.append(words.say(text, shown=words.number(len(shown)), all=words.number(len(told))))
    columns = (
        GridColumn(words.say("Inspection")), GridColumn(words.say("Until")), GridColumn(words.say("Press")),
        GridColumn(words.say("Coil")), GridColumn(words.say("Lot")), GridColumn(words.say("Metre"), number=True),
        GridColumn(words.say("Since sharpening"), number=True), GridColumn(words.say("Inspected"), number=True),
        GridColumn(words.say("Rejected"), number=True), GridColumn(words.say("Expected"), number=True),
    )  # fmt: skip
    rows = [_evidence(row, words) for row in shown.to_dict("records")]
    return [Heading(1, words.say("The rows behind it")), Text(tuple(notes)), Grid(columns, tuple(rows))]


def _evidence(row: Row, words: Words) -> tuple[str, ...]:
    names = tuple(str(row[name]) or _MISSING for name in ("press_id", "coil_id", "lot"))
    numbers = (
        _number(row.get("head_m", np.nan), 0, words), _number(row["strokes_since_sharpening"], 0, words),
        words.number(row["inspected"]), words.number(row["rejected"]), words.number(row["expected"], 1),
    )  # fmt: skip
    return (str(row["inspection_id"]), clock(str(row["to_at"])), *names, *numbers)


def _to_add(words: Words) -> list[Block]:
    """What a claim usually also needs and no counter knows; common practice, no source."""
    rows = (
        words.say("Delivery date and order"),
        words.say("Photo of the tag and of the coil as received"),
        words.say("Fault: side, edge, metre, length, repeat distance"),
        words.say("Weight rejected, and weight kept unprocessed"),
        words.say("When it was first seen, and when running was stopped"),
        words.say("Measured thickness, width, hardness: gauge and place"),
        words.say("Strip kept: both edges and rolling direction marked"),
    )
    note = words.say("This sheet gives numbers. It does not say whose fault it is, nor that anything is fit to ship.")
    columns = (words.say("To be added by hand"), words.say("By, date"))
    return [Heading(1, words.say("What a claim also needs")), Sign(rows, columns), Text((note,), small=True)]


def _ratio(value: float, words: Words) -> str:
    return _MISSING if pd.isna(value) else words.number(value, 2)


def clock(iso: str) -> str:
    """Return date and clock time of an ISO text on one line: "2026-10-22 23:00"."""
    return iso[:16].replace("T", "\u00a0")


def _number(value: Any, digits: int, words: Words) -> str:
    if pd.isna(value):
        return _MISSING
    text = words.number(float(value), digits)
    return text.rstrip("0").rstrip(words.decimal_sign) if digits else text
