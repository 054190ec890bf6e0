from hypothesis import given
from hypothesis import strategies as st

from monitor.reckoning.press.overlay import overlay
from monitor.reckoning.press.press_day import EnteredStop


def spoken(rows: list[EnteredStop], at_us: int) -> str:
    """Reason of the row that began last of those that hold a moment; rows without an end never end."""
    holding = [row for row in rows if row.start_us <= at_us and (row.end_us is None or at_us < row.end_us)]
    return max(holding, key=lambda row: row.start_us).reason if holding else ""


def after(rows: list[EnteredStop], written: list[EnteredStop]) -> list[EnteredStop]:
    return list({row.start_us: row for row in [*rows, *written]}.values())


def test_a_stop_nobody_spoke_of_gets_one_row() -> None:
    assert overlay([], 10, 20, "CCH") == [EnteredStop(10, 20, "CCH")]
    assert overlay([], 10, None, "CCH") == [EnteredStop(10, None, "CCH")]


def test_another_reason_for_a_part_leaves_the_rest_as_it_was() -> None:
    assert overlay([EnteredStop(10, 40, "CCH")], 10, 18, "SPL") == [
        EnteredStop(10, 18, "SPL"),
        EnteredStop(18, 40, "CCH"),
    ]
    assert overlay([EnteredStop(10, 40, "CCH")], 18, 40, "PUN") == [EnteredStop(18, 40, "PUN")]


def test_an_entry_without_an_end_goes_on_only_where_the_press_still_stands() -> None:
    open_end = [EnteredStop(10, None, "CCH")]
    assert overlay(open_end, 10, 18, "SPL") == [EnteredStop(10, 18, "SPL")]
    assert overlay(open_end, 10, 18, "SPL", goes_on=True) == [EnteredStop(10, 18, "SPL"), EnteredStop(18, None, "CCH")]


def test_entries_that_began_later_are_covered_too() -> None:
    rows = [EnteredStop(1, 20, "A"), EnteredStop(2, 10, "B"), EnteredStop(7, 9, "C")]
    now = after(rows, overlay(rows, 0, 5, "R"))
    assert [spoken(now, us) for us in (0, 4, 5, 6, 7, 8, 9, 10, 19, 20)] == ["R", "R", *"BBCCBAA", ""]


MOMENTS = st.integers(0, 12)
ROWS = st.lists(
    st.builds(
        lambda start, length, reason: EnteredStop(start, start + length, reason),
        MOMENTS,
        st.integers(1, 8),
        st.sampled_from("ABC"),
    ),
    max_size=6,
    unique_by=lambda row: row.start_us,
)


@given(ROWS, MOMENTS, st.integers(1, 8))
def test_only_the_stretch_changes(rows: list[EnteredStop], start: int, length: int) -> None:
    now = after(rows, overlay(rows, start, start + length, "R"))
    for us in range(-1, 25):
        expected = "R" if start <= us < start + length else spoken(rows, us)
        assert spoken(now, us) == expected, us


@given(ROWS, MOMENTS, st.integers(1, 8))
def test_laying_it_over_twice_writes_nothing_new(rows: list[EnteredStop], start: int, length: int) -> None:
    once = after(rows, overlay(rows, start, start + length, "R"))
    assert sorted(after(once, overlay(once, start, start + length, "R")), key=repr) == sorted(once, key=repr)
