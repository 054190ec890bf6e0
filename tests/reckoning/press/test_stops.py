"""Stops split by shift, break and entered reason."""

from __future__ import annotations

from monitor.reckoning.press.press_day import EDGE_US, EnteredStop, Plan
from monitor.reckoning.press.stops import PlanIndex, StopPiece, assign, explain, stop_name, stop_pieces
from tests.reckoning.given import ALL_DAY, HOUR, REASONS, SECOND, entered, plan, window

TWO_SHIFTS = plan(
    window("early", 6 * HOUR, 14 * HOUR, (9 * HOUR, 9 * HOUR + 1200)), window("late", 14 * HOUR, 22 * HOUR)
)


def split(
    *stops: tuple[int, int], noted: tuple[EnteredStop, ...] = (), on: Plan = ALL_DAY, since_s: int = 0
) -> list[StopPiece]:
    """Split stops given in seconds."""
    spans = [(start * SECOND, end * SECOND) for start, end in stops]
    given = assign(noted, spans)
    said = {start: explain(given.of(start), start, end, EDGE_US) for start, end in spans}
    return stop_pieces(spans, since_s * SECOND, said, REASONS, PlanIndex(on))


def told(pieces: list[StopPiece]) -> list[tuple[int, int, str, bool]]:
    """From [s], to [s], reason, in plan."""
    return [(piece.from_us // SECOND, piece.to_us // SECOND, piece.reason, piece.in_plan) for piece in pieces]


def test_stop_nobody_explained_has_no_reason_yet_and_counts() -> None:
    assert told(split((100, 400))) == [(100, 400, "no reason yet", True)]


def test_48_min_of_coil_change_and_broken_punch_split_where_the_entries_say() -> None:
    noted = (entered(0, 480, "COI"), entered(600, 2880, "PUN"))
    found = split((0, 2880), noted=noted)
    # The second note splits it where it begins: two minutes that nobody noted are no third part.
    assert told(found) == [(0, 600, "COI", True), (600, 2880, "PUN", True)]
    assert [piece.kind for piece in found] == ["material", "tooling"]
    assert {piece.stop_us for piece in found} == {0}


def test_the_entry_that_began_last_speaks_where_two_overlap() -> None:
    found = split((0, 1000), noted=(entered(0, 1000, "COI"), entered(400, 600, "PUN")))
    assert told(found) == [(0, 400, "COI", True), (400, 600, "PUN", True), (600, 1000, "COI", True)]


def test_entry_wider_than_the_stop_does_not_widen_it() -> None:
    assert told(split((100, 400), noted=(entered(50, 900, "PUN"),))) == [(100, 400, "PUN", True)]


def test_stop_over_the_break_from_9_00_to_9_20_is_planned_there() -> None:
    found = split((9 * HOUR - 60, 9 * HOUR + 1500), on=TWO_SHIFTS)
    assert told(found) == [
        (9 * HOUR - 60, 9 * HOUR, "no reason yet", True),
        (9 * HOUR, 9 * HOUR + 1200, "break", False),
        (9 * HOUR + 1200, 9 * HOUR + 1500, "no reason yet", True),
    ]
    assert [piece.kind for piece in found] == ["", "planned", ""]


def test_reason_entered_over_a_break_is_shown_but_does_not_count() -> None:
    found = split((9 * HOUR, 9 * HOUR + 600), noted=(entered(9 * HOUR, 9 * HOUR + 600, "PUN"),), on=TWO_SHIFTS)
    assert told(found) == [(9 * HOUR, 9 * HOUR + 600, "PUN", False)]


def test_stop_over_the_shift_change_at_14_00_is_one_stop_and_keeps_its_reason() -> None:
    found = split((14 * HOUR - 300, 14 * HOUR + 900), noted=(entered(14 * HOUR - 300, None, "PUN"),), on=TWO_SHIFTS)
    assert told(found) == [(14 * HOUR - 300, 14 * HOUR, "PUN", True), (14 * HOUR, 14 * HOUR + 900, "PUN", True)]
    assert [piece.shift for piece in found] == ["early", "late"]
    assert {piece.stop_us for piece in found} == {(14 * HOUR - 300) * SECOND}


def test_reason_outside_planned_time_does_not_count() -> None:
    assert told(split((0, 600), noted=(entered(0, 600, "MTG"),))) == [(0, 600, "MTG", False)]


def test_reason_that_is_not_in_the_book_counts_as_other() -> None:
    found = split((0, 600), noted=(entered(0, 600, "XYZ"),))
    assert (found[0].kind, found[0].in_plan) == ("other", True)


def test_outside_every_shift_and_on_a_closed_day() -> None:
    closed = plan(window("early", 6 * HOUR, 14 * HOUR, closed=True))
    assert told(split((HOUR, 2 * HOUR), on=closed)) == [(HOUR, 2 * HOUR, "no shift", False)]
    assert told(split((7 * HOUR, 8 * HOUR), on=closed)) == [(7 * HOUR, 8 * HOUR, "closed day", False)]
    assert split((HOUR, 2 * HOUR), on=closed)[0].shift_date == "1970-01-01"


def test_entry_without_an_end_speaks_to_the_end_of_its_stop_and_of_no_other() -> None:
    found = split((0, 300), (900, 1200), noted=(entered(30, None, "PUN"),))
    assert told(found) == [(0, 300, "PUN", True), (900, 1200, "no reason yet", True)]


def test_entry_without_an_end_may_come_up_to_10_min_before_the_counter_shows_the_stop() -> None:
    assert told(split((600, 900), noted=(entered(0, None, "PUN"),))) == [(600, 900, "PUN", True)]
    assert told(split((601, 900), noted=(entered(0, None, "PUN"),))) == [(601, 900, "no reason yet", True)]


def test_what_was_told_by_the_fold_before_is_left_out_and_the_stop_keeps_its_name() -> None:
    found = split((0, 900), noted=(entered(0, None, "PUN"),), since_s=500)
    assert told(found) == [(500, 900, "PUN", True)]
    assert stop_name("P1", found[0].stop_us) == "P1-19700101T000000Z"
    assert split((0, 400), since_s=500) == []


def at(clock: str) -> int:
    """Seconds of a clock time."""
    hours, minutes, seconds = (int(part) for part in clock.split(":"))
    return hours * HOUR + minutes * 60 + seconds


def test_a_note_rounded_to_the_minute_explains_its_standstill_whole() -> None:
    # 7 s before the note and 14 s after it are within the edge of 5 min.
    stood = at("03:19:53"), at("03:26:14")
    found = split(stood, noted=(entered(at("03:20:00"), at("03:26:00"), "PUN"),))
    assert told(found) == [(*stood, "PUN", True)]


def test_more_than_the_edge_before_a_note_or_after_it_keeps_no_reason() -> None:
    # The standstill lasts from 0 to 1,000 s; the note leaves 300 s at either end, or 301.
    assert told(split((0, 1000), noted=(entered(300, 700, "PUN"),))) == [(0, 1000, "PUN", True)]
    assert told(split((0, 1000), noted=(entered(301, 699, "PUN"),))) == [
        (0, 301, "no reason yet", True),
        (301, 699, "PUN", True),
        (699, 1000, "no reason yet", True),
    ]


def test_more_than_the_edge_between_two_notes_keeps_no_reason() -> None:
    found = split((0, 2000), noted=(entered(0, 500, "COI"), entered(801, 2000, "PUN")))
    assert told(found) == [(0, 500, "COI", True), (500, 801, "no reason yet", True), (801, 2000, "PUN", True)]


def test_a_note_over_two_standstills_belongs_to_the_one_it_overlaps_most() -> None:
    # 100 s of the first, 200 s of the second: the first gets nothing, though it lies within the edge.
    found = split((0, 200), (300, 500), noted=(entered(100, 600, "PUN"),))
    assert told(found) == [(0, 200, "no reason yet", True), (300, 500, "PUN", True)]
    alike = split((0, 200), (300, 500), noted=(entered(100, 400, "PUN"),))
    assert told(alike) == [(0, 200, "PUN", True), (300, 500, "no reason yet", True)]


def test_notes_that_meet_no_standstill_are_told() -> None:
    stops = [(1000 * SECOND, 1200 * SECOND)]
    early, late, inside = entered(800, 1000, "PUN"), entered(1200, 1300, "PUN"), entered(1100, 1100, "COI")
    given = assign([early, late, inside, entered(399, None, "PUN"), entered(400, None, "PUN")], stops)
    assert given.unmet == [entered(399, None, "PUN"), early, late]
    # One without an end may come 10 min before the counter shows the stop; one of no length lies in it.
    assert given.of(1000 * SECOND) == [
        entered(400, 1200, "PUN"),
        EnteredStop(1100 * SECOND, 1100 * SECOND + 1, "COI"),
    ]
    assert told(split((1000, 1200), noted=(inside,))) == [(1000, 1200, "COI", True)]


def test_a_stop_over_a_shift_change_keeps_what_explains_it_whole() -> None:
    # The note ends at the shift change, 4 min before the press ran again.
    stood = 14 * HOUR - 600, 14 * HOUR + 240
    found = split(stood, noted=(entered(stood[0], 14 * HOUR, "PUN"),), on=TWO_SHIFTS)
    assert told(found) == [(stood[0], 14 * HOUR, "PUN", True), (14 * HOUR, stood[1], "PUN", True)]
    assert [piece.shift for piece in found] == ["early", "late"]


def test_plan_finds_shift_hour_and_day() -> None:
    index = PlanIndex(TWO_SHIFTS)
    assert index.shift((14 * HOUR - 1) * SECOND) == ("1970-01-01", "early")
    assert index.shift(14 * HOUR * SECOND) == ("1970-01-01", "late")
    assert index.shift(25 * HOUR * SECOND) == ("1970-01-02", "")
    assert index.hour((9 * HOUR + 1) * SECOND) == 9 * HOUR * SECOND
    assert [index.off(h * HOUR * SECOND) for h in (5, 8, 9, 23)] == ["no shift", "", "break", "no shift"]
