"""Rows that cannot all be true, planted one by one in a plant of one press, and what only looks like them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from monitor.figures import figure
from monitor.figures.contradictions.made import PiecesMade
from tests.invented.tiny import SHIFTS, Tiny, at

COLUMNS = [
    "code", "press_id", "die_id", "part_no", "coil_id", "container_id", "inspection_id", "at", "rows", "affects",
    "remedy",
]  # fmt: skip


@pytest.fixture
def plant(tmp_path: Path) -> Tiny:
    """A press that makes 3600 pieces from 06:00 to 07:00 and 3600 from 07:00 to 08:00, from one coil."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("08:00"))
    return tiny


def rows(tiny: Tiny, **asked: Any) -> list[dict[str, Any]]:
    table = figure(tiny.ledger, "contradictions", **asked)
    assert list(table.columns) == COLUMNS
    return [{str(name): value for name, value in row.items()} for row in table.to_dict("records")]


def codes(tiny: Tiny, **asked: Any) -> list[str]:
    return [row["code"] for row in rows(tiny, **asked)]


def shift(tiny: Tiny) -> dict[str, Any]:
    table = figure(tiny.ledger, "shifts")
    return {str(name): value for name, value in table[table["die_id"] == "D"].iloc[0].items()}


# more_rejected_than_made


def test_a_tub_count_of_more_than_was_made_is_named_and_leaves_good_empty(plant: Tiny) -> None:
    # 7200 pieces were made by 08:00 and 8604 are said to be in the tub: good would be -1404, quality -0.195.
    plant.look("T1", at("08:00"), "tub", None, 8604)
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["press_id"], row["die_id"], row["inspection_id"]) == (
        "more_rejected_than_made", "P", "D", "T1",
    )  # fmt: skip
    assert (row["at"], row["rows"]) == (at("08:00"), "inspections.csv:2")
    assert "8604" in row["remedy"]
    assert "7200" in row["remedy"]
    assert "shifts" in row["affects"].split(";")
    assert (shift(plant)["pieces"], shift(plant)["rejected"]) == (7200, 8604)
    assert all(pd.isna(shift(plant)[name]) for name in ("good", "quality", "oee_index"))
    hours, coils = figure(plant.ledger, "hours"), figure(plant.ledger, "coils")
    # 4302 of each hour's 3600 are booked as rejected.
    assert hours.loc[hours["pieces"] > 0, "good"].isna().all()
    assert coils[["good", "good_kg", "coil_yield"]].isna().all(axis=None)


def test_a_tub_count_since_the_last_one_is_held_against_what_was_made_since(plant: Tiny) -> None:
    # 3600 pieces lie between the counts of 07:00 and 08:00; 300 s at each end, which people round, are 600 more.
    plant.look("T1", at("07:00"), "tub", None, 100)
    plant.look("T2", at("08:00"), "tub", None, 4201)
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["inspection_id"]) == ("more_rejected_than_made", "T2")


def test_a_tub_count_that_fits_is_no_contradiction(plant: Tiny) -> None:
    plant.look("T1", at("07:00"), "tub", None, 3600)
    plant.look("T2", at("08:00"), "tub", None, 3600)
    plant.load()
    assert codes(plant) == []
    assert (shift(plant)["rejected"], shift(plant)["good"]) == (7200, 0)


def test_two_sorts_of_one_box_reject_more_than_fell_into_it(plant: Tiny) -> None:
    # A minute of 60 pieces, with 300 more at each end that other clocks may have seen in it: 660.  400 + 261 is more.
    plant.box("B", at("06:20"), at("06:21"), 60)
    plant.look("I1", at("07:00"), "full", 460, 400, container_id="B")
    plant.look("I2", at("07:10"), "full", 321, 261, container_id="B")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["container_id"], row["inspection_id"]) == ("more_rejected_than_made", "B", "I1;I2")
    assert row["rows"] == "containers.csv:2;inspections.csv:2;inspections.csv:3"
    assert "661 pieces were rejected or made while setting, but at most 660 can have been made." in row["remedy"]


