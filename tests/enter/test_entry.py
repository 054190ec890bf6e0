"""What people enter: taken like a file, reckoned at once, kept with who and what was before, and undone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.check import check
from monitor.enter.entry import enter, undo
from monitor.enter.floor import StandstillSpan, Work, first_off, give_reason, service, split_stop, write_note
from monitor.enter.history import changes_of, history
from monitor.figures import AVAILABLE, figure
from shared.errors import Overtaken, RequestError
from tests.invented.tiny import DAY, SHIFTS, Tiny, at
from tests.seeds import some

OPEN_US = 1 << 60
SECOND = 1_000_000


def us(clock: str) -> int:
    return int(pd.Timestamp(at(clock)).timestamp()) * SECOND


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Tiny]:
    """P stood 07:00 to 07:20 and 09:50 to 10:40, over a break, and stands since 13:00; Q did as P."""
    one = Tiny(tmp_path, SHIFTS)
    one.add("presses", press_id="Q", rated_spm=200)
    for reason, kind in (("CCH", "setup"), ("PUN", "tooling"), ("NOP", "planned")):
        one.add("reasons", reason=reason, name=reason.lower(), kind=kind)
    one.die("E", 1)
    for press, die in (("P", "D"), ("Q", "E")):
        one.set_die(at("06:00"), die, press)
        for begin, end in (("06:00", "07:00"), ("07:20", "09:50"), ("10:40", "13:00")):
            one.run(at(begin), at(end), press)
        one.add("strokes", time=at("13:30"), press_id=press, counter=1000 + one.counters[press])
    one.load()
    yield one
    one.ledger.close()


def stops(plant: Tiny, press: str = "P") -> list[tuple[str, str, str]]:
    rows = figure(plant.ledger, "stops", press=press)
    return [(a[11:16], b[11:16], c) for a, b, c in zip(rows["start_at"], rows["end_at"], rows["reason"], strict=True)]


def figures(plant: Tiny) -> dict[str, str]:
    return {name: figure(plant.ledger, name).to_csv() for name in AVAILABLE if name not in ("loads", "set_aside")}


UNEXPLAINED = [
    ("07:00", "07:20", "no reason yet"),
    ("09:50", "10:00", "no reason yet"),
    ("10:00", "10:30", "break"),
    ("10:30", "10:40", "no reason yet"),
    ("13:00", "", "no reason yet"),
]


def test_a_reason_stands_in_the_figures_at_once(plant: Tiny) -> None:
    assert stops(plant) == UNEXPLAINED
    give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "CCH")
    assert stops(plant) == [("07:00", "07:20", "CCH"), *UNEXPLAINED[1:]]
    assert stops(plant, "Q") == UNEXPLAINED
    assert not check(plant.ledger, deep=True)


def test_several_stops_at_once_are_one_entry_and_one_undo(plant: Tiny) -> None:
    chosen = [StandstillSpan("P", us("09:50"), us("10:00")), StandstillSpan("P", us("10:30"), us("10:40"))]
    chosen += [StandstillSpan("Q", us("07:00"), us("07:20"))]
    before = figures(plant)
    receipt = give_reason(plant.ledger, chosen, "PUN")
    assert [row[2] for row in stops(plant)] == ["no reason yet", "PUN", "break", "PUN", "no reason yet"]
    assert stops(plant, "Q")[0] == ("07:00", "07:20", "PUN")
    undo(plant.ledger, receipt.load_id)
    assert figures(plant) == before


def test_a_stop_that_lasts_keeps_its_reason_while_it_lasts_and_no_longer(plant: Tiny) -> None:
    give_reason(plant.ledger, [StandstillSpan("P", us("13:00"), None)], "NOP")
    assert stops(plant)[-1] == ("13:00", "", "NOP")
    plant.run(at("14:30"), at("14:50"))
    plant.run(at("15:00"), at("15:10"))
    plant.load()
    assert stops(plant)[-3:] == [
        ("13:00", "14:00", "NOP"),
        ("14:00", "14:30", "NOP"),
        ("14:50", "15:00", "no reason yet"),
    ]
    # The stop went on over the change of shift: another reason for its first part leaves the second as it was.
    give_reason(plant.ledger, [StandstillSpan("P", us("13:00"), us("14:00"))], "PUN")
    assert stops(plant)[-3:-1] == [("13:00", "14:00", "PUN"), ("14:00", "14:30", "NOP")]


def test_a_stop_is_split_at_a_time(plant: Tiny) -> None:
    stop = StandstillSpan("P", us("07:00"), us("07:20"))
    split_stop(plant.ledger, stop, us("07:08"), "CCH", "PUN")
    assert stops(plant)[:2] == [("07:00", "07:08", "CCH"), ("07:08", "07:20", "PUN")]
    split_stop(plant.ledger, StandstillSpan("P", us("07:08"), us("07:20")), us("07:15"), "", "CCH")
    assert stops(plant)[1:3] == [("07:08", "07:15", "PUN"), ("07:15", "07:20", "CCH")]
    with pytest.raises(RequestError, match="between its start and its end"):
        split_stop(plant.ledger, stop, us("07:20"), "CCH", "PUN")
    with pytest.raises(RequestError, match="nothing chosen"):
        split_stop(plant.ledger, stop, us("07:10"), "", "")


def test_who_when_and_what_was_before_are_kept(plant: Tiny) -> None:
    stop = [StandstillSpan("P", us("07:00"), us("07:20"))]
    give_reason(plant.ledger, stop, "CCH", by="Shift leader")
    second = give_reason(plant.ledger, stop, "PUN", by="Toolroom")
    undo(plant.ledger, second.load_id, by="Shift leader")
    told = history(plant.ledger.snapshot(), ["stops"], 0, OPEN_US, "P")
    assert [one.entered.by for one in told] == ["Shift leader", "Toolroom", "Shift leader"]
    assert told[1].undone_by == told[0].entered.load_id
    assert told[0].entered.undoes == second.load_id

    def reasons(one: object) -> list[object]:
        (change,) = told[one].changes  # type: ignore[call-overload]
        return [row and row["reason"] for row in (change.before, change.after)]

    assert [reasons(number) for number in range(3)] == [["PUN", "CCH"], ["CCH", "PUN"], [None, "CCH"]]
    loads = figure(plant.ledger, "loads")
    assert loads["file"].tolist()[-3:] == ["entered by Shift leader", "entered by Toolroom", "entered by Shift leader"]
    assert (loads["read"] == loads[["new", "repeated", "corrected", "set_aside"]].sum(axis=1)).all()


def test_what_a_file_said_of_a_stop_is_what_stood_before(plant: Tiny) -> None:
    plant.add("stops", press_id="P", start_at=at("06:58"), end_at="", reason="CCH")
    plant.add("stops", press_id="P", start_at=at("12:55"), end_at="", reason="NOP")
    plant.load()
    # A little before the stop, as a clock on the wall has it; the second speaks of the stop that lasts.
    assert [(stops(plant)[n][0], stops(plant)[n][2]) for n in (0, -1)] == [("07:00", "CCH"), ("13:00", "NOP")]
    for start, end in (("07:00", "07:20"), ("09:50", "10:00"), ("13:00", "")):
        give_reason(plant.ledger, [StandstillSpan("P", us(start), us(end) if end else None)], "PUN")
    told = history(plant.ledger.snapshot(), ["stops"], 0, OPEN_US, "P")
    before = [change.before and change.before["reason"] for one in reversed(told) for change in one.changes]
    assert before == ["CCH", None, "NOP"]


def test_an_undo_can_be_undone(plant: Tiny) -> None:
    receipt = give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "CCH")
    entered = figures(plant)
    taken_back = undo(plant.ledger, receipt.load_id)
    undo(plant.ledger, taken_back.load_id)
    assert figures(plant) == entered
    assert not check(plant.ledger, deep=True)


def test_the_second_of_two_is_told_what_the_first_entered(plant: Tiny) -> None:
    seen = plant.ledger.version
    stop = StandstillSpan("P", us("07:00"), us("07:20"))
    split_stop(plant.ledger, stop, us("07:06"), "", "CCH", by="First")
    with pytest.raises(Overtaken, match="First entered press_id P, reason CCH") as told:
        give_reason(plant.ledger, [stop], "PUN", by="Second", seen=seen)
    assert (told.value.by, told.value.row["reason"], told.value.row["start_at"]) == ("First", "CCH", us("07:06"))
    assert stops(plant)[:2] == [("07:00", "07:06", "no reason yet"), ("07:06", "07:20", "CCH")]
    give_reason(plant.ledger, [stop], "PUN", by="Second", seen=plant.ledger.version)
    assert stops(plant)[0] == ("07:00", "07:20", "PUN")
    # What another entered of another stop, or of another press, stands in nobody's way.
    give_reason(plant.ledger, [StandstillSpan("Q", us("07:00"), us("07:20"))], "PUN", seen=seen)


def test_nothing_is_undone_that_somebody_has_changed_since(plant: Tiny) -> None:
    stop = [StandstillSpan("P", us("07:00"), us("07:20"))]
    first = give_reason(plant.ledger, stop, "CCH", by="First")
    give_reason(plant.ledger, stop, "PUN", by="Second")
    with pytest.raises(Overtaken, match="Second entered"):
        undo(plant.ledger, first.load_id)
    with pytest.raises(RequestError, match="no entry 1"):
        undo(plant.ledger, 1)
    assert stops(plant)[0][2] == "PUN"


def test_a_file_that_comes_after_an_entry_is_a_repeat_or_set_aside(plant: Tiny) -> None:
    plant.add("stops", press_id="P", start_at=at("07:00"), end_at=at("07:20"), reason="CCH")
    plant.load()
    give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20"))], "PUN")
    plant.add("stops", press_id="P", start_at=at("07:00"), end_at=at("07:20"), reason="NOP")
    plant.add("stops", press_id="P", start_at=at("09:50"), end_at=at("10:00"), reason="NOP")
    with pytest.raises(AssertionError, match=r"contradicts stops\.csv, line 2: reason NOP instead of CCH"):
        plant.load()
    assert [row[2] for row in stops(plant)[:2]] == ["PUN", "NOP"]


def test_a_first_off_ends_the_setting(plant: Tiny) -> None:
    before = figures(plant)
    receipt = first_off(plant.ledger, "P", us("06:10"))
    shifts = figure(plant.ledger, "shifts", press="P")
    assert shifts["setup_pieces"].sum() == 600
    assert plant.ledger.snapshot().rows("die_changes").to_pylist()[-1]["die_id"] == "D"
    undo(plant.ledger, receipt.load_id)
    assert figures(plant) == before
    with pytest.raises(RequestError, match="no die in the press then"):
        first_off(plant.ledger, "P", us("05:00"))


def test_work_on_a_die_stands_in_its_service(plant: Tiny) -> None:
    service(plant.ledger, Work("D", us("08:00"), station=1, removed_mm=0.05, note="bright edge"))
    rows = figure(plant.ledger, "service", die="D")
    assert rows["strokes_since_sharpening"].tolist() == [15000]
    for work, told in (
        (Work("D", us("08:00"), work="polish"), "one of sharpen"),
        (Work("X", us("08:00")), "dies"),
        (Work("D", us("08:00"), removed_mm=500), "removed_mm"),
    ):
        with pytest.raises(RequestError, match=told):
            service(plant.ledger, work)


def test_notes_are_kept_apart_and_bear_on_nothing(plant: Tiny) -> None:
    before = figures(plant)
    write_note(plant.ledger, DAY, "early", "P", "Chute was blocked twice.\nLook at the nozzle.", by="Shift leader")
    write_note(plant.ledger, DAY, "early", "", '=HYPERLINK("x") <b>all</b> \u202e presses \x00')
    rows = plant.ledger.snapshot().rows("notes").to_pylist()
    assert [row["note"] for row in rows] == [
        "Chute was blocked twice.\nLook at the nozzle.",
        '=HYPERLINK("x") <b>all</b>   presses',
    ]
    assert len({row["note_id"] for row in rows}) == 2
    assert figures(plant) == before
    with pytest.raises(RequestError, match="empty"):
        write_note(plant.ledger, DAY, "early", "P", "  ")


def test_a_press_nobody_knows_is_refused_and_nothing_is_kept(plant: Tiny) -> None:
    version = plant.ledger.version
    with pytest.raises(RequestError, match="X"):
        give_reason(plant.ledger, [StandstillSpan("P", us("07:00"), us("07:20")), StandstillSpan("X", 5, 10)], "CCH")
    assert plant.ledger.version == version
    assert stops(plant) == UNEXPLAINED


ENTRIES = st.one_of(
    st.tuples(st.just("reason"), st.integers(0, 500), st.integers(1, 120), st.sampled_from(["CCH", "PUN", "NOP"])),
    st.tuples(st.just("split"), st.integers(0, 480), st.integers(2, 60), st.sampled_from(["CCH", "PUN"])),
    st.tuples(st.just("open"), st.integers(0, 500), st.just(0), st.sampled_from(["CCH", "NOP"])),
    st.tuples(st.just("first_off"), st.integers(0, 400), st.just(0), st.just("")),
)


def entered(plant: Tiny, entry: tuple[str, int, int, str]) -> int:
    what, minute, length, reason = entry
    start = us("06:00") + minute * 60 * SECOND
    stretch = StandstillSpan("P", start, start + length * 60 * SECOND)
    if what == "first_off":
        return first_off(plant.ledger, "P", start).load_id
    if what == "split":
        return split_stop(plant.ledger, stretch, start + 60 * SECOND, "NOP", reason).load_id
    if what == "open":
        return give_reason(plant.ledger, [StandstillSpan("P", start, None)], reason).load_id
    return give_reason(plant.ledger, [stretch], reason).load_id


@given(st.lists(ENTRIES, min_size=1, max_size=4))
@settings(
    max_examples=len(some(range(8), 3)), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_entering_and_undoing_in_reverse_gives_the_same_figures(
    plant: Tiny, entries: list[tuple[str, int, int, str]]
) -> None:
    before, made = figures(plant), []
    for entry in entries:
        load_id = entered(plant, entry)
        snapshot = plant.ledger.snapshot()
        if changes_of(snapshot, snapshot.entries(load_id)[0]):
            made.append(load_id)
    for load_id in reversed(made):
        undo(plant.ledger, load_id)
    assert figures(plant) == before


def test_holds_go_the_same_way(plant: Tiny) -> None:
    row = {"hold_id": "H", "placed_at": us("07:00"), "scope": "lot", "value": "L1", "reason": "why"}
    assert enter(plant.ledger, "holds", row) == plant.ledger.version
    with pytest.raises(RequestError, match="load the row as a file"):
        enter(plant.ledger, "strokes", {"time": 5})
