"""Stops split by shift, break and entered reason; what nobody explained keeps no reason."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from monitor.reckoning.press import EnteredStop, Plan, PressDay, Reason
from monitor.reckoning.running import Standing
from shared.calendar import ShiftWindow

NO_REASON = "no reason yet"
BREAK = "break"
CLOSED = "closed day"
NO_SHIFT = "no shift"

#: How long before the counter shows it a person may note a stop that has no end yet [us]; common practice, no source.
NOTED_EARLY_US = 600 * 1_000_000


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
        self.edges_us = sorted(edges)

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

    def off(self, us: int) -> str:
        """Return why a moment [us] lies outside planned time, "" if it lies inside."""
        window = self.window(us)
        if window is None:
            return NO_SHIFT
        if window.closed:
            return CLOSED
        return BREAK if any(start <= us < end for start, end in window.breaks) else ""


def stop_pieces(
    standing: Standing,
    since_us: int,
    entered: Sequence[EnteredStop],
    reasons: Mapping[str, Reason],
    plan: PlanIndex,
) -> list[StopPiece]:
    """Split each stop at shift, break and entered boundaries, leaving out what lies before `since_us` [us]."""
    stops = list(zip(standing.starts_us.tolist(), standing.ends_us.tolist(), strict=True))
    noted = _noted(entered, stops)
    pieces: list[StopPiece] = []
    for start, end in stops:
        mine = [note for note in noted if note[0] < end and note[1] > start]
        edges = {start, end, *(e for e in plan.edges_us if start < e < end)}
        edges |= {e for note in mine for e in note[:2] if start < e < end}
        cuts = sorted(edge for edge in edges | {max(start, since_us)} if edge >= since_us)
        pieces += [_piece(start, a, b, mine, reasons, plan) for a, b in pairwise(cuts)]
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


def _noted(entered: Sequence[EnteredStop], stops: Sequence[tuple[int, int]]) -> list[tuple[int, int, str]]:
    noted = []
    for entry in sorted(entered, key=lambda e: e.start_us):
        if entry.end_us is not None:
            noted.append((entry.start_us, entry.end_us, entry.reason))
            continue
        held = next((s for s in stops if s[1] > entry.start_us), None)
        if held is not None and held[0] <= entry.start_us + NOTED_EARLY_US:
            noted.append((entry.start_us, held[1], entry.reason))
    return noted


def _piece(
    stop_us: int,
    from_us: int,
    to_us: int,
    noted: Sequence[tuple[int, int, str]],
    reasons: Mapping[str, Reason],
    plan: PlanIndex,
) -> StopPiece:
    shift_date, shift = plan.shift(from_us)
    off = plan.off(from_us)
    # The entry that began last speaks: it was made knowing the earlier one.
    reason = next((name for start, end, name in reversed(noted) if start <= from_us < end), "")
    if reason:
        meaning = reasons.get(reason, Reason("other", True))
        in_plan = not off and meaning.in_planned_time
        return StopPiece(stop_us, from_us, to_us, shift_date, shift, reason, meaning.kind, in_plan)
    if off:
        return StopPiece(stop_us, from_us, to_us, shift_date, shift, off, "planned", False)
    return StopPiece(stop_us, from_us, to_us, shift_date, shift, NO_REASON, "", True)


def stop_name(press_id: str, stop_us: int) -> str:
    """Name a stop by its press and the moment it began (UTC)."""
    began = dt.datetime.fromtimestamp(stop_us // 1_000_000, dt.UTC)
    return f"{press_id}-{began:%Y%m%dT%H%M%SZ}"
