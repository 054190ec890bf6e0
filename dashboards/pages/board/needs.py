"""What on the board calls for somebody: stops nobody has explained, and spikes of scrap."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass

import pandas as pd

from dashboards.ledger.picks import pack
from dashboards.ledger.records import Record, Records, records
from dashboards.parts.ribbon import PLAN_REASONS, pick_of
from dashboards.request.formats import clock, count, duration, known, share
from dashboards.request.locale import say
from dashboards.request.url import View
from monitor.reckoning.press.stops import NO_REASON
from shared.calendar import Calendar

NEED_AFTER_S = 300
"""A stop at least this long [s] needs a reason; common practice, no source."""


@dataclass(frozen=True)
class Need:
    """A stop of some length that nobody has explained: its words, and what is picked by tapping it."""

    words: str
    pick: str


@dataclass(frozen=True)
class BoardAlarm:
    """A spike of scrap that the watch called in the shift, and where its causes are looked for."""

    words: str
    href: str


def open_stop(stops: Records) -> str:
    """The stop that has not ended, to be picked."""
    open_ = [row for row in stops if not known(row["end_at"]) and row["reason"] not in PLAN_REASONS]
    return pack([pick_of(max(open_, key=_begin))]) if open_ else ""


def needs(stops: Records, calendar: Calendar) -> tuple[Need, ...]:
    """Stops of some length without a reason, newest first; the parts that a break cuts one into are one."""
    bare: dict[str, list[Record]] = {}
    for row in sorted(stops, key=_begin):
        if row["reason"] == NO_REASON:
            bare.setdefault(row["stop_id"], []).append(row)
    found = []
    for parts in sorted(bare.values(), key=lambda parts: _begin(parts[-1]), reverse=True):
        lasted_s = sum(part["seconds"] for part in parts)
        if lasted_s >= NEED_AFTER_S:
            picks = [pick_of(part) for part in parts]
            found.append(Need(f"{clock(picks[0].start_us, calendar)} · {duration(lasted_s)}", pack(picks)))
    return tuple(found)


def _begin(row: Record) -> int:
    return int(row["start_at"])


def alarms_shown(alarms: pd.DataFrame, presses: Container[str], causes: Mapping[str, str]) -> tuple[BoardAlarm, ...]:
    """The alarms of presses that are shown, newest first, each with a way to the bench."""
    told = []
    for row in records(alarms):
        if row["press_id"] in presses:
            name = f"{row['cause']} {causes.get(row['cause'], '')}".strip()
            words = say(
                "{press}, {die}: {cause}, {rejected} of {inspected} rejected, usually {usual}",
                press=row["press_id"],
                die=row["die_id"],
                cause=name,
                rejected=count(row["rejected"]),
                inspected=count(row["inspected"]),
                usual=share(row["usual"]),
            )
            told.append(BoardAlarm(words, f"/bench{View(die=row['die_id'], cause=row['cause']).search}"))
    return tuple(told)
