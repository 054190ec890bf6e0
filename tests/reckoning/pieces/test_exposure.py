"""How far back to sort: checks of a few moments, worked by hand."""

from __future__ import annotations

from monitor.reckoning.pieces.exposure import Check, Exposure, exposures, in_die


def check(at: int, *bad: str, made: tuple[int, int] | None = None, part: str = "N", out: int | None = None,
          is_sort: bool = False) -> Check:  # fmt: skip
    begin, end = made or (at, at)
    return Check(
        "P", "D", part_no=part, out=out, from_us=begin, to_us=end, found_us=at, bad=frozenset(bad), is_sort=is_sort
    )


def spans(found: list[Exposure]) -> dict[str, tuple[int | None, int]]:
    return {exposure.feature: (exposure.since_us, exposure.until_us) for exposure in found}


def test_from_the_last_good_check_to_the_bad_one() -> None:
    checks = [check(8), check(9), check(10, "BUR")]
    assert spans(exposures(checks, ["BUR"])) == {"BUR": (9, 10)}


def test_a_check_that_found_something_else_speaks_this_feature_good() -> None:
    checks = [check(8), check(9, "SCR"), check(10, "BUR")]
    assert spans(exposures(checks, ["BUR", "SCR"])) == {"BUR": (9, 10), "SCR": (8, 9)}


def test_bad_checks_in_a_row_reach_back_to_the_last_good_one() -> None:
    assert spans(exposures([check(8), check(9, "BUR"), check(10, "BUR")], ["BUR"])) == {"BUR": (8, 10)}


def test_without_a_good_check_nobody_knows_since_when() -> None:
    assert spans(exposures([check(10, "BUR")], ["BUR"])) == {"BUR": (None, 10)}


def test_a_feature_that_was_never_bad_has_no_exposure() -> None:
    assert exposures([check(8), check(9, "SCR")], ["BUR"]) == []


def test_a_box_of_monday_sorted_on_thursday_reaches_no_further_than_the_good_check_after_it() -> None:
    checks = [check(8), check(100, "BUR", made=(10, 20), is_sort=True), check(24), check(90)]
    assert spans(exposures(checks, ["BUR"])) == {"BUR": (8, 24)}


def test_pieces_sorted_one_by_one_need_not_be_sorted_again() -> None:
    checks = [check(8), check(60, "BUR", made=(10, 20), is_sort=True), check(30, "BUR")]
    assert spans(exposures(checks, ["BUR"])) == {"BUR": (20, 30)}


def test_another_out_or_part_does_not_speak_this_one_good() -> None:
    checks = [check(7, out=1), check(8, out=2), check(9, part="M"), check(10, "BUR", out=1)]
    assert spans(exposures(checks, ["BUR"])) == {"BUR": (7, 10)}


def test_pieces_in_the_die_are_no_more_than_were_fed() -> None:
    assert in_die(fed=100, stations=16, outs=2) == 30
    assert in_die(fed=4, stations=16, outs=1) == 4
    assert in_die(fed=4, stations=1, outs=1) == 0


def counted(at: int, bad: int, inspected: int = 50) -> Check:
    counts = {"BUR": bad} if bad else {}
    return Check(
        "P",
        "D",
        part_no="N",
        out=None,
        from_us=at,
        to_us=at,
        found_us=at,
        bad=frozenset(counts),
        is_sort=False,
        counts=counts,
        inspected=inspected,
    )


def test_a_clear_rise_after_the_last_good_check_gives_a_second_narrower_range() -> None:
    checks = [counted(8, 0), counted(9, 1), counted(10, 1), counted(11, 1), counted(12, 20), counted(13, 22)]
    (found,) = exposures(checks, ["BUR"])
    assert (found.since_us, found.likely_since_us, found.until_us) == (8, 11, 13)


def test_no_clear_rise_gives_one_range_alone() -> None:
    for counts in ([0, 1, 1, 2, 1, 2], [0, 3], [0, 22, 20, 1, 1, 1]):
        checks = [counted(8 + n, bad) for n, bad in enumerate(counts)]
        assert [found.likely_since_us for found in exposures(checks, ["BUR"])] == [None]
