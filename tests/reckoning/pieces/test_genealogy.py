"""Back through reels: last wound first fed, turned round, cut in two, and what nobody can tell."""

from __future__ import annotations

from itertools import pairwise

import pytest

from monitor.reckoning.pieces.genealogy import Descent, Mounting, Origin, Reel
from monitor.reckoning.pieces.stretches import MadeStretch, last_out, within

# Press A winds 30 progressions of coil C1 and then 20 of C2, pitch 10 mm; press B feeds them at the same pitch.
STRIP = [
    MadeStretch("A", "D1", part_no="N", out=1, mounting_id="C1@A", pieces=30, good=30, entry=0, from_us=0, to_us=300),
    MadeStretch("A", "D1", part_no="N", out=1, mounting_id="C2@A", pieces=20, good=20, entry=0, from_us=300, to_us=500),
]
COILS = {"C1@A": Mounting("C1@A", "C1", 10.0), "C2@A": Mounting("C2@A", "C2", 10.0)}


def traced(reels: list[Reel], fed: str, count: int, *, before_mm: float = 0.0, pitch_mm: float = 10.0) -> object:
    mounting = Mounting("M", fed, pitch_mm, before_mm)
    descent = Descent(COILS | {"M": mounting}, {reel.reel_id: reel for reel in reels}, {"A": STRIP})
    return [
        (origin.coil_id, n)
        for origin, n in descent.runs(
            MadeStretch(
                "B", "D2", part_no="N", out=1, mounting_id="M", pieces=count, good=count, entry=0, from_us=0, to_us=1
            )
        )
    ]


@pytest.mark.parametrize(
    ("rewinds", "order"),
    [(0, [("C2", 20), ("C1", 30)]), (1, [("C1", 30), ("C2", 20)]), (2, [("C2", 20), ("C1", 30)])],
)
def test_last_wound_is_first_fed_and_each_rewinding_turns_it(rewinds: int, order: list[tuple[str, int]]) -> None:
    assert traced([Reel("R", "A", 0, 500, rewinds)], "R", 50) == order


def test_a_reel_that_goes_on_where_it_stopped() -> None:
    assert traced([Reel("R", "A", 0, 500)], "R", 12, before_mm=150.0) == [("C2", 5), ("C1", 7)]


def test_only_strip_wound_between_the_two_moments_is_on_the_reel() -> None:
    assert traced([Reel("R", "A", 200, 400)], "R", 20) == [("C2", 10), ("C1", 10)]


def test_strip_beyond_the_end_of_the_reel_is_of_no_known_coil() -> None:
    assert traced([Reel("R", "A", 0, 500)], "R", 55) == [("C2", 20), ("C1", 30), ("", 5)]


def test_double_pitch_in_the_second_die_takes_two_progressions_at_a_time() -> None:
    assert traced([Reel("R", "A", 0, 500)], "R", 25, pitch_mm=20.0) == [("C2", 10), ("C1", 15)]


def test_a_cut_reel_keeps_its_places_and_turns_once_more_with_its_own_rewinds() -> None:
    mother = Reel("R", "A", 0, 500, 1)
    outer = Reel("R2", "A", from_us=0, to_us=500, rewinds=1, from_reel="R", from_m=0.25, to_m=0.5)
    assert traced([mother, outer], "R2", 25) == [("C2", 20), ("C1", 5)]
    inner = Reel("R1", "A", from_us=0, to_us=500, rewinds=0, from_reel="R", from_m=0.0, to_m=0.25)
    assert traced([mother, inner], "R1", 25) == [("C1", 25)]


def test_unknown_rewinds_or_unknown_place_give_one_of_these_coils() -> None:
    assert traced([Reel("R", "A", 0, 500, None)], "R", 10) == [("C1;C2", 10)]
    assert traced(
        [Reel("R", "A", 0, 500), Reel("R1", "A", from_us=0, to_us=500, rewinds=0, from_reel="R")], "R1", 10
    ) == [("C1;C2", 10)]


def test_unknown_order_does_not_matter_where_all_is_of_one_coil() -> None:
    assert traced([Reel("R", "A", 0, 300, None)], "R", 10) == [("C1", 10)]