def test_rejects_of_two_kinds_beyond_the_pieces_of_a_shift_are_named_together(plant: Tiny) -> None:
    # A tub of 4000 and a sort of 3500 of the same 7200 pieces: each fits, both do not.
    plant.look("T1", at("08:00"), "tub", None, 4000)
    plant.look("I1", at("08:00"), "full", 7200, 3500, made_from=at("06:00"), made_to=at("08:00"))
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["inspection_id"]) == ("more_rejected_than_made", "I1;T1")
    assert pd.isna(shift(plant)["good"])


# sample_larger_than_made


def test_a_sample_larger_than_all_that_was_made(plant: Tiny) -> None:
    plant.look("I1", at("07:00"), "sample", 5000, 0)
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["inspection_id"], row["press_id"]) == ("sample_larger_than_made", "I1", "P")
    # 3600 until 07:00, and 300 more that may have been made before the sample by another clock.
    assert "5000 pieces, but there can have been 3900 at most." in row["remedy"]


def test_a_sample_of_what_was_made_is_none(plant: Tiny) -> None:
    plant.look("I1", at("07:00"), "sample", 3600, 0)
    plant.look("I2", at("07:30"), "sample", 3000, 0, made_from=at("06:30"), made_to=at("07:20"))
    plant.load()
    assert codes(plant) == []


def test_a_sample_larger_than_its_span(plant: Tiny) -> None:
    # 1200 pieces in 20 minutes, 600 more for the edges.
    plant.look("I1", at("07:30"), "sample", 1801, 0, made_from=at("06:30"), made_to=at("06:50"))
    plant.load()
    assert codes(plant) == ["sample_larger_than_made"]


@pytest.mark.parametrize("inspected", [100, 120])
def test_a_box_may_be_counted_before_or_after_it_is_sorted(plant: Tiny, inspected: int) -> None:
    plant.box("B", at("06:00"), at("06:30"), 100)
    plant.look("I1", at("07:00"), "full", inspected, 20, container_id="B")
    plant.load()
    assert codes(plant) == []


def test_a_sort_larger_than_the_box(plant: Tiny) -> None:
    # 100 pieces are in the box and 20 were sorted out of it: 121 were never there.
    plant.box("B", at("06:00"), at("06:30"), 100)
    plant.look("I1", at("07:00"), "full", 121, 20, container_id="B")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["container_id"]) == ("sample_larger_than_made", "B")
    assert row["rows"] == "containers.csv:2;inspections.csv:2"


def test_a_box_filled_up_after_it_was_closed_may_hold_more(plant: Tiny) -> None:
    plant.box("A", at("06:30"), at("06:50"), 100)
    plant.box("B", at("06:00"), at("06:30"), 100)
    plant.add("repacks", time=at("06:55"), from_container="A", to_container="B", quantity=30)
    plant.look("I1", at("07:00"), "full", 130, 0, container_id="B")
    plant.load()
    assert codes(plant) == []


def test_what_was_made_after_the_last_reading_is_not_known(plant: Tiny) -> None:
    plant.look("I1", at("09:30"), "sample", 8000, 0)
    plant.look("T1", at("09:30"), "tub", None, 8000)
    plant.load()
    assert codes(plant) == []


@pytest.mark.parametrize("counts_feeds", [True, False])
def test_an_hour_left_empty_is_marked_though_strokes_without_strip_lie_in_it(
    tmp_path: Path, counts_feeds: bool
) -> None:
    # 5400 pieces by 07:30, 1800 of them after 07:00; then the coil is off and 1800 strokes feed nothing.
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.change(at("07:30"), "remove", "C")
    tiny.run(at("06:00"), at("08:00"))
    if counts_feeds:
        for row in tiny.rows["strokes"]:
            row["feeds"] = min(int(str(row["counter"])) - 1000, 5400)
    # With the minutes before 07:00 no more than 2100 were made; 1800 more if the press had fed without a note.
    tiny.look("F", at("08:00"), "full", 3500, 3500, made_from=at("07:00"), made_to=at("08:00"))
    tiny.load()
    hours = figure(tiny.ledger, "hours")
    assert hours["good"].isna().tolist() == [False, True]
    (row,) = [row for row in rows(tiny) if row["code"] == "more_rejected_than_made"]
    assert (row["inspection_id"], row["rows"]) == ("F", "inspections.csv:2")
    assert f"at most {2100 if counts_feeds else 1800} can have been made" in row["remedy"]
    assert ("sample_larger_than_made" in codes(tiny)) is counts_feeds


