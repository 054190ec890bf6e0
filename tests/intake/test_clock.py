import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.clock import to_instants
from shared.errors import PlantError

ZONES = ("Europe/Berlin", "America/Chicago", "Asia/Kolkata", "Australia/Lord_Howe", "America/Santiago", "UTC")
EPOCH = dt.datetime(1970, 1, 1)


def local_us(*texts: str) -> np.ndarray:
    return np.array([(dt.datetime.fromisoformat(t) - EPOCH) // dt.timedelta(microseconds=1) for t in texts])


def as_text(us: int) -> str:
    return (EPOCH + dt.timedelta(microseconds=int(us))).isoformat()


def test_a_repeated_hour_has_two_instants_an_hour_apart() -> None:
    found = to_instants(local_us("2026-11-01T01:30"), "America/Chicago")
    assert (as_text(found.us[0]), as_text(found.later_us[0])) == ("2026-11-01T06:30:00", "2026-11-01T07:30:00")
    assert found.twice.tolist() == [True]
    assert found.never.tolist() == [False]


def test_a_skipped_hour_never_was() -> None:
    found = to_instants(
        local_us("2026-03-08T02:30", "2026-03-08T01:59:59.999999", "2026-03-08T03:00"), "America/Chicago"
    )
    assert found.never.tolist() == [True, False, False]
    assert [as_text(us) for us in found.us[1:]] == ["2026-03-08T07:59:59.999999", "2026-03-08T08:00:00"]


def test_the_edges_of_the_repeated_hour() -> None:
    found = to_instants(
        local_us("2026-10-25T01:59:59", "2026-10-25T02:00", "2026-10-25T02:59:59", "2026-10-25T03:00"), "Europe/Berlin"
    )
    assert found.twice.tolist() == [False, True, True, False]
    assert as_text(found.us[3]) == "2026-10-25T02:00:00"


def test_nothing_gives_nothing() -> None:
    assert len(to_instants(np.array([], dtype=np.int64), "Europe/Berlin").us) == 0


def test_an_unknown_zone_says_so() -> None:
    with pytest.raises(PlantError, match="Europe/Berlim"):
        to_instants(local_us("2026-01-01T00:00"), "Europe/Berlim")


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(ZONES),
    st.lists(st.datetimes(dt.datetime(1991, 1, 1), dt.datetime(2037, 1, 1)), min_size=1, max_size=4),
)
def test_agrees_with_the_standard_library(zone: str, walls: list[dt.datetime]) -> None:
    found = to_instants(local_us(*(wall.isoformat() for wall in walls)), zone)
    for place, wall in enumerate(walls):
        first, second = (wall.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(dt.UTC) for fold in (0, 1))
        exists = first.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == wall
        assert found.never[place] == (not exists)
        assert found.twice[place] == (exists and first != second)
        if exists:
            assert as_text(found.us[place]) + "+00:00" == first.isoformat()
            assert as_text(found.later_us[place]) + "+00:00" == second.isoformat()


@pytest.mark.parametrize("zone", ZONES)
def test_every_minute_around_each_change_of_a_year(zone: str) -> None:
    minutes = np.arange(0, 366 * 1440 * 60, 60) * 1_000_000 + local_us("2026-01-01T00:00")[0]
    found = to_instants(minutes, zone)
    one_by_one = [
        to_instants(minutes[place : place + 1], zone) for place in np.flatnonzero(found.twice | found.never)[:500]
    ]
    assert all(one.twice[0] or one.never[0] for one in one_by_one)
    assert found.twice.sum() == found.never.sum()  # what autumn repeats, spring has skipped