def test_a_reel_that_nothing_was_wound_on_or_cut_from_nothing_tells_no_coil() -> None:
    assert traced([Reel("R", "A", 600, 700)], "R", 10) == [("", 10)]
    assert traced(
        [Reel("R", "A", from_us=0, to_us=500, rewinds=0, from_reel="gone", from_m=0.0, to_m=1.0)], "R", 10
    ) == [("", 10)]


def test_reels_cut_from_each_other_in_a_ring_end() -> None:
    ring = [
        Reel("R", "A", from_us=0, to_us=500, rewinds=0, from_reel="S", from_m=0.0, to_m=1.0),
        Reel("S", "A", from_us=0, to_us=500, rewinds=0, from_reel="R", from_m=0.0, to_m=1.0),
    ]
    assert traced(ring, "R", 10) == [("", 10)]


def test_a_coil_that_ran_out_is_not_taken_for_more() -> None:
    descent = Descent({"M": Mounting("M", "C", 10.0, limit=8)}, {}, {})
    runs = descent.runs(
        MadeStretch("B", "D2", part_no="N", out=1, mounting_id="M", pieces=10, good=10, entry=0, from_us=0, to_us=1)
    )
    assert runs == [(Origin(("C",)), 8), (Origin(), 2)]


def test_strip_cut_away_moves_what_follows_along_the_reel() -> None:
    cut = Mounting("M", "R", 10.0, cuts=((100, 150.0),))
    descent = Descent(COILS | {"M": cut}, {"R": Reel("R", "A", 0, 500)}, {"A": STRIP})
    before = MadeStretch(
        "B", "D2", part_no="N", out=1, mounting_id="M", pieces=5, good=5, entry=0, from_us=50, to_us=100
    )
    after = MadeStretch(
        "B", "D2", part_no="N", out=1, mounting_id="M", pieces=5, good=5, entry=5, from_us=100, to_us=150
    )
    assert [o.coil_id for o, _ in descent.runs(before)] == ["C2"]
    assert [o.coil_id for o, _ in descent.runs(after)] == ["C1"]


def test_coil_by_way_of_two_reels() -> None:
    second = [
        MadeStretch("B", "D2", part_no="N", out=1, mounting_id="M", pieces=50, good=50, entry=0, from_us=600, to_us=700)
    ]
    mountings = COILS | {"M": Mounting("M", "R", 10.0), "N": Mounting("N", "T", 10.0)}
    reels = {"R": Reel("R", "A", 0, 500), "T": Reel("T", "B", 600, 700)}
    descent = Descent(mountings, reels, {"A": STRIP, "B": second})
    runs = descent.runs(
        MadeStretch("C", "D3", part_no="N", out=1, mounting_id="N", pieces=50, good=50, entry=0, from_us=800, to_us=900)
    )
    assert runs == [(Origin(("C1",), ("R", "T")), 30), (Origin(("C2",), ("R", "T")), 20)]


def test_what_lies_on_a_reel() -> None:
    reels = {
        "R": Reel("R", "A", 0, 500),
        "R2": Reel("R2", "A", from_us=0, to_us=500, rewinds=0, from_reel="R", from_m=0.25, to_m=0.4),
    }
    descent = Descent(COILS, reels, {"A": STRIP})
    assert descent.on_reel("R2") == [(Origin(("C1",)), 5), (Origin(("C2",)), 10)]
    assert descent.on_reel("none") == []


def test_a_stretch_over_an_edge_is_shared_so_that_the_parts_add_up() -> None:
    stretch = MadeStretch(
        "P", "D", part_no="N", out=1, mounting_id="M", pieces=7, good=6, entry=100, from_us=0, to_us=1000
    )
    edges = (0, 333, 500, 901, 1000)
    parts = [m for a, b in pairwise(edges) for m in within([stretch], a, b)]
    assert [m.entry for m in parts] == [100, 102, 104, 106]
    assert sum(m.pieces for m in parts) == 7
    assert sum(m.good for m in parts) == 6


def test_of_several_outs_the_strip_is_counted_once() -> None:
    both = [
        MadeStretch(
            "A", "D1", part_no="N", out=out, mounting_id="C1@A", pieces=30, good=30, entry=0, from_us=0, to_us=300
        )
        for out in (1, 2)
    ]
    early = MadeStretch(
        "A", "D1", part_no="N", out=3, mounting_id="C1@A", pieces=30, good=30, entry=2, from_us=0, to_us=300
    )
    assert last_out([*both, early], {"D1": (1, 2)}) == [both[0]]