# more_decided_than_rejected


def test_more_decided_than_rejected(plant: Tiny) -> None:
    plant.look("I1", at("07:00"), "full", 100, 10, made_from=at("06:00"), made_to=at("06:30"))
    plant.add("dispositions", disposition_id="X", inspection_id="I1", cause="BUR", time=at("07:30"),
              outcome="found_good", pieces=50)  # fmt: skip
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["inspection_id"], row["at"]) == ("more_decided_than_rejected", "I1", at("07:30"))
    assert row["rows"] == "dispositions.csv:2;inspections.csv:2"
    assert "for 40 more pieces than were rejected" in row["remedy"]


@pytest.mark.parametrize(
    ("before", "pieces", "found"), [(6, 5, []), (0, 10, ["more_decided_than_rejected"])], ids=["all of them", "more"]
)
def test_decisions_after_a_second_look_are_of_what_it_left_rejected(
    plant: Tiny, before: int, pieces: int, found: list[str]
) -> None:
    made = {"made_from": at("06:00"), "made_to": at("06:30")}
    # Of 1800 pieces 6 were rejected, 5 when they were all looked at again: 5 are left, never 11.
    plant.look("I1", at("07:00"), "full", 1800, 6, **made)
    if before:
        plant.add("dispositions", disposition_id="W", inspection_id="I1", cause="BUR", time=at("07:10"),
                  outcome="scrap", pieces=before)  # fmt: skip
    plant.look("I2", at("07:20"), "full", 1800, 5, rechecks="I1")
    plant.add("dispositions", disposition_id="X", inspection_id="I2", cause="BUR", time=at("07:30"),
              outcome="rework", pieces=pieces)  # fmt: skip
    plant.load()
    assert codes(plant) == found
    assert all(f"for {pieces - 5} more pieces than were rejected" in row["remedy"] for row in rows(plant))


def test_setting_pieces_may_be_released_by_an_inspection(tmp_path: Path) -> None:
    # 600 pieces are made while the die is set: 600 may be released, 610 may not, whichever were rejected.
    for number, (pieces, found) in enumerate(((600, []), (610, ["more_decided_than_rejected"]))):
        (tmp_path / str(number)).mkdir()
        tiny = Tiny(tmp_path / str(number), SHIFTS)
        tiny.coil("C")
        tiny.set_die(at("06:00"))
        tiny.change(at("06:00"), "mount", "C")
        tiny.add("die_changes", time=at("06:10"), press_id="P", event="first_off", die_id="D")
        tiny.run(at("06:00"), at("08:00"))
        tiny.look("I1", at("06:09"), "sample", 20, 10)
        tiny.add("dispositions", disposition_id="X", inspection_id="I1", cause="", time=at("06:20"),
                 outcome="found_good", pieces=pieces)  # fmt: skip
        tiny.load()
        assert codes(tiny) == found
        # 7200 made: all good, or it is not known how many.
        row = shift(tiny)
        assert (row["pieces"], pd.isna(row["good"])) == (7200, bool(found))


# box_sent_twice


def test_a_box_sent_twice(plant: Tiny) -> None:
    plant.box("B", at("06:00"), at("06:30"), 100)
    plant.add("shipments", shipment_id="S1", container_id="B", shipped_at=at("09:00"), customer="K")
    plant.add("shipments", shipment_id="S2", container_id="B", shipped_at=at("12:00"), customer="K")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["container_id"], row["press_id"], row["part_no"]) == ("box_sent_twice", "B", "P", "N")
    assert (row["at"], row["rows"]) == (at("12:00"), "shipments.csv:2;shipments.csv:3")
    assert "customer_week" in row["affects"]


def test_a_box_packed_anew_between_two_shipments_is_sent_twice_rightly(plant: Tiny) -> None:
    plant.box("A", at("06:30"), at("07:00"), 100)
    plant.box("B", at("06:00"), at("06:30"), 100)
    plant.add("repacks", time=at("10:00"), from_container="A", to_container="B", quantity=100)
    plant.add("shipments", shipment_id="S1", container_id="B", shipped_at=at("09:00"), customer="K")
    plant.add("shipments", shipment_id="S2", container_id="B", shipped_at=at("12:00"), customer="K")
    plant.load()
    assert codes(plant) == []


