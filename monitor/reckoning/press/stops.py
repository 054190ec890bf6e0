"""Stops split by shift, break and entered reason; what nobody explained keeps no reason."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from monitor.reckoning.press.press_day import EnteredStop, Plan, PressDay, Reason
from shared.calendar import ShiftWindow
from shared.durations import MINUTE_US, SECOND_US

NO_REASON = "no reason yet"
BREAK = "break"
CLOSED = "closed day"
NO_SHIFT = "no shift"

#: How long before the counter shows it a person may note a stop that has no end yet [us]; common practice, no source.
NOTED_EARLY_US = 10 * MINUTE_US


@dataclass(frozen=True)
class StopPiece:
    """A stretch of a stop [us] in one shift with one reason; `in_plan` if it counts as stopped in planned time."""

    stop_us: int
    from_us: int
    to_us: int
    shift_date: str
    shift: str
    reason: str
    kind: str
    in_plan: bool


class PlanIndex:
    """Finds shift, break, clock hour and plant day of a moment inside one plan."""

    def __init__(self, plan: Plan) -> None:
        self._windows = plan.windows
        self._starts = [window.start_us for window in plan.windows]
        self._hours = plan.hours_us
        self._day_starts = [start for start, _ in plan.days]
        self._days = [day for _, day in plan.days]
        edges = {edge for w in plan.windows for edge in (w.start_us, w.end_us, *(e for b in w.breaks for e in b))}
        self._silent = plan.silent
        self.edges_us = sorted(edges.union(plan.silent or ()))

    def window(self, us: int) -> ShiftWindow | None:
        """Return the shift that holds a moment [us], if any."""
        at = bisect_right(self._starts, us) - 1
        return self._windows[at] if at >= 0 and us < self._windows[at].end_us else None

    def longest_us(self, from_us: int, to_us: int, otherwise_us: int) -> int:
        """Return the length [us] of the longest shift with time in [from, to) [us], `otherwise_us` without any."""
        first = max(0, bisect_right(self._starts, from_us) - 1)
        met = (w for w in self._windows[first : bisect_left(self._starts, to_us)] if w.end_us > from_us)
        return max((window.end_us - window.start_us for window in met), default=otherwise_us)

    def shift(self, us: int) -> tuple[str, str]:
        """Return shift date and shift of a moment [us]; outside the plan its plant day and no shift."""
        window = self.window(us)
        if window is not None:
            return window.shift_date.isoformat(), window.shift
        return self._days[max(0, bisect_right(self._day_starts, us) - 1)], ""

    def hour(self, us: int) -> int:
        """Return the start [us] of the clock hour that holds a moment [us]."""
        return self._hours[max(0, bisect_right(self._hours, us) - 1)]

    def is_silent(self, us: int) -> bool:
        """Tell whether a moment [us] lies in the part of a gap of months of which nothing is booked."""
        return self._silent is not None and self._silent[0] <= us < self._silent[1]

    def off(self, us: int) -> str:
        """Return why a moment [us] lies outside planned time, "" if it lies inside."""
        window = self.window(us)
        if window is None:
            return NO_SHIFT
        if window.closed:
            return CLOSED
        return BREAK if any(start <= us < end for start, end in window.breaks) else ""


@dataclass(frozen=True)
class Assigned:
    """The entered stops by the start [us] of the standstill they belong to, and those that meet none.

    One without an end has that of its standstill.
    """

    by_start: Mapping[int, list[EnteredStop]]
    unmet: list[EnteredStop]

    def of(self, start_us: int) -> list[EnteredStop]:
        """Return the entered stops of the standstill that began at a moment [us], in order of their start."""
        return self.by_start.get(start_us, [])


def decided_us(entry: EnteredStop) -> int:
    """Return the moment [us] by which all standstills that an entered stop may belong to have begun."""
    return entry.start_us + NOTED_EARLY_US if entry.end_us is None else entry.end_us


def assign(entered: Iterable[EnteredStop], stops: Sequence[tuple[int, int]]) -> Assigned:
    """Give each entered stop to the standstill it overlaps most, the earlier of two alike, and to no other.

    `stops` are the standstills [us], ascending and disjoint, as far as the entered stops reach.  One without an end
    belongs to the standstill it lies in, or to one that the counter shows up to 10 minutes later.
    """
    by_start: dict[int, list[EnteredStop]] = {}
    unmet = []
    starts, ends = [start for start, _ in stops], [end for _, end in stops]
    for entry in sorted(entered, key=lambda e: e.start_us):
        # An entry of no length is one moment.
        until = max(decided_us(entry), entry.start_us + 1)
        met = stops[bisect_right(ends, entry.start_us) : bisect_right(starts, until - (entry.end_us is not None))]
        if not met:
            unmet.append(entry)
        elif entry.end_us is None:
            by_start.setdefault(met[0][0], []).append(replace(entry, end_us=met[0][1]))
        else:
            start, _ = max(met, key=lambda stop: min(stop[1], until) - max(stop[0], entry.start_us))
            by_start.setdefault(start, []).append(replace(entry, end_us=until))
    return Assigned(by_start, unmet)


def explain(entries: Sequence[EnteredStop], start_us: int, end_us: int, edge_us: int) -> list[tuple[int, int, str]]:
    """Return what a standstill [us] is explained by: from, to, reason; what is left out has no reason.

    `entries` are those that belong to it.  Where several speak the one that began last does: it was made knowing the
    earlier.  A part that none covers goes to the one before it, at the beginning to the one after, if it is no longer
    than `edge_us`.
    """
    spans = [(max(e.start_us, start_us), min(e.end_us or end_us, end_us), e.reason) for e in entries]
    edges = sorted({start_us, end_us, *(edge for span in spans for edge in span[:2])})
    said: list[tuple[int, int, str]] = []
    for a, b in pairwise(edges):
        reason = next((name for begin, end, name in reversed(spans) if begin <= a < end), None)
        if reason is None and said and b - a <= edge_us:
            reason = said[-1][2]
        if reason is None:
            continue
        if said and said[-1][1:] == (a, reason):
            a = said.pop()[0]
        said.append((a if said or a - start_us > edge_us else start_us, b, reason))
    return said


def ended_beside(
    entered: Iterable[EnteredStop], stops: Iterable[tuple[int, int]], now_us: int, since_us: int, edge_us: int
) -> tuple[tuple[int, int], ...]:
    """Return the ended standstills [us] that meet an entered stop that might be taken for a note of a later one.

    `now_us` is the last reading, `since_us` when the press fell idle, no later; a later standstill begins after it.
    """
    spans = [(e.start_us, decided_us(e), since_us if e.end_us is None else now_us - edge_us) for e in entered]
    held = [(start, end) for start, end, least in spans if end >= least]
    return tuple(stop for stop in stops if any(stop[0] <= end and stop[1] > start for start, end in held))


def stop_pieces(
    stops: Sequence[tuple[int, int]],
    since_us: int,
    said: Mapping[int, Sequence[tuple[int, int, str]]],
    reasons: Mapping[str, Reason],
    plan: PlanIndex,
) -> list[StopPiece]:
    """Split each stop [us] where shift, break or reason change, leaving out what lies before `since_us` [us].

    `said` holds what `explain` gave for each stop, by its start.
    """
    pieces: list[StopPiece] = []
    for start, end in stops:
        spans = said.get(start, ())
        edges = {start, end, *(e for e in plan.edges_us if start < e < end)}
        edges |= {e for span in spans for e in span[:2] if start < e < end}
        cuts = sorted(edge for edge in edges | {max(start, since_us)} if edge >= since_us)
        pieces += [
            _piece(start, a, to_us=b, spans=spans, reasons=reasons, plan=plan)
            for a, b in pairwise(cuts)
            if not plan.is_silent(a)
        ]
    return pieces


def as_dated(pieces: Sequence[StopPiece], day: PressDay, plan: PlanIndex) -> list[StopPiece]:
    """Return the pieces with the kind that each reason had in the plant book on the date of the piece."""
    dated = []
    for piece in pieces:
        meaning = day.page(piece.shift_date).reasons.get(piece.reason)
        if meaning is not None:
            in_plan = meaning.in_planned_time and not plan.off(piece.from_us)
            piece = replace(piece, kind=meaning.kind, in_plan=in_plan)
        dated.append(piece)
    return dated


def _piece(
    stop_us: int,
    from_us: int,
    to_us: int,
    spans: Sequence[tuple[int, int, str]],
    reasons: Mapping[str, Reason],
    plan: PlanIndex,
) -> StopPiece:
    shift_date, shift = plan.shift(from_us)
    off = plan.off(from_us)
    reason = next((name for start, end, name in spans if start <= from_us < end), "")
    if reason:
        meaning = reasons.get(reason, Reason("other", True))
        in_plan = not off and meaning.in_planned_time
        return StopPiece(
            stop_us,
            from_us,
            to_us=to_us,
            shift_date=shift_date,
            shift=shift,
            reason=reason,
            kind=meaning.kind,
            in_plan=in_plan,
        )
    if off:
        return StopPiece(
            stop_us, from_us, to_us=to_us, shift_date=shift_date, shift=shift, reason=off, kind="planned", in_plan=False
        )
    return StopPiece(
        stop_us, from_us, to_us=to_us, shift_date=shift_date, shift=shift, reason=NO_REASON, kind="", in_plan=True
    )


def stop_name(press_id: str, stop_us: int) -> str:
    """Name a stop by its press and the moment it began (UTC)."""
    began = dt.datetime.fromtimestamp(stop_us // SECOND_US, dt.UTC)
    return f"{press_id}-{began:%Y%m%dT%H%M%SZ}"
