"""Keeps a ledger small by itself: lets old versions go, merges small parts, deletes what no version needs."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

from monitor.keep import KEPT_DAYS
from monitor.ledger import Ledger, Stored
from shared.calendar import Calendar
from shared.durations import DAY_US, HOUR_US
from shared.errors import LedgerBusy

#: Every version can be read for this long, after that the last one of each hour: a load a minute would otherwise
#: keep sixty copies of the running day's facts for each hour.
ALL_KEPT_US = HOUR_US

#: How long upkeep at the end of a load may take in all [s]; what is left waits for the next load.
BUDGET_S = 2.0
#: Rows deleted, and rows of parts rewritten, in one step: a few hundred milliseconds each.
_ROWS_A_STEP = 20_000
_PART_ROWS_A_STEP = 1_000_000

_NOTE = "upkeep"


@dataclass
class Tidied:
    """What an upkeep did; `left` tells that time ran out or another program was writing."""

    versions: int = 0
    rows: int = 0
    compacted: int = 0
    files: int = 0
    longest_step_s: float = 0.0
    left: bool = False


def to_let_go(
    versions: Sequence[Stored], pinned: Collection[int], now_us: int, kept_days: float = KEPT_DAYS
) -> list[int]:
    """Versions that need not be kept at a time [us since 1970 UTC].

    Kept are: the newest, the pinned, every one of the last hour, and the last one of each hour before that for
    `kept_days`.
    """
    oldest_us, all_from_us = now_us - int(kept_days * DAY_US), now_us - ALL_KEPT_US
    last_of_hour = {us // HOUR_US: version for version, us in versions if us >= oldest_us}
    kept = {*pinned, *last_of_hour.values(), *(version for version, us in versions if us >= all_from_us)}
    return [version for version, _ in versions[:-1] if version not in kept]


def is_due(noted: str, now_us: int, calendar: Calendar) -> bool:
    """Whether upkeep is due: an hour after it was last finished, after the plant's midnight, or where some is left."""
    last_us = int(noted) if noted.isdigit() else 0
    if now_us - last_us >= HOUR_US or now_us < last_us:
        return True
    return _local_date(now_us, calendar) != _local_date(last_us, calendar)


def tidy_if_due(ledger: Ledger, calendar: Calendar, now_us: int | None = None) -> Tidied | None:
    """Do upkeep within the time allowed if it is due; returns None where it is not, or where another program writes."""
    now_us = now_us or time.time_ns() // 1_000
    noted = ledger.keeper.noted(_NOTE)
    try:
        if not noted:  # A ledger that has just been begun.
            ledger.keeper.note(_NOTE, str(now_us))
            return None
        if not is_due(noted, now_us, calendar):
            return None
        return tidy(ledger, calendar, now_us, budget_s=BUDGET_S)
    except LedgerBusy:
        return None


def tidy(
    ledger: Ledger, calendar: Calendar, now_us: int, kept_days: float = KEPT_DAYS, budget_s: float | None = None
) -> Tidied:
    """Do upkeep in short steps, for as long as `budget_s` allows; another program that writes ends it."""
    done = Tidied()
    ends = None if budget_s is None else time.monotonic() + budget_s
    try:
        for step_s in _steps(ledger, calendar, now_us, kept_days, done):
            done.longest_step_s = max(done.longest_step_s, step_s)
            if ends is not None and time.monotonic() >= ends:
                done.left = True
                return done
        ledger.keeper.note(_NOTE, str(now_us))
    except LedgerBusy:
        done.left = True
    return done


def _steps(ledger: Ledger, calendar: Calendar, now_us: int, kept_days: float, done: Tidied) -> Iterator[float]:
    """Do one step at a time and yield how long it took [s]."""
    keeper = ledger.keeper

    def let_go() -> int:
        pinned = {pin.version for pin in keeper.pins()}
        going = to_let_go(keeper.versions(), pinned, now_us, kept_days)
        keeper.expire(going)
        done.versions += len(going)
        return 0

    def purge() -> int:
        gone = keeper.purge(_ROWS_A_STEP)
        done.rows += gone
        return gone

    def compact() -> int:
        # The day before may still get its last files.
        before = calendar.plant_day(now_us) - dt.timedelta(days=1)
        with ledger.writer(calendar, wait_s=0) as writer:
            rows = writer.compact(before.isoformat(), _PART_ROWS_A_STEP)
        done.compacted += rows
        return rows

    def remove() -> int:
        done.files += keeper.remove_files()
        return 0

    for step in (let_go, purge, compact, remove):
        yield from _timed(step)


def _timed(step: Callable[[], int]) -> Iterator[float]:
    """Repeat a step until it has nothing left to do."""
    more = 1
    while more:
        began = time.monotonic()
        more = step()
        yield time.monotonic() - began


def _local_date(us: int, calendar: Calendar) -> str:
    return calendar.local_iso([us])[0][:10]
