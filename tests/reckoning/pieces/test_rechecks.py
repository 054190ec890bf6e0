"""Rechecks folded into the look that they recheck, each case worked by hand."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import permutations

import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.pieces.booking import book
from monitor.reckoning.pieces.inspections import Disposition, Inspection
from monitor.reckoning.pieces.rechecks import merge_rechecks
from tests.reckoning.given import SECOND
from tests.reckoning.pieces.test_inspections import pieces

#: A sort of 500 pieces that found 10 bad.
TEN = {"BUR": 8, "SCR": 2}

FULL, SAMPLE, TUB = "full", "sample", "tub"


def look(
    name: str, kind: str, inspected: int | None, rejected: Mapping[str, int], *, at_s: int = 0, **more: object
) -> Inspection:
    """A look at a second; F is the first."""
    return Inspection(name, at_s * SECOND, kind, inspected, dict(rejected), **more)  # type: ignore[arg-type]


def again(
    kind: str, inspected: int | None, rejected: Mapping[str, int], scope: str = "", of: str = "F", **more: object
) -> Inspection:
    """A recheck of F, an hour later."""
    told = {"name": "G", "at_s": 3600, **more}
    return look(kind=kind, inspected=inspected, rejected=rejected, rechecks=of, scope=scope, **told)  # type: ignore[arg-type]


def merged(*looks: Inspection) -> dict[str, tuple[int | None, dict[str, int]]]:
    """Pieces and rejected by cause of every look that is left, by name."""
    return {one.inspection_id: (one.inspected, dict(one.rejected)) for one in merge_rechecks(looks)}


SORT = look("F", FULL, 500, TEN)
CHECK = look("F", SAMPLE, 50, {"BUR": 4, "SCR": 1})
COUNT = look("F", TUB, None, TEN)

CASES = [
    # A set of the rejected: R - m + r, whatever kind either look is of.
    ("full, rejected, 4 of 10, 1 bad", SORT, again(FULL, 4, {"BUR": 1}, "rejected"), 500, 7),  # 10 - 4 + 1
    ("full, rejected, sample of 4, 1 bad", SORT, again(SAMPLE, 4, {"BUR": 1}, "rejected"), 500, 7),
    ("full, rejected, all 10, 4 bad", SORT, again(FULL, 10, {"BUR": 4}, "rejected"), 500, 4),
    ("full, rejected, none bad of 10", SORT, again(FULL, 10, {}, "rejected"), 500, 0),
    # 15 looked at: all 10 and 5 that had passed; 12 of them are bad.
    ("full, rejected, 15 of 10, 12 bad", SORT, again(FULL, 15, {"BUR": 12}, "rejected"), 500, 12),
    ("sample, rejected, 2 of 5, none bad", CHECK, again(FULL, 2, {}, "rejected"), 50, 3),  # 5 - 2 + 0
    ("tub, rejected, 6 of 10, 2 bad", COUNT, again(FULL, 6, {"BUR": 2}, "rejected"), None, 6),  # 10 - 6 + 2
    # A set of the passed: R + r.
    ("full, passed, 490, 3 bad", SORT, again(FULL, 490, {"BUR": 3}, "passed"), 500, 13),
    ("full, passed, sample of 20, clean", SORT, again(SAMPLE, 20, {}, "passed"), 500, 10),
    ("full, passed, sample of 20, 1 bad", SORT, again(SAMPLE, 20, {"SCR": 1}, "passed"), 500, 11),
    # 495 besides the 10 are 505 pieces in all.
    ("full, passed, 495 of 490, 3 bad", SORT, again(FULL, 495, {"BUR": 3}, "passed"), 505, 13),
    # 5 rejected of the sample and 445 others are 450 looked at.
    ("sample, passed, 445 of 45, 2 bad", CHECK, again(FULL, 445, {"SCR": 2}, "passed"), 450, 7),
    ("tub, passed, 490, 3 bad", COUNT, again(FULL, 490, {"BUR": 3}, "passed"), None, 13),
    # A set of all, looked at as a sample of a sort: evidence, overrules nothing.
    ("full, all, sample of 20, clean", SORT, again(SAMPLE, 20, {}), 500, 10),
    ("full, all, sample of 20, 2 burrs", SORT, again(SAMPLE, 20, {"BUR": 2}, "all"), 500, 10),
    ("full, all, sample of 20, 1 misfeed", SORT, again(SAMPLE, 20, {"MSF": 1}), 500, 11),
    ("full, all, sample of 20, 3 scratches", SORT, again(SAMPLE, 20, {"SCR": 3}), 500, 11),  # one beyond the sort's 2
    ("full, all, sample of 600, clean", SORT, again(SAMPLE, 600, {}), 500, 10),
    # A set of all, sorted: of m of the N, in proportion.
    ("full, all, all 500, 4 bad", SORT, again(FULL, 500, {"BUR": 4}, "all"), 500, 4),
    ("full, empty, all 500, clean", SORT, again(FULL, 500, {}), 500, 0),
    ("full, all, 503 of 500, 4 bad", SORT, again(FULL, 503, {"BUR": 4}), 503, 4),
    ("full, all, 250, 3 bad", SORT, again(FULL, 250, {"BUR": 3}), 500, 8),  # 5 of the 10 were looked at: 10 - 5 + 3
    ("full, all, 20, clean", SORT, again(FULL, 20, {}), 500, 10),  # 0.4 of the 10 is none
    ("sample, all, 50, 1 bad", CHECK, again(SAMPLE, 50, {"BUR": 1}), 50, 1),
    ("sample, all, sample of 80, 6 bad", CHECK, again(SAMPLE, 80, {"BUR": 6}), 80, 6),
    ("sample, all, sample of 20, none bad", CHECK, again(SAMPLE, 20, {}), 50, 3),  # 2 of the 5: 5 - 2 + 0
    ("sample, all, sorted 50, 1 bad", CHECK, again(FULL, 50, {"BUR": 1}), 50, 1),
    # A tub holds nothing but rejected pieces: all of them is the rejected.
    ("tub, all, sample of 4, 1 bad", COUNT, again(SAMPLE, 4, {"BUR": 1}), None, 7),
    ("tub, all, 12, 9 bad", COUNT, again(FULL, 12, {"BUR": 9}), None, 9),
    # Counted out of a tub the second time: what it looked at is what it counted.
    ("full, rejected, 3 out of a tub", SORT, again(TUB, None, {"BUR": 3}, "rejected"), 500, 10),
    ("full, passed, 3 out of a tub", SORT, again(TUB, None, {"BUR": 3}, "passed"), 500, 13),
    ("full, all, 3 out of a tub", SORT, again(TUB, None, {"MSF": 3}), 500, 13),
]


@pytest.mark.parametrize(("first", "later", "inspected", "rejected"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_case(first: Inspection, later: Inspection, inspected: int | None, rejected: int) -> None:
    ((pieces_seen, found),) = merged(later, first).values()
    assert (pieces_seen, sum(found.values())) == (inspected, rejected)


BY_CAUSE = [
    # 1 of 4 is still a burr; the other 3 come off 7 burrs and 2 scratches: 2.33 and 0.67, so 2 and 1.
    ("part of the rejected", again(FULL, 4, {"BUR": 1}, "rejected"), {"BUR": 6, "SCR": 1}),
    # 5 clean ones come off 8 and 2: 4 and 1.
    ("clean part of the rejected", again(FULL, 5, {}, "rejected"), {"BUR": 4, "SCR": 1}),
    # All 4 are what they were: nothing changes.
    ("part found again as it was", again(FULL, 4, {"BUR": 3, "SCR": 1}, "rejected"), TEN),
    # 3 looked at, one a misfeed and two good: 3 off 8 and 2 are 2.4 and 0.6, so 2 and 1, and one misfeed on.
    ("another cause", again(FULL, 3, {"MSF": 1}, "rejected"), {"BUR": 6, "MSF": 1, "SCR": 1}),
    # 4 scratches of 4: the sort's 2 and 2 that it had called burrs.
    ("more of a cause than there was", again(FULL, 4, {"SCR": 4}, "rejected"), {"BUR": 6, "SCR": 4}),
    ("all of the rejected", again(FULL, 10, {"MSF": 2, "SCR": 1}, "rejected"), {"MSF": 2, "SCR": 1}),
    ("passed", again(FULL, 20, {"MSF": 1, "SCR": 1}, "passed"), {"BUR": 8, "MSF": 1, "SCR": 3}),
    ("sample of all", again(SAMPLE, 20, {"BUR": 1, "MSF": 1}), {"BUR": 8, "MSF": 1, "SCR": 2}),
    # Half of the 500: 5 of the 10, 3 of them burrs as before; 2 come off 5 burrs and 2 scratches: 1.43 and 0.57.
    ("half of all", again(FULL, 250, {"BUR": 3}), {"BUR": 7, "SCR": 1}),
]


@pytest.mark.parametrize(("later", "left"), [c[1:] for c in BY_CAUSE], ids=[c[0] for c in BY_CAUSE])
def test_cause_by_cause(later: Inspection, left: dict[str, int]) -> None:
    assert merged(SORT, later) == {"F": (500, left)}


def test_sort_of_more_than_the_sample_it_rechecks_is_a_look_of_its_own_and_counts_the_pieces_once() -> None:
    sort = again(FULL, 500, {"BUR": 12})
    assert merged(CHECK, sort) == {"G": (500, {"BUR": 12})}
    # What rechecked the sample before the sort is a part of it, what did so later rechecks the sort.
    before = again(SAMPLE, 50, {"BUR": 3}, name="E", at_s=1800, used_up=2)
    later = again(FULL, 12, {"BUR": 5}, "rejected", name="H", at_s=7200)
    assert merged(CHECK, before, sort, later) == {"F": (0, {}), "G": (500, {"BUR": 5})}
    assert [one.used_up for one in merge_rechecks([CHECK, before, sort, later])] == [2, 0]
    second_sort = again(FULL, 500, {"BUR": 11}, name="H", at_s=7200)
    assert merged(CHECK, sort, second_sort) == {"G": (500, {"BUR": 11})}


def test_recheck_of_a_recheck_is_about_the_pieces_of_that_one() -> None:
    # Of the 10 rejected 4 are still bad; of the 6 then passed 2 after all; of these 6 bad ones one is good.
    second = again(FULL, 10, {"BUR": 4}, "rejected")
    third = again(FULL, 6, {"BUR": 2}, "passed", of="G", name="H", at_s=7200)
    fourth = again(FULL, 6, {"BUR": 5}, "rejected", of="G", name="I", at_s=9000)
    assert merged(SORT, second, third) == {"F": (500, {"BUR": 6})}
    assert merged(SORT, second, third, fourth) == {"F": (500, {"BUR": 5})}
    # All of the 10 looked at a third time, not all of the 500.
    whole = again(FULL, 10, {"SCR": 3}, "all", of="G", name="H", at_s=7200)
    assert merged(SORT, second, whole) == {"F": (500, {"SCR": 3})}


def test_sort_that_rechecks_a_sample_out_of_a_sort_is_a_second_sort() -> None:
    sample = again(SAMPLE, 20, {"MSF": 1})
    sort = again(FULL, 500, {"MSF": 6}, of="G", name="H", at_s=7200)
    assert merged(SORT, sample, sort) == {"F": (500, {"MSF": 6})}


def test_two_rechecks_of_one_look_count_in_order_of_time_and_then_of_name() -> None:
    one = again(FULL, 4, {}, "rejected", name="G")
    two = again(FULL, 3, {"BUR": 3}, "rejected", name="H")
    three = again(FULL, 490, {"SCR": 1}, "passed", name="I", at_s=1800)
    orders = [merged(*order) for order in permutations((SORT, one, two, three))]
    # 10, then 11 with the scratch, 7 after 4 good ones, 7 after 3 that stay bad.
    assert sum(orders[0]["F"][1].values()) == 7
    assert all(order == orders[0] for order in orders)


def test_recheck_of_an_unknown_look_and_looks_that_name_each_other_stand_by_themselves() -> None:
    lone = again(FULL, 4, {"BUR": 1}, "rejected", of="nobody")
    assert merged(lone) == {"G": (4, {"BUR": 1})}
    round_of_two = [look("F", FULL, 5, {"BUR": 1}, rechecks="G"), again(FULL, 5, {"BUR": 2})]
    hanging = again(FULL, 2, {}, of="G", name="H")
    own = look("I", FULL, 3, {"SCR": 1}, rechecks="I")
    assert set(merged(*round_of_two, hanging, own)) == {"F", "G", "H", "I"}


def test_decisions_before_the_recheck_stay_and_are_not_of_the_rejected_it_looked_at() -> None:
    decided = (Disposition("BUR", "rework", 6, 1800 * SECOND),)
    first = look("F", FULL, 500, {"BUR": 10}, dispositions=decided)
    # 4 are still rejected; 1 of them is bad: 6 reworked, 1 rejected, 493 good.
    assert _booked(first, again(FULL, 4, {"BUR": 1}, "rejected")) == (500, 1, 6, 0)
    # All 10 looked at, the mended ones too: 4 are bad, whatever was decided.
    assert _booked(first, again(FULL, 10, {"BUR": 4}, "rejected")) == (500, 4, 6, 0)
    assert _booked(first, again(FULL, 500, {"BUR": 4})) == (500, 4, 6, 0)


def test_recheck_outweighs_an_earlier_decision_where_the_pieces_are_too_few_for_both() -> None:
    # 10 pieces, all bad, all mended, then 4 found bad: 6 are mended.
    decided = (Disposition("", "rework", 10, 1800 * SECOND),)
    first = look("F", FULL, 10, {"BUR": 10}, dispositions=decided)
    assert _booked(first, again(FULL, 10, {"BUR": 4})) == (10, 4, 6, 0)


def test_decisions_after_the_recheck_speak_of_what_it_left() -> None:
    late = (Disposition("BUR", "rework", 3, 5000 * SECOND),)
    first = look("F", FULL, 500, {"BUR": 10}, dispositions=late)
    # 10 - 4 + 1 = 7 rejected, 3 of them mended; then 2 more by a decision on the recheck.
    assert _booked(first, again(FULL, 4, {"BUR": 1}, "rejected")) == (500, 4, 3, 0)
    more = (Disposition("BUR", "found_good", 2, 6000 * SECOND),)
    assert _booked(first, again(FULL, 4, {"BUR": 1}, "rejected", dispositions=more)) == (500, 2, 3, 0)


def test_pieces_used_up_by_any_look_are_used_up() -> None:
    first = look("F", FULL, 500, TEN, used_up=1)
    assert _booked(first, again(SAMPLE, 20, {}, used_up=5)) == (500, 10, 0, -6)


def test_setting_pieces_that_a_decision_released_stay_released_after_a_recheck() -> None:
    # 40 setting pieces, 3 with burrs, the other 37 let go; of these 37 a second look finds 1 bad.
    released = (Disposition("", "use_as_is", 37, 1800 * SECOND),)
    first = look("F", FULL, 40, {"BUR": 3}, dispositions=released)
    made = pieces((-40, 0, 40, "A"), setup=1)
    for found, rejected in (({}, 3), ({"BUR": 1}, 4)):
        rows = book(merge_rechecks([first, again(FULL, 37, found, "passed")]), made)
        assert [sum(int(str(row[place])) for row in rows) for place in (11, 12, 14)] == [40, rejected, 37]


def _booked(*looks: Inspection) -> tuple[int, int, int, int]:
    """Inspected, rejected, reworked and released pieces as they are booked to 1,000 pieces made before."""
    made = pieces((-1000, 0, 1000, "A"))
    rows = book(merge_rechecks(looks), made)
    return tuple(sum(int(str(row[place])) for row in rows) for place in (11, 12, 13, 14))  # type: ignore[return-value]


CAUSES = ("BUR", "MSF", "SCR")
_KINDS = st.sampled_from([FULL, SAMPLE, TUB])
_SCOPES = st.sampled_from(["", "all", "passed", "rejected"])


@st.composite
def chains(draw: st.DrawFn) -> list[Inspection]:
    """A first look and up to four rechecks, of it or of one another, at times that may be the same."""
    looks = []
    for number in range(draw(st.integers(1, 5))):
        found = draw(st.dictionaries(st.sampled_from(CAUSES), st.integers(1, 9)))
        kind = draw(_KINDS)
        inspected = None if kind == TUB else sum(found.values()) + draw(st.integers(0, 30))
        of = f"I{draw(st.integers(0, number - 1))}" if number else ""
        decided = draw(
            st.lists(
                st.builds(
                    Disposition,
                    st.sampled_from(["", *CAUSES]),
                    st.sampled_from(["scrap", "rework", "found_good"]),
                    st.integers(1, 9),
                    st.integers(0, 6).map(lambda s: s * SECOND),
                ),
                max_size=2,
            )
        )
        looks.append(
            look(
                f"I{number}",
                kind,
                inspected,
                found,
                at_s=draw(st.integers(0, 4)),
                rechecks=of,
                scope=draw(_SCOPES) if number else "",
                used_up=draw(st.integers(0, 2)),
                dispositions=tuple(decided),
            )
        )
    return looks


def test_recheck_outweighs_a_decision_about_more_pieces_than_there_were() -> None:
    # One piece, bad, and mended by a decision about two; a later look finds the one bad: it is rejected, not mended.
    for cause in ("BUR", ""):
        sort = look("F", FULL, 1, {"BUR": 1}, dispositions=(Disposition(cause, "rework", 2, 0),))
        (one,) = merge_rechecks([sort, again(FULL, 1, {"BUR": 1})])
        assert (one.inspected, dict(one.rejected)) == (1, {"BUR": 1})


@for_all(chains(), st.randoms(use_true_random=False))
def test_whatever_rechecks_what_pieces_are_conserved(looks: list[Inspection], random: object) -> None:
    merged_now = merge_rechecks(looks)
    assert sum(one.used_up for one in merged_now) == sum(one.used_up for one in looks)
    assert all(count > 0 for one in merged_now for count in one.rejected.values())
    for one in merged_now:
        assert one.inspected is None or sum(one.rejected.values()) <= one.inspected
    # The order of the rows is no matter.
    shuffled = list(looks)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert merge_rechecks(shuffled) == merged_now
    made = pieces((-1000, 0, 1000, "A"))
    rows = book(merged_now, made)
    rejected, reworked, released = (
        sum(getattr(row, name) for row in rows) for name in ("rejected", "reworked", "released")
    )
    assert min(rejected, reworked) >= 0
    assert rejected + reworked <= sum(sum(one.rejected.values()) for one in merged_now)
    asked = sum(d.pieces for one in looks for d in one.dispositions if d.outcome != "scrap")
    assert -sum(one.used_up for one in looks) <= released <= asked


@for_all(
    st.dictionaries(st.sampled_from(CAUSES), st.integers(1, 40), min_size=1),
    st.dictionaries(st.sampled_from(CAUSES), st.integers(0, 9)),
    st.integers(0, 50),
)
def test_look_at_some_of_the_rejected_leaves_every_cause_what_it_did_not_look_at(
    first: dict[str, int], found: dict[str, int], good: int
) -> None:
    rejected, seen = sum(first.values()), sum(found.values()) + good
    ((_, left),) = merged(look("F", FULL, 900, first), again(FULL, seen, found, "rejected")).values()
    assert sum(left.values()) == rejected - min(seen, rejected) + sum(found.values())
    for cause in CAUSES:
        # At least what was found of it now; no more than what there was and what is new of it.
        assert found.get(cause, 0) <= left.get(cause, 0) <= max(first.get(cause, 0), found.get(cause, 0))
        # At most its share of what was looked at is gone, rounded up.
        assert left.get(cause, 0) >= first.get(cause, 0) * (rejected - min(seen, rejected)) // rejected