# coil_on_two_presses, die_in_two_presses


def second_press(tiny: Tiny, begin: str, *, die: str = "E") -> None:
    """Press Q strokes for an hour with a die of its own, and notes the coil of press P."""
    tiny.add("presses", press_id="Q", rated_spm=200)
    if die != "D":
        tiny.die(die, 1)
    tiny.set_die(at("06:00") if die != "D" else begin, die, "Q")
    tiny.run(begin, at("08:00"), press="Q")


def test_a_coil_on_two_presses_that_both_feed_it(plant: Tiny) -> None:
    second_press(plant, at("07:00"))
    plant.change(at("07:00"), "mount", "C", "Q")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["press_id"], row["coil_id"]) == ("coil_on_two_presses", "P;Q", "C")
    assert (row["at"], row["rows"]) == (at("07:00"), "coil_changes.csv:2;coil_changes.csv:3")
    assert codes(plant, press="P") == codes(plant, press="Q") == ["coil_on_two_presses"]
    assert codes(plant, press="X") == codes(plant, part="N") == []


@pytest.mark.parametrize("noted", ["remove", "mount", "splice", "nothing"])
def test_a_coil_that_left_the_first_press_is_no_contradiction(tmp_path: Path, noted: str) -> None:
    """It is removed, another one takes its place, or the press does not stroke any more."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.coil("C2")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("07:04"))
    if noted != "nothing":
        tiny.change(at("07:04"), noted, "C" if noted == "remove" else "C2")
        tiny.run(at("07:04"), at("08:00"))
    second_press(tiny, at("07:00"))
    tiny.change(at("07:00"), "mount", "C", "Q")
    tiny.load()
    assert codes(tiny) == []


def test_a_few_dry_strokes_after_the_coil_has_left_are_no_contradiction(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("07:00"))
    tiny.run(at("07:20"), at("07:21"))
    second_press(tiny, at("07:00"))
    tiny.change(at("07:00"), "mount", "C", "Q")
    tiny.load()
    assert codes(tiny) == []


def test_one_reading_a_shift_does_not_show_that_the_coil_was_on_both(tmp_path: Path) -> None:
    """The strokes of press P may all have been made before the coil went to press Q."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("14:00"), every_s=8 * 3600, spm=10)
    second_press(tiny, at("07:00"))
    tiny.change(at("07:00"), "mount", "C", "Q")
    tiny.load()
    assert codes(tiny) == []


def test_a_die_in_two_presses_that_both_stroke_with_it(plant: Tiny) -> None:
    plant.coil("C2")
    second_press(plant, at("07:00"), die="D")
    plant.change(at("07:00"), "mount", "C2", "Q")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["press_id"], row["die_id"]) == ("die_in_two_presses", "P;Q", "D")
    assert row["rows"] == "die_changes.csv:2;die_changes.csv:3"


def test_a_die_whose_pull_was_forgotten_is_no_contradiction_where_the_press_stands(tmp_path: Path) -> None:
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.coil("C")
    tiny.coil("C2")
    tiny.set_die(at("06:00"))
    tiny.change(at("06:00"), "mount", "C")
    tiny.run(at("06:00"), at("06:50"))
    second_press(tiny, at("07:00"), die="D")
    tiny.change(at("07:00"), "mount", "C2", "Q")
    tiny.load()
    assert codes(tiny) == []


# event_of_other_die


def test_a_first_off_of_a_die_that_is_not_in_the_press(plant: Tiny) -> None:
    plant.die("E", 1)
    plant.add("die_changes", time=at("06:30"), press_id="P", event="first_off", die_id="E")
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["press_id"], row["die_id"]) == ("event_of_other_die", "P", "D;E")
    assert (row["at"], row["rows"]) == (at("06:30"), "die_changes.csv:2;die_changes.csv:3")


