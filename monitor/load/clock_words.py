"""What was found of the clocks of counters as sentences, in the words of whoever looks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from monitor.load.counter_clocks import Clock, FileJump
from monitor.reckoning.clocks.offset import Lag
from shared.calendar import Calendar
from shared.durations import SECOND_US
from shared.phrases import key
from shared.words import Words

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


def clock_lines(clocks: Mapping[str, Clock], calendar: Calendar, words: Words) -> list[str]:
    """Return a sentence for each finding, press by press, with what to do."""
    return [
        line
        for press_id, clock in sorted(clocks.items())
        for line in (
            *(_lag_line(press_id, lag, calendar, words) for lag in clock.lags),
            *(_jump_line(press_id, jump, calendar, words) for jump in clock.jumps),
        )
    ]


def _lag_line(press_id: str, lag: Lag, calendar: Calendar, words: Words) -> str:
    since, until = (words.date(_date(iso)) for iso in calendar.local_iso([lag.since_us, lag.until_us]))
    low, high = sorted((abs(lag.low_us), abs(lag.high_us)))
    return words.say(
        _BEHIND if lag.offset_us < 0 else _AHEAD,
        press=press_id,
        span=span(lag.offset_us),
        low=colon(low),
        high=colon(high),
        n=words.number(lag.notes),
        since=since,
        until=until,
        setting=f"clock_offset_s = {round(lag.offset_us / SECOND_US)}",
    )


def _jump_line(press_id: str, jump: FileJump, calendar: Calendar, words: Words) -> str:
    begin, end = (f"{words.date(_date(iso))}, {iso[11:19]}" for iso in calendar.local_iso([jump.from_us, jump.to_us]))
    return words.say(
        _BACK if jump.by_us < 0 else _ON,
        press=press_id,
        span=span(jump.by_us),
        line=words.number(jump.line),
        file=jump.file,
        begin=begin,
        end=end,
    )


def _date(iso: str) -> dt.date:
    return dt.date.fromisoformat(iso[:10])


def span(us: int) -> str:
    """A length of time in words: 3 min 5 s."""
    minutes, seconds = divmod(round(abs(us) / SECOND_US), 60)
    hours, minutes = divmod(minutes, 60)
    told = [f"{number} {unit}" for number, unit in ((hours, "h"), (minutes, "min"), (seconds, "s")) if number]
    return " ".join(told) or "0 s"


def colon(us: int) -> str:
    """A length of time as minutes and seconds: 3:05."""
    minutes, seconds = divmod(round(abs(us) / SECOND_US), 60)
    return f"{minutes}:{seconds:02}"
