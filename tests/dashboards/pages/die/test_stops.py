import pytest

from dashboards.ledger.picks import unpack
from dashboards.pages.die.model import load_die
from dashboards.pages.die.stops import MOST_RIBBONS, die_stops, shift_ribbons
from dashboards.parts.ribbon import PLAN_REASONS
from dashboards.request.url import View
from monitor.reckoning.press.stops import NO_REASON
from tests.invented.five_presses import REASON_NAMES


@pytest.fixture
def reading(service):
    return service.read()


@pytest.fixture
def shown(reading):
    return load_die(reading, View(die="D131"))


def test_every_shift_of_the_die_is_a_ribbon_the_newest_first(reading, shown):
    shifts = reading.figure("shifts", die="D131")[["press_id", "shift_date", "shift"]].drop_duplicates()
    told = [(one.press_id, one.page.date.isoformat(), one.page.shift) for one in shown.ribbons]
    assert sorted(told) == sorted(shifts.itertuples(index=False, name=None))
    assert told[0][1] == max(shifts["shift_date"])
    assert all(0 <= span.left <= 100 for one in shown.ribbons for span in one.track)


def test_a_stop_on_a_ribbon_is_the_stop_of_the_figure(reading, shown):
    stops = reading.figure("stops", die="D131")
    starts = set(stops.loc[~stops["reason"].isin(PLAN_REASONS), "start_at"])
    picked = [pick for one in shown.ribbons for span in one.track if span.pick for pick in unpack(span.pick)]
    assert picked
    assert {pick.start_us for pick in picked} <= starts
    assert {pick.press for pick in picked} == set(stops["press_id"])


def test_only_so_many_shifts_are_drawn(reading, monkeypatch):
    monkeypatch.setattr("dashboards.pages.die.stops.MOST_RIBBONS", 2)
    assert len(shift_ribbons(reading, reading.figure("shifts", die="D131"))) == 2 < MOST_RIBBONS


def test_stops_without_a_reason_are_listed_first_then_the_newest(reading):
    stops = reading.figure("stops", from_="2026-11-02")
    told = die_stops(stops, REASON_NAMES, reading.clock)
    bare = [one.bare for one in told]
    assert bare == sorted(bare, reverse=True)
    assert sum(bare) == (stops["reason"] == NO_REASON).sum() > 0
    starts = [unpack(one.pick)[0].start_us for one in told]
    assert starts[: sum(bare)] == sorted(starts[: sum(bare)], reverse=True)
    assert len(told) == (~stops["reason"].isin(PLAN_REASONS)).sum()
    assert told[0].words.startswith(unpack(told[0].pick)[0].press)


def test_an_empty_ledger_has_neither(empty_service):
    reading = empty_service.read()
    assert shift_ribbons(reading, reading.figure("shifts")) == ()
    assert die_stops(reading.figure("stops"), {}, reading.clock) == ()
