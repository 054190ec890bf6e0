"""Running and standing time from the counter; a stop begins after 60 s without strokes."""

from __future__ import annotations

import numpy as np

from monitor.reckoning.press.counters import Counted
from monitor.reckoning.press.running import Idle, StopTimes, find_stops, seconds_before
from tests.reckoning.given import SECOND, counted

AFTER = 60 * SECOND


def stand(found: Counted, carried: Idle | None = None) -> tuple[list[tuple[int, int]], StopTimes]:
    """Return the stops [s] and all that was found."""
    stood = find_stops(found, found.strokes == 0, AFTER, carried)
    spans = zip(stood.starts_us // SECOND, stood.ends_us // SECOND, strict=True)
    return [(int(start), int(end)) for start, end in spans], stood


def test_60_s_without_strokes_are_running_and_70_s_are_a_stop() -> None:
    assert stand(counted((0, 0), (10, 10), (70, 10), (80, 20)))[0] == []
    assert stand(counted((0, 0), (10, 10), (80, 10), (90, 20)))[0] == [(10, 80)]


def test_a_stop_joins_the_readings_without_strokes() -> None:
    assert stand(counted((0, 0), (10, 10), (50, 10), (90, 10), (100, 20)))[0] == [(10, 90)]


def test_two_stops_are_parted_by_a_stroke() -> None:
    assert stand(counted((0, 0), (80, 0), (90, 1), (170, 1), (180, 9)))[0] == [(0, 80), (90, 170)]


def test_idle_at_the_end_is_a_stop_already_or_not_yet() -> None:
    spans, short = stand(counted((0, 0), (10, 10), (60, 10)))
    assert (spans, short.open_idle) == ([], Idle(10 * SECOND, False))
    spans, long = stand(counted((0, 0), (10, 10), (80, 10)))
    assert (spans, long.open_idle) == ([(10, 80)], Idle(10 * SECOND, True))


def test_running_at_the_end_leaves_nothing_open() -> None:
    assert stand(counted((0, 0), (10, 10)))[1].open_idle is None


def test_carried_idle_becomes_a_stop_from_where_it_began() -> None:
    spans, stood = stand(counted((40, 0), (70, 0), (80, 10)), Idle(0, False))
    assert spans == [(0, 70)]
    assert stood.carried is True


def test_carried_idle_that_ends_in_time_was_running() -> None:
    spans, stood = stand(counted((40, 0), (55, 0), (80, 10)), Idle(0, False))
    assert spans == []
    assert stood.carried is False
    assert stand(counted((40, 0), (50, 10)), Idle(0, False))[1].carried is False


def test_carried_idle_that_goes_on_stays_undecided() -> None:
    spans, stood = stand(counted((40, 0), (50, 0)), Idle(0, False))
    assert (spans, stood.carried, stood.open_idle) == ([], None, Idle(0, False))


def test_carried_stop_goes_on_as_a_stop_however_short_the_rest() -> None:
    spans, stood = stand(counted((100, 0), (110, 0), (120, 10)), Idle(0, True))
    assert spans == [(0, 110)]
    assert stood.carried is True


def test_no_readings_leave_the_carried_idle_as_it_was() -> None:
    none = np.empty(0, dtype=np.int64)
    _, stood = stand(Counted(none, none, none, none), Idle(5, True))
    assert (stood.open_idle, stood.carried) == (Idle(5, True), None)


def test_time_of_the_stretches_before_each_cut() -> None:
    # Stretches 10 to 20 and 50 to 80.
    cuts = np.array([0, 10, 15, 20, 40, 60, 80, 99])
    found = seconds_before(cuts, np.array([10, 50]), np.array([20, 80]))
    assert found.tolist() == [0, 0, 5, 10, 10, 20, 40, 40]
    none = np.empty(0, dtype=np.int64)
    assert seconds_before(cuts, none, none).tolist() == [0] * 8
