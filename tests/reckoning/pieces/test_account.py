"""The account of a container: in = inside + out, nothing negative, nothing sent twice, in any order of rows."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import pytest
from hypothesis import given as for_all
from hypothesis import settings
from hypothesis import strategies as st

from monitor.reckoning.pieces.account import accounts
from monitor.reckoning.pieces.containers import SORTED_OUT, Accounts, Box, EntryKind, Repack, ShippedBox, reached

HOUR = 3_600_000_000
NAMES = ("A", "B", "C", "D")


def box(name: str, quantity: int | None = None, *, begin: int = 0, end: int = HOUR, is_open: bool = False) -> Box:
    return Box(name, "N", press_id="P", from_us=begin, to_us=end, quantity=quantity, is_open=is_open)


def packed(name: str, quantity: int | None = None, us: int = 2 * HOUR) -> Box:
    """A container that never stood at a press: opened and closed when it was packed."""
    return box(name, quantity, begin=us, end=us)


def move(source: str, target: str, quantity: int, hour: float = 2) -> Repack:
    return Repack(int(hour * HOUR), source, target, quantity)


def sent(*names: str, hour: float = 9) -> list[ShippedBox]:
    return [ShippedBox(int(hour * HOUR), f"S-{name}", name) for name in names]


def shipped(found: Accounts) -> dict[str, int | None]:
    return {name: pieces for (_, name), pieces in found.sent.items()}


def inside(found: Accounts, name: str) -> int:
    return found.by_container[name].inside()


def test_half_packed_over_before_shipping_leaves_the_other_half() -> None:
    # 3,596 - 500 = 3,096 are left in A; 3,096 + 500 = 3,596 go out, no more than were made.
    found = accounts([box("A", 3596), packed("B", 500)], {"A": 3596}, [move("A", "B", 500)], sent("A", "B"))
    assert shipped(found) == {"A": 3096, "B": 500}
    assert inside(found, "A") == inside(found, "B") == 0


def test_an_emptied_container_on_the_shipment_adds_nothing() -> None:
    found = accounts([box("A", 3596), packed("B")], {"A": 3596}, [move("A", "B", 3596)], sent("A", "B"))
    assert shipped(found) == {"A": 0, "B": 3596}


def test_pieces_packed_into_a_container_that_was_not_counted_come_on_top_of_what_fell() -> None:
    # 1,800 fell and 200 were packed in: 2,000.
    found = accounts([box("A", 1800), box("B")], {"A": 1800, "B": 1800}, [move("A", "B", 200)], sent("A", "B"))
    assert shipped(found) == {"A": 1600, "B": 2000}


@pytest.mark.parametrize("counted", [1800, 2000])
def test_a_full_container_topped_up_after_it_was_closed(counted: int) -> None:
    # Whether the count is from before the 200 came (1,800) or from after (2,000), 2,000 are in it.
    found = accounts([box("B", counted)], {"B": 1800}, [move("A", "B", 200)], sent("B"))
    assert shipped(found) == {"B": 2000}
    assert found.by_container["B"].difference == 0


@pytest.mark.parametrize("counted", [1800, 1600])
def test_pieces_packed_over_while_it_was_being_filled(counted: int) -> None:
    # Counted as filled (1,800) or as closed (1,600): 1,800 fell, 200 left, 1,600 are inside.
    found = accounts([box("A", counted), packed("B")], {"A": 1800}, [move("A", "B", 200, 0.5)], sent("A"))
    assert shipped(found) == {"A": 1600}


@pytest.mark.parametrize(("counted", "left"), [(None, 293), (300, 293), (293, 293)])
def test_pieces_found_bad_are_out_whether_they_were_counted_or_not(counted: int | None, left: int) -> None:
    # 300 fell, 7 of them are found bad: 293 are inside.
    found = accounts([box("A", counted)], {"A": 300}, [move("A", SORTED_OUT, 7)], sent("A"))
    assert shipped(found) == {"A": left}


def test_what_the_count_does_not_explain_is_a_difference_with_its_sign() -> None:
    for counted, difference in ((310, 10), (290, -10)):
        found = accounts([box("A", counted), packed("B")], {"A": 300}, [move("A", "B", 100)], sent("A"))
        assert found.by_container["A"].difference == difference
        assert shipped(found) == {"A": counted - 100}


def test_more_cannot_come_out_than_is_inside() -> None:
    # 500 are said to have come out of 300: B has them, 200 of them from nowhere known, and A is not below 0.
    found = accounts([box("A", 300), packed("B")], {"A": 300}, [move("A", "B", 500)], sent("A", "B"))
    assert shipped(found) == {"A": 0, "B": 500}
    assert [one.pieces for one in found.poured] == [300]


def test_two_into_one_and_one_into_three() -> None:
    boxes = [box("A", 300), box("B", 400), packed("M", 700), *(packed(n, us=3 * HOUR) for n in "XYZ")]
    moves = [move("A", "M", 300), move("B", "M", 400), *(move("M", name, 200, 3) for name in "XYZ")]
    found = accounts(boxes, {"A": 300, "B": 400}, moves, sent("A", "B", "M", "X", "Y", "Z"))
    # 700 - 3 x 200 = 100 stay in M.
    assert shipped(found) == {"A": 0, "B": 0, "M": 100, "X": 200, "Y": 200, "Z": 200}


def test_there_and_back_again() -> None:
    moves = [move("A", "B", 400), move("B", "A", 400, 3)]
    found = accounts([box("A", 1000), packed("B")], {"A": 1000}, moves, sent("A", "B"))
    assert shipped(found) == {"A": 1000, "B": 0}
    assert found.by_container["A"].came == 1400


def test_a_chain_at_one_moment_is_filled_before_it_is_emptied() -> None:
    moves = [move("B", "C", 300), move("A", "B", 300)]
    found = accounts([box("A", 300), packed("B"), packed("C")], {"A": 300}, moves, sent("A", "B", "C"))
    assert shipped(found) == {"A": 0, "B": 0, "C": 300}


def test_a_note_that_is_late_comes_before_what_needs_it() -> None:
    moves = [move("B", "C", 300, 2.0), move("A", "B", 300, 2.1)]
    found = accounts([box("A", 300), packed("B"), packed("C")], {"A": 300}, moves, sent("A", "B", "C"))
    assert shipped(found) == {"A": 0, "B": 0, "C": 300}
    # What came in the week after was not it.
    later = [moves[0], move("A", "B", 300, 200)]
    found = accounts([box("A", 300), packed("B"), packed("C")], {"A": 300}, later, sent("C", hour=9))
    assert shipped(found) == {"C": 300}
    assert inside(found, "B") == 300


def test_a_repack_noted_after_the_container_was_sent_was_done_before() -> None:
    # Else the 500 would be sent in A and in B: 4,096 of 3,596.
    moves = [move("A", "B", 500, 12)]
    found = accounts([box("A", 3596), packed("B")], {"A": 3596}, moves, [*sent("A", hour=9), *sent("B", hour=14)])
    assert shipped(found) == {"A": 3096, "B": 500}


def test_a_container_sent_twice_counts_with_its_first_shipment() -> None:
    twice = [ShippedBox(9 * HOUR, "S1", "A"), ShippedBox(10 * HOUR, "S2", "A")]
    found = accounts([box("A", 300)], {"A": 300}, [], twice)
    assert found.sent == {("S1", "A"): 300, ("S2", "A"): 0}


def test_a_container_that_came_back_and_was_filled_again_is_sent_with_what_it_then_holds() -> None:
    twice = [ShippedBox(9 * HOUR, "S1", "A"), ShippedBox(30 * HOUR, "S2", "A")]
    found = accounts([box("A", 300), box("B", 500)], {"A": 300, "B": 500}, [move("B", "A", 120, 20)], twice)
    assert found.sent == {("S1", "A"): 300, ("S2", "A"): 120}


def test_of_one_of_which_nothing_came_nobody_knows_how_much_is_in_it() -> None:
    found = accounts([box("A"), packed("B")], {}, [move("A", "B", 50)], sent("A", "B"))
    assert shipped(found) == {"A": None, "B": 50}


def test_pieces_of_a_container_are_followed_at_any_remove_and_never_more_of_them_than_there_were() -> None:
    boxes = [box("A", 200), box("B", 1800), packed("C", us=3 * HOUR), packed("D", us=4 * HOUR)]
    moves = [move("A", "B", 200), move("B", "C", 500, 3), move("C", "D", 500, 4)]
    found = accounts(boxes, {"A": 200, "B": 1800}, moves, sent("D"))
    came, here = reached(found, {}, {"A"})
    # 200 of A went into B; of the 500 moved on from B up to 200 may be of them, and all 200 may have stayed.
    assert came == {"A": 200, "B": 200, "C": 200, "D": 200}
    assert here == {"A": 0, "B": 200, "C": 0, "D": 200}


def test_what_left_before_pieces_came_in_is_not_of_them() -> None:
    boxes = [box("A", 200), box("B", 1800), packed("C")]
    found = accounts(boxes, {"A": 200, "B": 1800}, [move("B", "C", 500, 2), move("A", "B", 200, 3)])
    assert set(reached(found, {}, {"A"})[0]) == {"A", "B"}


counted = st.tuples(st.none() | st.integers(0, 60), st.integers(0, 6), st.booleans())
boxes_drawn = st.lists(counted, min_size=len(NAMES), max_size=len(NAMES))
moves_drawn = st.lists(
    st.tuples(st.integers(0, 12), st.sampled_from(NAMES), st.sampled_from([*NAMES, SORTED_OUT]), st.integers(0, 50)),
    max_size=9,
    unique_by=lambda m: m[:3],
)
sent_drawn = st.lists(st.tuples(st.integers(0, 12), st.sampled_from(NAMES)), max_size=5, unique=True)


@settings(max_examples=400, deadline=None)
@for_all(
    boxes_drawn,
    st.lists(st.integers(0, 60), min_size=len(NAMES), max_size=len(NAMES)),
    moves_drawn,
    sent_drawn,
    st.randoms(use_true_random=False),
)
def test_every_account_closes_at_every_moment(
    drawn: Sequence[tuple[int | None, int, bool]],
    fell: Sequence[int],
    moved: Sequence[tuple[int, str, str, int]],
    gone: Sequence[tuple[int, str]],
    chance: object,
) -> None:
    boxes = [
        Box(name, "N", press_id="P", from_us=0, to_us=end * HOUR, quantity=quantity, is_open=is_open)
        for name, (quantity, end, is_open) in zip(NAMES, drawn, strict=True)
    ]
    counts = dict(zip(NAMES, fell, strict=True))
    moves = [Repack(hour * HOUR, a, b, n) for hour, a, b, n in moved if a != b]
    shipments = [ShippedBox(hour * HOUR, f"S{hour}", name) for hour, name in gone]
    found = accounts(boxes, counts, moves, shipments)
    for account in found.by_container.values():
        running = [*accumulate(entry.pieces for entry in account.entries)]
        assert all(pieces >= 0 for pieces in running)
        times = [entry.time_us for entry in account.entries]
        assert times == sorted(times)
        for us in times:
            assert account.inside(us) >= 0
        assert account.came == account.inside() + account.went
    # Between the containers nothing is lost: what came out of one, with what came from nowhere, went into another.
    given = sum(one.pieces for one in found.poured if one.repack.to_container)
    nowhere = sum(one.repack.quantity - one.pieces for one in found.poured if one.repack.to_container)
    entries = [entry for account in found.by_container.values() for entry in account.entries]
    assert sum(e.pieces for e in entries if e.kind is EntryKind.PACKED_IN) == given + nowhere
    assert -sum(e.pieces for e in entries if e.kind is EntryKind.PACKED_OUT) == given
    assert -sum(e.pieces for e in entries if e.kind is EntryKind.SENT) == sum(n or 0 for n in found.sent.values())
    # No piece is sent twice: what was sent fell in, was counted in or came from nowhere known.
    extra = sum(e.pieces for e in entries if e.kind is EntryKind.DIFFERENCE)
    assert sum(n or 0 for n in found.sent.values()) <= sum(fell) + extra + nowhere
    came, here = reached(found, {}, {"A"})
    for name, account in found.by_container.items():
        assert 0 <= here.get(name, 0) <= account.held
        assert came.get(name, 0) >= 0
    again = [*moves], [*shipments], [*boxes]
    for rows in again:
        chance.shuffle(rows)  # type: ignore[attr-defined]
    assert accounts(again[2], counts, again[0], again[1]).by_container == found.by_container
