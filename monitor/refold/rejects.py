"""Keeps reject facts up to date: books inspections again where they, or the pieces they inspected, have changed."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from operator import attrgetter

import numpy as np
import numpy.typing as npt

from monitor.ledger import Writer
from monitor.plant.book import Book, Record
from monitor.plant.records import piece_facts, records
from monitor.reckoning.pieces.account import in_order
from monitor.reckoning.pieces.booking import book as book_rejects
from monitor.reckoning.pieces.containers import Repack
from monitor.reckoning.pieces.inspected_pieces import Pieces
from monitor.reckoning.pieces.inspections import Disposition, Inspection
from monitor.reckoning.pieces.rechecks import merge_rechecks
from shared.facts import PieceFact, RejectFact

PieceFacts = Mapping[dt.date, Sequence[PieceFact]]

#: Days with strokes before an inspection in which its last pieces are looked for; common practice, no source.
_LOOK_BACK_DAYS = 2

#: Days booked at once.
_DAYS_AT_ONCE = 14


def rebook(writer: Writer, book: Book, press_id: str, folded: PieceFacts, looked: Collection[dt.date]) -> None:
    """Book the inspections again that folded days (with their pieces) or changed inspections affect."""
    days = sorted(_days(writer, press_id, folded, looked))
    press = _Rejecting(writer, book, press_id, folded)
    for at in range(0, len(days), _DAYS_AT_ONCE):
        writer.replace_rejects(press_id, press.on(days[at : at + _DAYS_AT_ONCE]))


def _days(writer: Writer, press_id: str, folded: PieceFacts, looked: Collection[dt.date]) -> set[dt.date]:
    days = set(looked)
    first = min([*folded, *looked], default=None)
    if first is None:
        return days
    held = writer.inspection_days(press_id, first)
    if folded:
        last = max(folded)
        days.update(day for day in held if day <= last)
        # Inspections of later days may have looked at pieces of the days folded anew.
        days.update(dt.date.fromisoformat(day) for day in writer.reject_days(press_id, first, last))
    if looked:
        # The next tub count begins where the one before it ended.
        days.update([day for day in held if day > max(looked)][:_LOOK_BACK_DAYS])
    return days


class _Rejecting:
    """Books the inspections of one press."""

    def __init__(self, writer: Writer, book: Book, press_id: str, folded: PieceFacts) -> None:
        self.writer = writer
        self.book = book
        self.press_id = press_id
        self.folded = folded
        self.stroke_days = writer.stroke_days(press_id)
        self._sources: dict[str, list[tuple[Record, int]]] = {}

    def on(self, days: Sequence[dt.date]) -> dict[str, list[RejectFact]]:
        """Return the reject facts of the inspections made on some plant days, by day."""
        calendar = self.book.calendar
        begin = calendar.day_start_us(days[0])
        end = calendar.day_start_us(days[-1] + dt.timedelta(days=1))
        rows = records(self.writer.rows("inspections", self.press_id, begin, end))
        booked: dict[str, list[Inspection]] = {day.isoformat(): [] for day in days}
        for inspection in self._inspections(self._with_rechecks(rows)):
            booked.get(calendar.plant_day(inspection.time_us).isoformat(), []).append(inspection)
        pieces = self._pieces(days, [inspection for found in booked.values() for inspection in found])
        return {day: book_rejects(found, pieces) for day, found in booked.items()}

    def _with_rechecks(self, rows: Sequence[Record]) -> list[Record]:
        """Add the looks that some rows are rechecks of, and all rechecks of those, whenever and wherever made."""
        found = list(rows)
        ahead = names = {row["inspection_id"] for row in rows}
        back = {row["rechecks"] for row in rows if row["rechecks"]} - names
        while ahead or back:
            new = [row for row in self._looks(back, ahead) if row["inspection_id"] not in names]
            found += new
            ahead = {row["inspection_id"] for row in new}
            names = names | ahead
            back = {row["rechecks"] for row in new if row["rechecks"]} - names
        return found

    def _looks(self, names: Collection[str], rechecked: Collection[str]) -> list[Record]:
        """Return the rows of looks of some names, and of looks that are rechecks of some."""
        of_name = self.writer.lookup("inspections", "inspection_id", sorted(names)) if names else []
        of_first = self.writer.lookup("inspections", "rechecks", sorted(rechecked)) if rechecked else []
        return [*of_name, *(row for row in of_first if row["inspection_id"] not in names)]

    def _inspections(self, rows: Sequence[Record]) -> list[Inspection]:
        grouped: dict[str, list[Record]] = defaultdict(list)
        for row in rows:
            grouped[row["inspection_id"]].append(row)
        decided = self._dispositions(sorted(grouped))
        boxes = self._containers(rows)
        tubs = self._tub_times(rows)
        looks = [self._inspection(grouped[name], decided.get(name, ()), boxes, tubs) for name in sorted(grouped)]
        here = {name for name, mine in grouped.items() if mine[0]["press_id"] == self.press_id}
        return [look for look in merge_rechecks(looks) if look.inspection_id in here]

    def _inspection(
        self, rows: Sequence[Record], decided: Sequence[Disposition], boxes: Mapping[str, Record], tubs: Sequence[int]
    ) -> Inspection:
        first = rows[0]
        rejected: dict[str, int] = defaultdict(int)
        for row in rows:
            rejected[row["cause"] or ""] += row["rejected"]
        # An inspection of a container speaks of what is in it, whether or not it repeats the part and the out.
        box = boxes.get(first["container_id"] or "", {})
        return Inspection(
            inspection_id=first["inspection_id"],
            time_us=first["time"],
            kind=first["kind"],
            inspected=first["inspected"],
            rejected=dict(sorted(rejected.items())),
            part_no=first["part_no"] or box.get("part_no") or "",
            out=box.get("out") if first["out"] is None else first["out"],
            spans_us=_made_in(first, boxes, self._sources, tubs),
            rechecks=first["rechecks"] or "",
            scope=first["scope"] or "",
            used_up=max(row["used_up"] or 0 for row in rows),
            dispositions=tuple(decided),
            held_in=self._held_in(first["time"]),
        )

    def _held_in(self, us: int) -> tuple[str, str, int]:
        calendar = self.book.calendar
        hour = calendar.hour_starts(us - 7_200_000_000, us + 1)[-1]
        for window in calendar.shifts(self.press_id, us, us + 1):
            return window.shift_date.isoformat(), window.shift, hour
        return calendar.plant_day(us).isoformat(), "", hour

    def _dispositions(self, names: Sequence[str]) -> dict[str, list[Disposition]]:
        found: dict[str, list[Disposition]] = defaultdict(list)
        rows = self.writer.lookup("dispositions", "inspection_id", names)
        for row in sorted(rows, key=lambda r: (r["time"], r["disposition_id"])):
            decided = Disposition(row["cause"] or "", row["outcome"], row["pieces"], row["time"])
            found[row["inspection_id"]].append(decided)
        return found

    def _containers(self, rows: Sequence[Record]) -> dict[str, Record]:
        names = sorted({row["container_id"] for row in rows if row["container_id"]})
        self._sources = {name: self._packed_from(name) for name in names}
        return {row["container_id"]: row for row in self._at_press(names)}

    def _packed_from(self, name: str) -> list[tuple[Record, int]]:
        """Return the containers of this press whose pieces were packed over into one, at any remove, and since when."""
        moves: dict[tuple[int, str, str], Repack] = {}
        names, seen = {name}, {name}
        while names:
            for row in self.writer.lookup("repacks", "to_container", sorted(names)):
                key = (row["time"], row["from_container"], row["to_container"])
                moves[key] = Repack(*key, row["quantity"])
            names = {source for _, source, _ in moves} - seen
            seen |= names
        since: dict[str, dict[str, int]] = defaultdict(dict)
        for move in in_order(moves.values()):
            for source in (move.from_container, *since[move.from_container]):
                since[move.to_container].setdefault(source, move.time_us)
        rows = self._at_press(sorted(set(since[name]) - {name}))
        return [(row, since[name][row["container_id"]]) for row in rows]

    def _at_press(self, names: Sequence[str]) -> list[Record]:
        found = self.writer.lookup("containers", "container_id", names) if names else []
        return [row for row in found if row["press_id"] == self.press_id]

    def _tub_times(self, rows: Sequence[Record]) -> list[int]:
        times = [row["time"] for row in rows if row["kind"] == "tub"]
        return self.writer.tub_times(self.press_id, max(times)) if times else []

    def _pieces(self, days: Sequence[dt.date], inspections: Sequence[Inspection]) -> Pieces:
        """Return the pieces that inspections of some days may have looked at, from the folds at hand if they reach."""
        starts = [begin for i in inspections for begin, _ in i.spans_us]
        moments = [i.before_us for i in inspections if i.before_us is not None]
        first = min([days[0], *(self.book.calendar.plant_day(us) for us in moments)])
        place = max(0, bisect_left(self.stroke_days, first) - _LOOK_BACK_DAYS)
        reach = [first, *self.stroke_days[place : place + 1], *(self.book.calendar.plant_day(us) for us in starts)]
        begun, ended = min(reach), max([days[-1], *(self.book.calendar.plant_day(i.time_us) for i in inspections)])
        wanted = [day for day in self.stroke_days if begun <= day <= ended]
        if all(day in self.folded for day in wanted):
            return as_pieces([row for day in wanted for row in self.folded[day]])
        before, after = begun - dt.timedelta(days=1), ended + dt.timedelta(days=2)
        facts = self.writer.facts("pieces", from_date=before, to_date=after, press_id=self.press_id)
        return as_pieces(piece_facts(facts))


def _made_in(
    row: Record,
    boxes: Mapping[str, Record],
    sources: Mapping[str, Sequence[tuple[Record, int]]],
    tubs: Sequence[int],
) -> tuple[tuple[int, int], ...]:
    """Return the spans [us] in which the inspected pieces were made, none where nothing tells it.

    What was packed over by then was made while the containers it came from stood open.
    """
    if row["made_from"] is not None or row["made_to"] is not None:
        return ((row["made_from"] or 0, row["made_to"] or row["time"]),)
    name = row["container_id"] or ""
    filled = [box for box, since_us in sources.get(name, ()) if since_us <= row["time"]]
    if not filled and not _was_at_press(boxes.get(name)):
        # There was nothing else in it: the repack was noted late.
        filled = [box for box, _ in sources.get(name, ())]
    if name in boxes and (not filled or boxes[name]["closed_at"] is not None):
        filled.append(boxes[name])
    if filled:
        return tuple((box["opened_at"], box["closed_at"] or row["time"]) for box in filled)
    if row["kind"] == "tub":
        before = tubs[: bisect_left(tubs, row["time"])]
        return ((before[-1] if before else 0, row["time"]),)
    return ()


def _was_at_press(box: Record | None) -> bool:
    return box is not None and box["closed_at"] != box["opened_at"]


def as_pieces(facts: Sequence[PieceFact]) -> Pieces:
    """Turn piece facts into the arrays that inspections are booked to, in order of time."""
    ordered = sorted(facts, key=attrgetter("from_us", "out", "stroke_from"))

    def whole(name: str) -> npt.NDArray[np.int64]:
        return np.array(list(map(attrgetter(name), ordered)), dtype=np.int64)

    def named(name: str) -> npt.NDArray[np.object_]:
        return np.array(list(map(attrgetter(name), ordered)), dtype=object)

    return Pieces(
        from_us=whole("from_us"),
        to_us=whole("to_us"),
        pieces=whole("pieces"),
        setup=whole("setup"),
        out=whole("out"),
        part_no=named("part_no"),
        die_id=named("die_id"),
        mounting_id=named("mounting_id"),
        stroke_from=whole("stroke_from"),
        facts=ordered,
    )
