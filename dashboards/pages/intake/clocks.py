"""What was found of the clocks of counters, in the words of whoever looks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from dashboards.request.formats import count, day, moment
from dashboards.request.locale import key, say
from monitor.load.counter_clocks import Clock, FileJump, colon, offset_key, span
from monitor.reckoning.clocks.offset import Lag
from shared.calendar import Calendar

_BEHIND = key(
    "The clock of {press}'s counter seems {span} behind the noted changes ({low} to {high}, from {n} notes, {since} "
    "to {until}). If the notes are right, set that clock, and write {setting} under [time] in the profile of its files."
)
_AHEAD = key(
    "The clock of {press}'s counter seems {span} ahead of the noted changes ({low} to {high}, from {n} notes, {since} "
    "to {until}). If the notes are right, set that clock, and write {setting} under [time] in the profile of its files."
)
_BACK = key(
    "The clock of {press}'s counter jumps {span} back at line {line} of {file}, from {begin} to {end}, while the "
    "counter goes on. State the readings it is wrong for under [[time.clock_offsets]] in the profile of the file."
)
_ON = key(
    "The clock of {press}'s counter jumps {span} ahead at line {line} of {file}, from {begin} to {end}, while the "
    "counter goes on. State the readings it is wrong for under [[time.clock_offsets]] in the profile of the file."
)


def clock_words(clocks: Mapping[str, Clock], calendar: Calendar | None) -> tuple[str, ...]:
    """A sentence for each finding, press by press; none without a calendar, since nothing was read then."""
    if calendar is None:
        return ()
    told = ((press_id, clock) for press_id, clock in sorted(clocks.items()))
    return tuple(line for press_id, clock in told for line in _lines(press_id, clock, calendar))


def _lines(press_id: str, clock: Clock, calendar: Calendar) -> Iterator[str]:
    for lag in clock.lags:
        yield _lag(press_id, lag, calendar)
    for jump in clock.jumps:
        yield _jump(press_id, jump, calendar)


def _lag(press_id: str, lag: Lag, calendar: Calendar) -> str:
    since, until = (day(dt.date.fromisoformat(iso[:10])) for iso in calendar.local_iso([lag.since_us, lag.until_us]))
    low, high = sorted((abs(lag.low_us), abs(lag.high_us)))
    return say(
        _BEHIND if lag.offset_us < 0 else _AHEAD,
        press=press_id,
        span=span(lag.offset_us),
        low=colon(low),
        high=colon(high),
        n=count(lag.notes),
        since=since,
        until=until,
        setting=offset_key(lag),
    )


def _jump(press_id: str, jump: FileJump, calendar: Calendar) -> str:
    begin, end = calendar.local_iso([jump.from_us, jump.to_us])
    return say(
        _BACK if jump.by_us < 0 else _ON,
        press=press_id,
        span=span(jump.by_us),
        line=count(jump.line),
        file=jump.file,
        begin=moment(begin),
        end=moment(end),
    )
