"""Which versions are kept, when upkeep is due, and that it stays within its time."""

from __future__ import annotations

import datetime as dt
import time

import pytest

from monitor.keep import retention as upkeep
from monitor.keep.retention import is_due, tidy, tidy_if_due, to_let_go
from monitor.ledger import Fold, Ledger, Stored
from shared.durations import DAY_US, HOUR_US
from shared.facts import FoldFacts
from tests.ledger.given import CALENDAR, START_US, load, readings, strokes

MINUTE_US = 60_000_000
NOW_US = int(dt.datetime(2026, 11, 20, 12, 0, tzinfo=dt.UTC).timestamp()) * 1_000_000


def test_last_hour_whole_then_one_an_hour_then_nothing() -> None:
    every_ten = [Stored(n, NOW_US - (8 * 24 * 6 - n) * 10 * MINUTE_US) for n in range(8 * 24 * 6 + 1)]
    gone = set(to_let_go(every_ten, [], NOW_US))
    kept = [stored for stored in every_ten if stored.version not in gone]
    last_hour = [stored for stored in kept if stored.committed_us >= NOW_US - HOUR_US]
    assert len(last_hour) == 7
    assert min(stored.committed_us for stored in kept) == NOW_US - 7 * DAY_US + 50 * MINUTE_US
    hours = [stored.committed_us // HOUR_US for stored in kept if stored not in last_hour]
    assert len(hours) == len(set(hours)) == 7 * 24 - 1


def test_newest_and_pinned_are_kept_however_old() -> None:
    versions = [Stored(n, NOW_US - (90 - n) * DAY_US) for n in range(1, 31)]
    assert to_let_go(versions, [4], NOW_US) == [n for n in range(1, 30) if n != 4]
    assert to_let_go([], [], NOW_US) == []


def test_retention_can_be_shorter() -> None:
    versions = [Stored(1, NOW_US - 2 * DAY_US), Stored(2, NOW_US - DAY_US // 2), Stored(3, NOW_US)]
    assert to_let_go(versions, [], NOW_US, kept_days=1.0) == [1]


@pytest.mark.parametrize(
    ("minutes_ago", "at", "due"),
    [
        (59, "12:00", False),
        (60, "12:00", True),
        (10, "00:05", True),  # the plant's midnight has passed since
        (10, "01:05", False),  # midnight in UTC has, the plant's has not
    ],
)
def test_due_after_an_hour_and_after_midnight_of_the_plant(minutes_ago: int, at: str, due: bool) -> None:
    local = dt.datetime.fromisoformat(f"2026-11-20T{at}:00+01:00")
    now_us = int(local.timestamp()) * 1_000_000
    assert is_due(str(now_us - minutes_ago * MINUTE_US), now_us, CALENDAR) is due


def test_due_where_the_clock_was_set_back_or_nothing_is_known() -> None:
    assert is_due(str(NOW_US + DAY_US), NOW_US, CALENDAR)
    assert is_due("", NOW_US, CALENDAR)


def test_new_ledger_waits_an_hour_then_tidies_once(ledger: Ledger) -> None:
    load(ledger, "strokes", strokes((0, 100)))
    assert tidy_if_due(ledger, CALENDAR, NOW_US) is None
    assert tidy_if_due(ledger, CALENDAR, NOW_US + MINUTE_US) is None
    done = tidy_if_due(ledger, CALENDAR, NOW_US + HOUR_US)
    assert done is not None
    assert not done.left
    assert tidy_if_due(ledger, CALENDAR, NOW_US + HOUR_US + MINUTE_US) is None


def test_time_allowed_ends_it_and_the_next_one_goes_on(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(30):
        with ledger.writer(CALENDAR) as writer:
            writer.replace_folds("P01", [Fold("2026-11-02", FoldFacts(), str(number), True)])
    monkeypatch.setattr(upkeep, "_ROWS_A_STEP", 10)
    later_us = NOW_US + 3650 * DAY_US
    ledger.keeper.note("upkeep", str(NOW_US))
    first = tidy(ledger, CALENDAR, later_us, budget_s=0.0)
    assert (first.left, first.versions, first.rows) == (True, 29, 0)
    assert is_due(ledger.keeper.noted("upkeep"), later_us, CALENDAR)
    second = tidy(ledger, CALENDAR, later_us)
    assert (second.left, second.rows) == (False, 29)
    assert ledger.snapshot().folds("P01") == [("2026-11-02", "29", True)]


def test_another_program_writing_ends_it_quietly(ledger: Ledger) -> None:
    ledger.keeper.note("upkeep", str(NOW_US))
    with ledger.writer(CALENDAR):
        assert tidy(ledger, CALENDAR, NOW_US).left
        assert tidy_if_due(ledger, CALENDAR, NOW_US + HOUR_US) is not None


def test_whole_upkeep_merges_parts_and_deletes_files(ledger: Ledger) -> None:
    for second in (0, 10, 20):
        load(ledger, "strokes", strokes((second, 100 + second)))
    later_us = NOW_US + 3650 * DAY_US
    first = tidy(ledger, CALENDAR, later_us)
    assert (first.versions, first.compacted) == (2, 3)
    # The parts that were merged go once the version before the merge has gone.
    second = tidy(ledger, CALENDAR, later_us + DAY_US)
    assert (second.versions, second.files) == (1, 3)
    assert len(list((ledger.root / "parts").iterdir())) == 1


def test_week_of_loads_thins_out_stays_bounded_and_never_blocks_a_reader(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A load every half hour for a day and every four hours for the week that follows, upkeep as loads do it."""
    monkeypatch.setattr(time, "time_ns", lambda: now_us * 1000)
    held, files, longest_s, first_us = [], [], 0.0, START_US + HOUR_US
    steps_us = [HOUR_US // 2] * 48 + [4 * HOUR_US] * 44
    for number in range(len(steps_us)):
        now_us = first_us + sum(steps_us[:number])
        second = (now_us - START_US) // 1_000_000
        reader = ledger.snapshot()
        before = readings(reader)
        load(ledger, "strokes", strokes(*((second - back, 5 * second - back) for back in range(4))))
        with ledger.writer(CALENDAR) as writer:
            writer.replace_folds("P01", [Fold("open", FoldFacts(), str(number), True)])
        began = time.monotonic()
        tidied = tidy_if_due(ledger, CALENDAR, now_us)
        longest_s = max(longest_s, tidied.longest_step_s if tidied else 0.0)
        assert readings(reader) == before, "what a reader had begun to read is gone"
        assert time.monotonic() - began < upkeep.BUDGET_S + 5
        held.append(len(ledger.keeper.versions()))
        files.append(len(list((ledger.root / "parts").iterdir())))
    day, week = held[:48], held[48:]
    assert max(day) <= 2 * 3 + 25, "the last hour whole, then one version an hour"
    assert max(week) <= 25 + 7 * 6 + 4
    assert held[-1] <= 7 * 6 + 4, "the first day has thinned out to nothing by the end of the week"
    # One file for each version that is kept, and two for each day.
    assert all(there <= kept + 2 * 9 for there, kept in zip(files, held, strict=True))
    assert ledger.keeper.superseded() <= 4 * held[-1]
    assert len(readings(ledger.snapshot())) == 4 * len(steps_us)
    assert longest_s < upkeep.BUDGET_S
