"""The fold: one press, one plant day.  Readings, changes and the carry go in; facts and the next carry come out.

The span of a fold runs from the last accepted reading before it to its own last reading.  It is cut wherever a fact
may change (clock hour, shift, break, die, coil, mark); strokes are shared over the cuts in whole numbers and time in
whole microseconds, so every sum over the facts equals the counter and the clock exactly.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from monitor.reckoning.fold.facts import glitch_fact, label_columns, note_fact, piece_fact, stop_fact, stroke_fact
from monitor.reckoning.fold.gaps import SeenTime
from monitor.reckoning.fold.segments import Segment, cut_up, cuts_inside, off_plan
from monitor.reckoning.fold.standstills import DayStandstills, find_standstills
from monitor.reckoning.press import changes
from monitor.reckoning.press import strip as strips
from monitor.reckoning.press.carry import Carry, Label, Pending
from monitor.reckoning.press.counters import Reading
from monitor.reckoning.press.press_day import Die, Event, Out, PressDay
from monitor.reckoning.press.running import Idle, StopTimes, seconds_before
from monitor.reckoning.press.stops import (
    PlanIndex,
    StopPiece,
    as_dated,
    assign,
    ended_beside,
    explain,
    stop_pieces,
)
from shared.facts import FoldFacts, MountFact, TimeFact, UnresolvedFact


@dataclass(frozen=True)
class Folded:
    """Facts by kind, the carry, the resets seen.

    `settled` is False when readings still to come may change how the last ones are judged.
    """

    facts: FoldFacts
    carry: Carry
    settled: bool
    resets_us: tuple[int, ...] = ()


def fold(day: PressDay, carry: Carry) -> Folded:
    """Reckon one press over one plant day."""
    plan = PlanIndex(day.plan)
    seen = find_standstills(day, carry, plan)
    if seen.last is None:
        return Folded(FoldFacts(), seen.before, seen.counted.settled)
    return _Fold(day, plan, seen, seen.last).run()


class _Fold:
    """One run of a fold; holds the facts while it walks from cut to cut."""

    def __init__(self, day: PressDay, plan: PlanIndex, seen: DayStandstills, last: Reading) -> None:
        self.day = day
        self.plan = plan
        self.seen = seen
        self.before = seen.before
        self.carry = seen.before
        self.counted = seen.counted
        self.last = last
        self.first_us = self.before.last.time_us if self.before.last else last.time_us
        if self.before.last is None and len(self.counted.start_us):
            self.first_us = int(self.counted.start_us[0])
        self.dies = day.dies
        self.facts = FoldFacts()
        self.time: dict[Label, TimeFact] = {}
        self.use: dict[tuple[str, str, float], list[int]] = {}
        self.pending: list[Pending] = []
        self.die_since: list[tuple[int, str]] = []

    def run(self) -> Folded:
        """Return the facts of the span and the carry out of it."""
        stood = self.seen.stop_times
        pieces = self._stop_pieces()
        segments: list[Segment] = []
        if len(self.seen.seen.counted.end_us):
            moments = list(self.seen.moments_us)
            if stood.open_idle is not None and not stood.open_idle.is_stop:
                moments.append(stood.open_idle.since_us)
            segments = cut_up(self.seen.seen, cuts_inside(self.seen.seen.counted, moments), stood, pieces)
        self._decide_pending(stood, pieces)
        self._walk(segments, self.seen.events, stood.open_idle)
        self._keep_stops(pieces)
        self._keep_unresolved(self.seen.seen)
        self._keep_rest()
        return Folded(self.facts, self._next(stood.open_idle), self.counted.settled, self.counted.resets_us)

    def _stop_pieces(self) -> list[StopPiece]:
        idle, stops = self.before.idle, self.seen.stops
        # A stop left its facts up to the last reading; an idle stretch too short to be one has left none yet.
        since_us = idle.since_us if idle is not None and not idle.is_stop else self.first_us
        ends = dict([*self.before.stood, *stops, *self.day.later])
        given = assign(self.day.entered, sorted(ends.items()))
        said = {start: explain(given.of(start), start, ends[start], self.day.edge_us) for start, _ in stops}
        pieces = stop_pieces(stops, since_us, said, self.day.reasons, self.plan)
        return as_dated(pieces, self.day, self.plan) if self.day.pages else pieces

    def _decide_pending(self, stood: StopTimes, pieces: list[StopPiece]) -> None:
        """Book the idle time carried in, now that it is known to be a stop or running."""
        if stood.carried is None:
            self.pending += self.before.pending
            return
        starts, ends = off_plan(pieces)
        for part in self.before.pending:
            edges = np.array([part.from_us, part.to_us])
            length = part.to_us - part.from_us
            off_us = int(np.diff(seconds_before(edges, starts, ends))[0]) if stood.carried else 0
            self._book(
                part.label, part.planned, length_us=length, stopped_us=length if stood.carried else 0, off_us=off_us
            )

    def _walk(self, segments: list[Segment], events: list[Event], idle: Idle | None) -> None:
        waiting = list(events)
        self._apply_until(waiting, self.first_us)
        pending_from = idle.since_us if idle is not None and not idle.is_stop else None
        for segment in segments:
            label = self._label(segment.from_us)
            if not self.die_since or self.die_since[-1][1] != label.die_id:
                self.die_since.append((segment.from_us, label.die_id))
            self._spend(segment, label, pending_from)
            if segment.strokes:
                self._stroke(segment, label)
            self._apply_until(waiting, segment.to_us)

    def _apply_until(self, waiting: list[Event], until_us: int) -> None:
        while waiting and waiting[0].time_us <= until_us:
            dies = self.day.page(self.plan.shift(waiting[0].time_us)[0]).dies
            changed = changes.apply(waiting.pop(0), self.carry, self.day.press, dies)
            self.carry = changed.carry
            self.facts.mounts.extend(note_fact(note, self.carry) for note in changed.notes)

    def _label(self, us: int) -> Label:
        shift_date, shift = self.plan.shift(us)
        self.dies = self.day.page(shift_date).dies
        die = self.carry.die
        if die is None:
            return Label(shift_date, shift, hour_us=self.plan.hour(us), die_id="", part_no="", order_id="", setup=False)
        outs = self._outs()
        # Strokes and time stand with the first out that runs, whatever part the die was set for.
        part_no = outs[0].part_no if outs else die.part_no
        return Label(
            shift_date,
            shift,
            hour_us=self.plan.hour(us),
            die_id=die.die_id,
            part_no=part_no,
            order_id=die.order_id,
            setup=die.setup,
        )

    def _die(self) -> Die | None:
        return self.dies.get(self.carry.die.die_id) if self.carry.die else None

    def _outs(self) -> list[Out]:
        die = self._die()
        if die is None or self.carry.die is None:
            return []
        running = self.carry.die.outs_running
        outs = [out for out in die.outs if not running or out.out in running]
        return [out if out.part_no else replace(out, part_no=self.carry.die.part_no) for out in outs]

    def _spend(self, segment: Segment, label: Label, pending_from: int | None) -> None:
        planned = not self.plan.off(segment.from_us)
        if pending_from is not None and segment.from_us >= pending_from:
            self._wait(Pending(label, planned, segment.from_us, segment.to_us))
            return
        self._book(
            label,
            planned,
            length_us=segment.to_us - segment.from_us,
            stopped_us=segment.stopped_us,
            off_us=segment.off_plan_us,
            unresolved_us=segment.unresolved_us,
            untimed=segment.untimed,
        )

    def _wait(self, part: Pending) -> None:
        """Keep idle time undecided; stretches that follow one another are one, however the readings came."""
        last = self.pending[-1] if self.pending else None
        if last is not None and (last.label, last.planned, last.to_us) == (part.label, part.planned, part.from_us):
            self.pending[-1] = replace(last, to_us=part.to_us)
        else:
            self.pending.append(part)

    def _book(
        self,
        label: Label,
        planned: bool,
        *,
        length_us: int,
        stopped_us: int,
        off_us: int,
        unresolved_us: int = 0,
        untimed: int = 0,
    ) -> None:
        """Book time: planned = running + stopped + unresolved; outside the plan only running counts."""
        running_us = length_us - stopped_us - unresolved_us
        stopped_us, unresolved_us = (stopped_us - off_us, unresolved_us) if planned else (0, 0)
        if not (running_us or stopped_us or unresolved_us or untimed):
            return
        held = self.time.get(label) or TimeFact(**label_columns(label))
        self.time[label] = held._replace(
            planned_us=held.planned_us + running_us + stopped_us + unresolved_us,
            running_us=held.running_us + running_us,
            stopped_us=held.stopped_us + stopped_us,
            extra_us=held.extra_us + (0 if planned else running_us),
            unresolved_us=held.unresolved_us + unresolved_us,
            untimed=held.untimed + untimed,
        )

    def _stroke(self, segment: Segment, label: Label) -> None:
        """Draw strip in and part pieces off; strokes without strip, die or feed make nothing and use nothing."""
        first_stroke = self.carry.strokes + 1
        fed_before = self.carry.strip.fed
        die = self._die()
        fed = min(segment.feeds, segment.strokes) if die and self.carry.strip.feeds else 0
        strip = self.carry.strip
        if die and fed:
            strip, drawn = strips.draw_in(strip, fed)
            self._keep_strokes(segment, label, first_stroke, drawn)
            self._keep_use(die, drawn, strips.parted(strip, fed_before, die.stations))
            self._keep_pieces(segment, label, strip, first_stroke, fed_before)
            strip = strips.forget(strip, die.stations)
        idle_strokes = segment.strokes - fed
        if idle_strokes:
            mounting_id = self.carry.strip.mounting_id
            idle = stroke_fact(label, segment, mounting_id, strokes=idle_strokes, fed=0, stroke=first_stroke + fed)
            self.facts.strokes.append(idle)
        self.carry = replace(self.carry, strip=strip, strokes=self.carry.strokes + segment.strokes)

    def _keep_strokes(
        self, segment: Segment, label: Label, first_stroke: int, drawn: list[strips.StripStretch]
    ) -> None:
        stroke = first_stroke
        for stretch in drawn:
            count = stretch.count
            fact = stroke_fact(label, segment, stretch.mounting_id, strokes=count, fed=count, stroke=stroke)
            self.facts.strokes.append(fact)
            stroke += count

    def _keep_use(self, die: Die, drawn: list[strips.StripStretch], parted: list[strips.StripStretch]) -> None:
        for slot, stretches in enumerate((drawn, parted)):
            for stretch in stretches:
                key = (stretch.mounting_id, die.die_id, die.pitch_mm)
                self.use.setdefault(key, [0, 0])[slot] += stretch.count

    def _keep_pieces(
        self, segment: Segment, label: Label, strip: strips.Strip, first_stroke: int, fed_before: int
    ) -> None:
        for out in self._outs():
            made = label if out.part_no in ("", label.part_no) else replace(label, part_no=out.part_no)
            for stretch in strips.parted(strip, fed_before, out.station):
                stroke = first_stroke + stretch.first + out.station - 2 - fed_before
                self.facts.pieces.append(piece_fact(made, segment, out=out.out, stretch=stretch, stroke=stroke))

    def _die_at(self, us: int) -> str:
        at = bisect_right(self.die_since, us, key=lambda since: since[0]) - 1
        return self.die_since[at][1] if at >= 0 else self.before.idle_die

    def _keep_stops(self, pieces: list[StopPiece]) -> None:
        for piece in pieces:
            die_id = self._die_at(piece.stop_us)
            self.facts.stops.append(stop_fact(self.day.press.press_id, die_id, piece))

    def _keep_unresolved(self, seen: SeenTime) -> None:
        """Note the stretches in which nobody saw how the time was spent, cut where shift, break or die change."""
        moments = {*self.plan.edges_us, *(start for start, _ in self.day.plan.days)}
        edges = sorted(moments.union(us for us, _ in self.die_since))
        for start, end in seen.spans:
            inside = edges[bisect_right(edges, start) : bisect_left(edges, end)]
            for from_us, to_us in pairwise([start, *inside, end]):
                shift_date, shift = self.plan.shift(from_us)
                self.facts.unresolved.append(
                    UnresolvedFact(
                        die_id=self._die_at(from_us),
                        shift_date=shift_date,
                        shift=shift,
                        from_us=from_us,
                        to_us=to_us,
                        planned=int(not self.plan.off(from_us)),
                    )
                )

    def _keep_rest(self) -> None:
        self.facts.time.extend(self.time.values())
        for (mounting_id, die_id, pitch_mm), (fed, finished) in self.use.items():
            self.facts.mounts.append(
                MountFact(
                    mounting_id=mounting_id,
                    coil_id=self.carry.coils.get(mounting_id) or self.before.coils.get(mounting_id, ""),
                    die_id=die_id,
                    pitch_mm=pitch_mm,
                    fed=fed,
                    finished=finished,
                )
            )
        self.facts.glitches.extend(glitch_fact(self.day.readings, glitch) for glitch in self.counted.glitches)

    def _next(self, idle: Idle | None) -> Carry:
        idle_die = "" if idle is None else self._die_at(idle.since_us)
        since_us = self.last.time_us if idle is None else idle.since_us
        ended = [stop for stop in [*self.before.stood, *self.seen.stops] if idle is None or stop[0] != since_us]
        stood = ended_beside(self.day.entered, ended, self.last.time_us, since_us, self.day.edge_us)
        pending = tuple(self.pending)
        return replace(self.carry, last=self.last, idle=idle, idle_die=idle_die, pending=pending, stood=stood)
