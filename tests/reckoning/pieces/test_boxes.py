"""What is in a container: mixed pieces poured over, differences, and what is certain."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.pieces.account import accounts, in_order
from monitor.reckoning.pieces.boxes import BoxPieces, Falls, Filling, contents, falls_of, pour
from monitor.reckoning.pieces.containers import Box, Repack
from monitor.reckoning.pieces.genealogy import NOBODY, Origin
from monitor.reckoning.pieces.stretches import MadeStretch

A, B = Origin(("A",)), Origin(("B",))
EITHER = Origin(("A", "B"))
HOUR = 3_600_000_000


def made(mounting: str, pieces: int, from_us: int, to_us: int, *, good: int | None = None, part: str = "N",
         out: int = 1, rejected: int = 0) -> MadeStretch:  # fmt: skip
    return MadeStretch(
        "P",
        "D",
        part_no=part,
        out=out,
        mounting_id=mounting,
        pieces=pieces,
        good=pieces if good is None else good,
        entry=0,
        from_us=from_us,
        to_us=to_us,
        rejected=rejected,
    )


def box(name: str, begin: int, end: int, **more: object) -> Box:
    return Box(name, "N", "P", begin, end, **more)  # type: ignore[arg-type]


def of_mounting(stretch: MadeStretch) -> list[tuple[Origin, int]]:
    return [(Origin((stretch.mounting_id,)), stretch.pieces)]


def filled(one: Box, *stretches: MadeStretch, sure: bool = False) -> dict[str, Falls]:
    return {one.container_id: falls_of(one, stretches, of_mounting, sure=sure)}


def held(
    boxes: Sequence[Box], falls: dict[str, Falls], repacks: Sequence[Repack] = (), doubt: float = 0.0
) -> dict[str, BoxPieces]:
    fell = {name: sum(fall.count for fall in some.inside) for name, some in falls.items()}
    return contents(boxes, falls, accounts(boxes, fell, repacks), lambda mounting: doubt)


def held_by(one: Box, falls: dict[str, Falls], repacks: tuple[Repack, ...] = (), doubt: float = 0.0) -> dict[str, int]:
    came = held([one], falls, repacks, doubt)[one.container_id].came
    return {origin.coil_id: count for origin, count in came.items()}


def test_only_good_pieces_of_the_part_made_while_it_stood_open_are_in_it() -> None:
    one = box("X", 100, 200)
    falls = filled(
        one,
        made("A", 10, 90, 100),
        made("A", 30, 100, 150, good=28),
        made("A", 30, 100, 150, part="other"),
        made("B", 20, 150, 200),
        made("B", 9, 200, 300),
    )
    assert held_by(one, falls) == {"A": 28, "B": 20}


def test_a_container_of_one_out_takes_that_out_alone() -> None:
    one = box("X", 0, 100, out=2)
    assert held_by(one, filled(one, made("A", 5, 0, 50, out=1), made("A", 5, 0, 50, out=2))) == {"A": 5}


def test_pieces_that_do_not_add_up_to_the_count_stand_under_no_coil_with_their_sign() -> None:
    for quantity, difference in ((53, {"": 3}), (47, {"": -3}), (50, {})):
        one = box("X", 0, 100, quantity=quantity)
        assert held_by(one, filled(one, made("A", 50, 0, 100))) == {"A": 50, **difference}


def test_a_whole_container_poured_over_keeps_its_coils() -> None:
    assert pour({A: 60, B: 40}, 100) == ({A: 60, B: 40}, {})


def test_part_of_a_container_of_one_coil_is_of_that_coil() -> None:
    assert pour({A: 100}, 30) == ({A: 30}, {A: 70})


def test_part_of_a_mixed_container_is_one_of_these_coils_but_for_what_must_be_so() -> None:
    # 70 of 100 moved: at least 30 of A and 10 of B are among them, and the 30 left may be of either.
    assert pour({A: 60, B: 40}, 70) == ({A: 30, B: 10, EITHER: 30}, {EITHER: 30})
    # 10 of 100 moved: either coil; at least 50 of A and 30 of B stayed.
    assert pour({A: 60, B: 40}, 10) == ({EITHER: 10}, {A: 50, B: 30, EITHER: 10})


def test_mixed_with_pieces_of_no_known_coil_it_is_that_coil_or_another() -> None:
    assert pour({A: 10, NOBODY: 10}, 10) == ({Origin(("A", "")): 10}, {Origin(("A", "")): 10})


def test_more_than_there_was_came_from_nobody_knows_where() -> None:
    assert pour({A: 60}, 65) == ({A: 60, NOBODY: 5}, {})


@for_all(
    st.dictionaries(st.sampled_from([A, B, Origin(("C",)), NOBODY]), st.integers(1, 50), min_size=1),
    st.integers(1, 250),
)
def test_pouring_loses_no_piece_and_claims_no_more_than_there_was(there: dict[Origin, int], quantity: int) -> None:
    moved, left = pour(there, quantity)
    assert sum(moved.values()) == quantity
    assert sum(moved.values()) + sum(left.values()) == max(quantity, sum(there.values()))
    for origin in set(there) - {NOBODY}:
        assert 0 <= moved.get(origin, 0) + left.get(origin, 0) <= there[origin]


def test_repacks_at_one_moment_fill_before_they_empty() -> None:
    onwards, first = Repack(5, "M", "Z", 10), Repack(5, "Y", "M", 10)
    later = Repack(6, "A", "B", 1)
    assert in_order([later, onwards, first]) == [first, onwards, later]


def test_what_was_packed_over_counts_where_it_came_and_is_gone_where_it_was() -> None:
    source, target = box("X", 0, 100, quantity=50), box("Y", 100, 100, quantity=50)
    falls = filled(source, made("A", 50, 0, 100))
    found = held([source, target], falls, [Repack(200, "X", "Y", 50)])
    assert found["X"].came == found["Y"].came == found["Y"].here == {A: 50}
    assert found["X"].here == {}
    assert found["Y"].sure == {A: 50}


@pytest.mark.parametrize(("doubt", "sure"), [(0.0, {A: 60, B: 40}), (5.0, {A: 55, B: 35}), (50.0, {A: 10, B: 0})])
def test_pieces_within_the_doubt_of_a_coil_change_are_not_sure(doubt: float, sure: dict[Origin, int]) -> None:
    one = box("X", 0, 100)
    falls = filled(one, made("A", 60, 0, 60), made("B", 40, 60, 100), sure=True)
    assert held([one], falls, doubt=doubt)["X"].sure == sure


def test_a_coil_change_just_before_the_container_was_opened_reaches_into_it() -> None:
    one = box("X", HOUR, 2 * HOUR)
    falls = filled(one, made("A", 90, 0, HOUR - 100), made("B", 3, HOUR - 100, HOUR), made("B", 40, HOUR, 2 * HOUR),
                   sure=True)  # fmt: skip
    assert held([one], falls, doubt=10.0)["X"].sure == {B: 33}


def test_edges_read_late_make_the_pieces_between_two_readings_unsure() -> None:
    one = box("X", 0, 100, doubts=(4.0, 6.0))
    assert held([one], filled(one, made("A", 50, 0, 100), sure=True))["X"].sure == {A: 40}


def test_rejects_of_a_mixed_container_may_have_been_of_either_coil() -> None:
    one = box("X", 0, 100)
    falls = filled(one, made("A", 60, 0, 60, good=57, rejected=3), made("B", 40, 60, 100, good=38, rejected=2))
    assert held([one], falls)["X"].sure == {A: 55, B: 35}


def test_rejects_of_a_stretch_of_two_coils_are_shared_in_proportion() -> None:
    one = box("X", 0, 100)
    stretch = made("R", 100, 0, 100, good=90, rejected=10)
    falls = falls_of(one, [stretch], lambda m: [(A, 70), (B, 30)], sure=False)
    assert [(f.origin, f.count, f.rejected) for f in falls.inside] == [(A, 63, 7), (B, 27, 3)]
    assert isinstance(falls.inside[0], Filling)


def test_a_coil_all_of_whose_pieces_were_rejected_is_not_in_the_container() -> None:
    # 60 of coil A, none of them good, then 40 of coil B; nobody noted of which coil the 60 rejects were.
    one = box("X", 0, 100)
    falls = filled(one, made("A", 60, 0, 60, good=0, rejected=60), made("B", 40, 60, 100), sure=True)
    found = held([one], falls)["X"]
    assert (found.came, found.sure) == ({B: 40}, {B: 0})
