"""Strokes and standstills of one press-day by its counter alone, before any note about its stops."""

from __future__ import annotations

from dataclasses import dataclass, replace

from monitor.reckoning.fold.gaps import SeenTime, resolve
from monitor.reckoning.press import die_events
from monitor.reckoning.press import strip as strips
from monitor.reckoning.press.carry import Carry
from monitor.reckoning.press.counters import Counted, Reading, count_strokes
from monitor.reckoning.press.press_day import CoilChange, Event, PressDay, in_order
from monitor.reckoning.press.running import StopTimes, find_stops
from monitor.reckoning.press.stops import PlanIndex


@dataclass(frozen=True)
class DayStandstills:
    """Strokes, gaps and standstills of one press-day.

    `before` is the carry into it; `last` is the last reading up to its end, None where there never was one; `events`
    are the changes noted up to then, in order; `moments_us` are all moments at which strokes are cut apart.
    """

    before: Carry
    counted: Counted
    last: Reading | None
    events: list[Event]
    moments_us: list[int]
    seen: SeenTime
    stop_times: StopTimes

    @property
    def stops(self) -> list[tuple[int, int]]:
        """Return the standstills [us]; one that began earlier is whole, one that goes on ends with the last reading."""
        found = dict(zip(self.stop_times.starts_us.tolist(), self.stop_times.ends_us.tolist(), strict=True))
        idle, last = self.before.idle, self.before.last
        # One that went on until the last reading before may have ended with it.
        carried = {idle.since_us: last.time_us} if idle is not None and idle.is_stop and last is not None else {}
        return list((carried | found).items())

    @property
    def carry(self) -> Carry:
        """Return what the standstills of the day that follows depend on: last reading, die, and idle time."""
        carry = self.before
        for event in self.events:
            if not isinstance(event, CoilChange):
                carry = die_events.apply(event, carry)
        return replace(carry, last=self.last, idle=self.stop_times.open_idle)


def find_standstills(day: PressDay, carry: Carry, plan: PlanIndex) -> DayStandstills:
    """Count the strokes of one press-day, and find when the press stood and when nobody saw whether it did."""
    carry = _from_shift_start(day, carry)
    counted = _count(day, carry)
    last = counted.last or carry.last
    events = in_order([event for event in day.events if last is not None and event.time_us <= last.time_us])
    moments = {*day.plan.hours_us, *plan.edges_us, *day.marks_us}
    moments |= {start for start, _ in day.plan.days}
    ordered = sorted(moments | {event.time_us for event in events})
    seen = resolve(counted, day, carry, plan, ordered)
    stood = find_stops(seen.counted, seen.idle, day.press.stop_after_us, carry.idle)
    return DayStandstills(carry, counted, last=last, events=events, moments_us=ordered, seen=seen, stop_times=stood)


def _from_shift_start(day: PressDay, carry: Carry) -> Carry:
    """Extend the very first reading back to the start of its shift, if that is too short for a stop."""
    if carry.last is not None or not len(day.readings):
        return carry
    first_us = int(day.readings.time_us[0])
    starts = [w.start_us for w in day.plan.windows if 0 < first_us - w.start_us <= day.press.stop_after_us]
    strip = strips.presumed() if carry.habits.strip_before else carry.strip
    if not starts:
        return replace(carry, strip=strip)
    feeds = int(day.readings.feeds[0])
    last = Reading(starts[-1], int(day.readings.counter[0]), feeds if feeds >= 0 else None)
    return replace(carry, last=last, strip=strip)


def _count(day: PressDay, carry: Carry) -> Counted:
    seen = {event.die_id for event in day.events if not isinstance(event, CoilChange)}
    seen |= {carry.die.die_id} if carry.die else set()
    rated = day.press.rated_spm or max((day.dies[d].rated_spm for d in seen if d in day.dies), default=None)
    return count_strokes(day.readings, carry.last, rated_spm=rated, modulus=day.press.modulus, ahead=day.ahead)
