"""More pieces rejected or inspected than there were."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import pandas as pd

from monitor.figures.contradictions.boxes import Boxes
from monitor.figures.contradictions.decided import beyond_rejected
from monitor.figures.contradictions.found import DECIDED, REJECTED, SAMPLE, Contradiction, Names, named, places
from monitor.figures.contradictions.inspections import BookedRejects, InspectionRecord, inspections_by_id
from monitor.figures.contradictions.made import PiecesMade
from monitor.figures.output.totals import HOUR, SHIFT, totals
from monitor.figures.question import Question
from monitor.ledger import Snapshot
from shared.phrases import Phrase, phrase


def counted(question: Question) -> Iterator[Contradiction]:
    """Yield inspections that looked at more pieces than there were, and those that reject more than were made.

    Looked at are the inspections of the range, and all that were booked to rows of `shifts` and `hours` which come out
    below 0.
    """
    snapshot, asked = question.snapshot, question.scope
    shifts = list(_cells(question, SHIFT))
    hours = [cell for cell in _cells(question, HOUR) if not cell.is_released]
    cells = [*shifts, *hours]
    behind = {name for cell in cells for name in cell.inspections}
    rows = snapshot.placed_between("inspections", asked.from_us, asked.to_us, press_id=asked.press)
    rows += snapshot.placed("inspections", "inspection_id", behind - {row.row["inspection_id"] for row in rows})
    booked, made = BookedRejects(snapshot, question.book.calendar), PiecesMade(snapshot, question.book)
    looks = inspections_by_id(rows, booked)
    found = [*_by_look(snapshot, looks, made, booked)]
    explained: set[str] = set()
    for one in found:
        explained |= set(one.inspections)
        mine = [cell.shifts for cell in cells if not cell.inspections.isdisjoint(one.inspections)]
        yield replace(one, shifts=frozenset[tuple[str, str]]().union(*mine) if one.code == REJECTED else frozenset())
    for cell in shifts:
        if cell.is_released:
            yield from _released(snapshot, cell)
        elif cell.is_placed and explained.isdisjoint(cell.inspections):
            yield from _by_cell(snapshot, cell, looks, made)
    # An hour is named where its shift is not, and an inspection of several hours once.
    explained = explained.union(*(cell.inspections for cell in shifts))
    for cell in hours:
        if cell.is_placed and explained.isdisjoint(cell.inspections):
            yield from _by_cell(snapshot, cell, looks, made)
            explained |= cell.inspections


# Rows of `shifts` and `hours` that come out below 0


@dataclass(frozen=True)
class _Cell:
    """A row of `shifts` or `hours` that cannot be: where it is, its pieces, and the inspections booked to it."""

    shifts: frozenset[tuple[str, str]]
    press_id: str
    die_id: str
    part_no: str
    pieces: int
    lost: int
    is_released: bool
    inspections: frozenset[str]

    @property
    def is_placed(self) -> bool:
        """Whether the pieces were found; of the others nobody knows which they were."""
        return self.die_id != ""


def _cells(question: Question, key: list[str]) -> Iterator[_Cell]:
    rejects = question.facts("rejects")
    # Times and strokes have no part in what comes out below 0.
    time, strokes = (question.snapshot.facts(kind, where=("press_id", ())) for kind in ("time", "strokes"))
    table = totals(time, strokes, question.facts("pieces"), rejects, key)
    bad = table[table["good"].isna()]
    if bad.empty:
        return
    mine = dict(list(rejects.groupby(key)))
    for row in bad.to_dict("records"):
        booked = mine.get(tuple(row[name] for name in key), rejects.iloc[:0])
        released = bool(pd.isna(row["setup_pieces"]))
        acts = booked["released"] != 0 if released else booked["rejected"] + booked["reworked"] > 0
        lost = int(row["rejected"] + row["reworked"] + (0 if released else row["setup_pieces"]))
        there = booked[["shift_date", "shift"]].drop_duplicates().itertuples(index=False, name=None)
        yield _Cell(
            shifts=frozenset((str(date), str(shift)) for date, shift in there),
            press_id=str(row["press_id"]),
            die_id=str(row["die_id"]),
            part_no=str(row["part_no"]),
            pieces=int(row["pieces"]),
            lost=lost,
            is_released=released,
            inspections=frozenset(booked.loc[acts, "inspection_id"]),
        )


def _by_cell(
    snapshot: Snapshot, cell: _Cell, looks: Mapping[str, InspectionRecord], made: PiecesMade
) -> Iterator[Contradiction]:
    mine = [looks[name] for name in sorted(cell.inspections) if name in looks]
    if mine and all(made.reaches(look.press_id, look.time_us) for look in mine):
        remedy = _too_many(cell.lost, cell.pieces, _places(snapshot, mine))
        yield replace(_of(REJECTED, mine, snapshot, remedy), dies=(cell.die_id,), shifts=cell.shifts)


def _released(snapshot: Snapshot, cell: _Cell) -> Iterator[Contradiction]:
    """Yield the decisions that release more setting pieces than there were in a row of `shifts`."""
    found = list(beyond_rejected(snapshot, set(cell.inspections)))
    if found:
        yield from (replace(one, shifts=cell.shifts) for one in found)
        return
    decisions = snapshot.placed("dispositions", "inspection_id", cell.inspections)
    if decisions:
        rows = places(snapshot, decisions)
        remedy = phrase(
            "Decisions release more setting pieces than die {die!r} made. Correct the pieces in {rows!r} and load with "
            "--correct.",
            die=cell.die_id,
            rows="; ".join(rows),
        )
        us = max(row.row["time"] for row in decisions)
        where = {"presses": (cell.press_id,), "dies": named(cell.die_id), "parts": named(cell.part_no)}
        names = named(*cell.inspections)
        yield Contradiction(DECIDED, us, rows, remedy, **where, inspections=names, shifts=cell.shifts)


# Inspections one by one


def _by_look(
    snapshot: Snapshot, looks: Mapping[str, InspectionRecord], made: PiecesMade, booked: BookedRejects
) -> Iterator[Contradiction]:
    boxes = Boxes(snapshot, {look.row["container_id"] for look in looks.values()} - {None})
    for look in looks.values():
        limit = _limit(look, made, boxes)
        if limit is not None and (look.row["inspected"] or 0) > limit:
            yield _of(SAMPLE, [look], snapshot, _too_large(look, limit, _places(snapshot, [look])))
        if limit is not None and look.rejected > limit:
            yield _of(REJECTED, [look], snapshot, _too_many(look.rejected, limit, _places(snapshot, [look])))
    rejecting = {look.row["container_id"] for look in looks.values() if look.rejected} - {None}
    yield from _by_box(snapshot, rejecting, made, boxes, booked)


def _limit(look: InspectionRecord, made: PiecesMade, boxes: Boxes) -> int | None:
    """Return how many pieces an inspection can speak of at most; None where that is not known, or it is not beyond."""
    row, count = look.row, max(look.row["inspected"] or 0, look.rejected)
    if not count or row["rechecks"]:
        return None
    if row["container_id"]:
        held = boxes.held(row["container_id"])
        return held if held is not None and count > held else None
    if row["kind"] == "tub" and row["made_from"] is None:
        return _since_last(look, made)
    begin, end = row["made_from"], min(row["made_to"] or look.time_us, look.time_us)
    about = (row["part_no"] or "", row["out"])
    # Where readings do not reach nobody knows what was made, so there is nothing to look back for.
    if not made.is_known(look.press_id, begin, end) or (
        begin is None and made.at_least(look.press_id, end, count, *about)
    ):
        return None
    limit = made.at_most(look.press_id, made.since(look.press_id) if begin is None else begin, end, *about)
    return limit if count > limit else None


def _since_last(look: InspectionRecord, made: PiecesMade) -> int | None:
    """Return the limit of a tub count: what was made since the last one, whose pieces it was booked to."""
    booked = look.facts[look.facts["die_id"] != ""]
    if look.rejected <= int(booked["inspected"].sum()):
        return None
    begin = made.last_count(look.press_id, look.time_us) if booked.empty else int(booked["from_us"].min())
    if begin is None or not made.is_known(look.press_id, begin, look.time_us):
        return None
    limit = made.at_most(look.press_id, begin, look.time_us, look.row["part_no"] or "", look.row["out"])
    return limit if look.rejected > limit else None


def _by_box(
    snapshot: Snapshot, names: Iterable[str], made: PiecesMade, boxes: Boxes, booked: BookedRejects
) -> Iterator[Contradiction]:
    """Yield containers of which inspections together reject more pieces than can have fallen into them."""
    for name in sorted(names):
        found = boxes.inspections(name)
        rejected = sum(row.row["rejected"] or 0 for rows in found.values() for row in rows)
        limit = boxes.filled(name, made, rejected)
        if limit is not None:
            some = [InspectionRecord(tuple(rows), booked) for rows in found.values()]
            yield _of(REJECTED, some, snapshot, _too_many(rejected, limit, _places(snapshot, some)))


# What is said


def _places(snapshot: Snapshot, looks: Iterable[InspectionRecord]) -> Names:
    return places(snapshot, [row for look in looks for row in look.rows])


def _of(code: str, looks: list[InspectionRecord], snapshot: Snapshot, remedy: str) -> Contradiction:
    rows = [row for look in looks for row in look.rows]
    boxes = named(*(look.row["container_id"] for look in looks))
    of_boxes = snapshot.placed("containers", "container_id", boxes) if boxes else []
    return Contradiction(
        code,
        max(look.time_us for look in looks),
        places(snapshot, [*rows, *of_boxes]),
        remedy,
        presses=named(*(look.press_id for look in looks)),
        dies=named(*(die for look in looks for die in look.dies)),
        parts=named(*(part for look in looks for part in look.parts)),
        coils=named(*(coil for look in looks for coil in look.coils)),
        containers=boxes,
        inspections=named(*(look.name for look in looks)),
    )


def _too_many(rejected: int, made: int, rows: Names) -> Phrase:
    return phrase(
        "{rejected} pieces were rejected or made while setting, but at most {made} can have been made. Correct the "
        "counts in {rows!r} and load with --correct, or enter the change of coil or die that is missing.",
        rejected=rejected,
        made=made,
        rows="; ".join(rows),
    )


def _too_large(look: InspectionRecord, limit: int, rows: Names) -> Phrase:
    return phrase(
        "Inspection {look!r} looked at {inspected} pieces, but there can have been {made} at most. Correct the "
        "pieces, or what it names, in {rows!r} and load with --correct.",
        look=look.name,
        inspected=look.row["inspected"],
        made=limit,
        rows="; ".join(rows),
    )
