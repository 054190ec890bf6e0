"""Keeps reject facts in step: books inspections anew where they, or the pieces they looked at, have changed."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from monitor.book import Book
from monitor.ledger import Writer
from monitor.reckoning.inspections import Disposition, Inspection, Pieces, merge_rechecks
from monitor.reckoning.inspections import book as book_rejects
from monitor.records import records

Record = Mapping[str, Any]

#: Days with strokes before an inspection in which its last pieces are looked for; common practice, no source.
_LOOK_BACK_DAYS = 2

_LABELS = ("shift_date", "shift", "hour_us", "die_id", "part_no", "out", "mounting_id", "setup")


def rebook(writer: Writer, book: Book, press_id: str, folded: Sequence[dt.date], looked: Iterable[dt.date]) -> None:
    """Book anew the inspections of every plant day that the folded days or changed inspections bear on."""
    days = _days(writer, press_id, folded, set(looked))
    if not days:
        return
    press = _Rejecting(writer, book, press_id)
    for day in sorted(days):
        writer.replace_rejects(press_id, day.isoformat(), press.on(day))


def _days(writer: Writer, press_id: str, folded: Sequence[dt.date], looked: set[dt.date]) -> set[dt.date]:
    days = set(looked)
    held = set(writer.inspection_days(press_id))
    if folded:
        # Inspections of later days may have looked at pieces of the days folded anew.
        days |= {day for day in held if min(folded) <= day <= max(folded)}
        days |= {dt.date.fromisoformat(day) for day in writer.reject_days(press_id, min(folded), max(folded))}
    for day in looked:
        # The next tub count begins where this one ended.
        days |= {following for following in held if following > day and following <= day + dt.timedelta(days=7)}
    return days


class _Rejecting:
    """Books the inspections of one press."""

    def __init__(self, writer: Writer, book: Book, press_id: str) -> None:
        self.writer = writer
        self.book = book
        self.press_id = press_id
        self.stroke_days = writer.stroke_days(press_id)

    def on(self, day: dt.date) -> list[tuple[object, ...]]:
        """Return the reject facts of the inspections made on one plant day."""
        begin, end = self._span(day)
        rows = records(self.writer.rows("inspections", self.press_id, begin, end))
        rows = self._with_rechecks([row for row in rows if not self._is_second_look(row)])
        if not rows:
            return []
        inspections = merge_rechecks(self._inspections(rows))
        return book_rejects(inspections, self._pieces(day, inspections))

    def _span(self, day: dt.date) -> tuple[int, int]:
        calendar = self.book.calendar
        return calendar.day_start_us(day), calendar.day_start_us(day + dt.timedelta(days=1))

    def _is_second_look(self, row: Record) -> bool:
        return bool(row["rechecks"]) and bool(self.writer.lookup("inspections", "inspection_id", [row["rechecks"]]))

    def _with_rechecks(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        """Add the second looks at these inspections, and looks at those, whenever they were made."""
        found = list(rows)
        names = {row["inspection_id"] for row in rows}
        while names:
            later = self.writer.lookup("inspections", "rechecks", sorted(names))
            names = {row["inspection_id"] for row in later} - {row["inspection_id"] for row in found}
            found += [row for row in later if row["inspection_id"] in names]
        return found

    def _inspections(self, rows: Sequence[Record]) -> list[Inspection]:
        grouped: dict[str, list[Record]] = defaultdict(list)
        for row in rows:
            grouped[row["inspection_id"]].append(row)
        names = sorted(grouped)
        decided = self._dispositions(names)
        boxes = self._containers(rows)
        tubs = self._tub_times(rows)
        return [self._inspection(grouped[name], decided.get(name, ()), boxes, tubs) for name in names]

    def _inspection(
        self,
        rows: Sequence[Record],
        decided: Sequence[Disposition],
        boxes: Mapping[str, Record],
        tubs: Sequence[int],
    ) -> Inspection:
        first = rows[0]
        rejected: dict[str, int] = defaultdict(int)
        for row in rows:
            rejected[row["cause"] or ""] += row["rejected"]
        return Inspection(
            first["inspection_id"],
            first["time"],
            first["kind"],
            first["inspected"],
            dict(rejected),
            part_no=first["part_no"] or "",
            out=first["out"],
            span_us=_made_in(first, boxes, tubs),
            rechecks=first["rechecks"] or "",
            scope=first["scope"] or "",
            used_up=max((row["used_up"] or 0 for row in rows), default=0),
            dispositions=tuple(decided),
            held_in=self._held_in(first["time"]),
        )

    def _held_in(self, us: int) -> tuple[str, str, int]:
        calendar = self.book.calendar
        windows = calendar.shifts(self.press_id, us, us + 1)
        hours = calendar.hour_starts(us - 7_200_000_000, us + 1)
        if windows:
            return windows[0].shift_date.isoformat(), windows[0].shift, hours[-1]
        return calendar.plant_day(us).isoformat(), "", hours[-1]

    def _dispositions(self, names: Sequence[str]) -> dict[str, list[Disposition]]:
        found: dict[str, list[Disposition]] = defaultdict(list)
        rows = self.writer.lookup("dispositions", "inspection_id", names)
        for row in sorted(rows, key=lambda r: (r["time"], r["disposition_id"])):
            found[row["inspection_id"]].append(Disposition(row["cause"] or "", row["outcome"], row["pieces"]))
        return found

    def _containers(self, rows: Sequence[Record]) -> dict[str, Record]:
        names = sorted({row["container_id"] for row in rows if row["container_id"]})
        found = self.writer.lookup("containers", "container_id", names)
        return {row["container_id"]: row for row in found if row["press_id"] == self.press_id}

    def _tub_times(self, rows: Sequence[Record]) -> list[int]:
        if not any(row["kind"] == "tub" for row in rows):
            return []
        return sorted(self.writer.tub_times(self.press_id, max(row["time"] for row in rows)))

    def _pieces(self, day: dt.date, inspections: Sequence[Inspection]) -> Pieces:
        place = max(0, bisect_left(self.stroke_days, day) - _LOOK_BACK_DAYS)
        reach = self.stroke_days[place] if self.stroke_days else day
        starts = [self.book.calendar.plant_day(i.span_us[0]) for i in inspections if i.span_us and i.span_us[0] > 0]
        begun = min([reach, day, *starts]) - dt.timedelta(days=1)
        if any(i.span_us and i.span_us[0] <= 0 for i in inspections):
            begun = dt.date.min
        return as_pieces(self.writer.facts("pieces", from_date=begun, to_date=None, press_id=self.press_id))


def _made_in(row: Record, boxes: Mapping[str, Record], tubs: Sequence[int]) -> tuple[int, int] | None:
    """Return the span [us] in which the inspected pieces were made, where something tells it."""
    if row["made_from"] is not None or row["made_to"] is not None:
        return row["made_from"] or 0, row["made_to"] or row["time"]
    box = boxes.get(row["container_id"] or "")
    if box is not None:
        return box["opened_at"], box["closed_at"] or row["time"]
    if row["kind"] == "tub":
        before = tubs[: bisect_left(tubs, row["time"])]
        return before[-1] if before else 0, row["time"]
    return None


def as_pieces(facts: pd.DataFrame) -> Pieces:
    """Turn piece facts into the arrays that inspections are booked to."""
    facts = facts.sort_values(["from_us", "out", "stroke_from"], kind="stable")
    return Pieces(
        from_us=facts["from_us"].to_numpy(np.int64),
        to_us=facts["to_us"].to_numpy(np.int64),
        pieces=facts["pieces"].to_numpy(np.int64),
        setup=facts["setup"].to_numpy(np.int64),
        out=facts["out"].to_numpy(np.int64),
        part_no=facts["part_no"].to_numpy(object),
        die_id=facts["die_id"].to_numpy(object),
        mounting_id=facts["mounting_id"].to_numpy(object),
        stroke_from=facts["stroke_from"].to_numpy(np.int64),
        labels=list(facts[list(_LABELS)].itertuples(index=False, name=None)),
    )