def test_the_late_pull_of_the_die_just_replaced_is_no_contradiction(plant: Tiny) -> None:
    plant.die("E", 1)
    plant.set_die(at("07:00"), "E")
    plant.add("die_changes", time=at("07:01"), press_id="P", event="pull", die_id="D")
    plant.load()
    assert codes(plant) == []


# stop_while_running


def stopped(tiny: Tiny, begin: str, end: str | None) -> None:
    tiny.add("stops", press_id="P", start_at=begin, end_at=end, reason="PUN")


def test_a_stop_entered_while_the_press_ran(plant: Tiny) -> None:
    stopped(plant, at("06:30"), at("06:40"))
    plant.load()
    (row,) = rows(plant)
    assert (row["code"], row["press_id"], row["at"]) == ("stop_while_running", "P", at("06:30"))
    assert (row["rows"], row["affects"]) == ("stops.csv:2", "stops")


@pytest.mark.parametrize(
    ("begin", "end"),
    [
        ("08:04", "08:14"),  # in the standstill from 08:00 to 08:20
        ("07:40", "07:56"),  # within 5 minutes of it
        ("08:24", "08:30"),  # so after it
        ("07:00", "07:00:50"),  # shorter than what counts as a stop
        ("08:50", "09:20"),  # beyond the last reading of 09:00
        ("08:55", None),  # still standing, as far as is known
        ("05:30", "05:50"),  # before the first reading
    ],
)
def test_a_stop_that_may_have_been_is_no_contradiction(plant: Tiny, begin: str, end: str | None) -> None:
    plant.run(at("08:20"), at("09:00"))
    stopped(plant, at(begin), None if end is None else at(end))
    plant.load()
    assert codes(plant) == []


def test_a_stop_in_time_that_nobody_saw_is_no_contradiction(tmp_path: Path) -> None:
    """One reading every two hours: whether the press ran from 06:30 to 06:40 nobody knows."""
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.set_die(at("06:00"))
    tiny.run(at("06:00"), at("10:00"), every_s=7200, spm=30)
    stopped(tiny, at("06:30"), at("06:40"))
    tiny.load()
    assert codes(tiny) == []


# range, filters, correction


def test_range_and_filters_choose_by_the_moment_of_the_later_row(plant: Tiny) -> None:
    plant.box("B", at("06:00"), at("06:30"), 100)
    for number, clock in enumerate(("09:00", "12:00"), start=1):
        plant.add("shipments", shipment_id=f"S{number}", container_id="B", shipped_at=at(clock), customer="K")
    plant.load()
    assert codes(plant, from_=at("12:00"), to=at("12:01")) == ["box_sent_twice"]
    assert codes(plant, from_=at("09:00"), to=at("12:00")) == []
    assert codes(plant, part="N", press="P") == ["box_sent_twice"]
    assert codes(plant, die="D") == codes(plant, part="M") == []


def test_a_tub_counted_after_the_shift_stands_beside_the_figures_of_the_shift(plant: Tiny) -> None:
    """8604 pieces in a tub counted at 14:02, in the late shift, were made in the early one."""
    plant.run(at("14:00"), at("14:10"))
    plant.look("T1", at("14:02"), "tub", None, 9000)
    plant.load()
    assert codes(plant, from_=at("06:00"), to=at("14:00")) == ["more_rejected_than_made"]


def test_a_correction_ends_the_contradiction(plant: Tiny) -> None:
    plant.look("T1", at("08:00"), "tub", None, 8604)
    plant.load()
    plant.look("T1", at("08:00"), "tub", None, 86, recorded_at=at("09:00"))
    plant.load()
    assert codes(plant) == []
    assert shift(plant)["good"] == 7114


def test_nobody_looks_back_for_what_a_press_without_readings_made(tmp_path: Path, monkeypatch: Any) -> None:
    # Looking back day by day finds nothing before 1970 is reached: 20,000 look-ups an inspection.
    read: list[object] = []
    monkeypatch.setattr(PiecesMade, "pieces", lambda *asked, **_named: read.append(asked) or 0)
    tiny = Tiny(tmp_path, SHIFTS)
    tiny.look("S1", at("08:00"), "sample", 500, 3)
    tiny.load()
    assert rows(tiny) == []
    assert read == []
