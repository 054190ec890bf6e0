"""Inspections booked to the pieces they looked at."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given as for_all
from hypothesis import strategies as st

from monitor.reckoning.pieces.booking import book
from monitor.reckoning.pieces.inspected_pieces import Pieces
from monitor.reckoning.pieces.inspections import Disposition, Inspection
from shared.facts import PieceFact
from tests.reckoning.given import SECOND

#: Coil A made 100 pieces in the first 100 s, coil B 50 in the next 50.
TWO_COILS = ((0, 100, 100, "A"), (100, 150, 50, "B"))

CAUSES = ("", "BUR", "SCR", "MSF")


def pieces(*rows: tuple[int, int, int, str], setup: int = 0, out: int = 1, die_id: str = "D1") -> Pieces:
    """Piece facts from (from [s], to [s], pieces, mounting)."""
    begin, end, counts, names = zip(*rows, strict=True) if rows else ((), (), (), ())
    n = len(rows)
    same = {"setup": np.full(n, setup), "out": np.full(n, out), "stroke_from": np.array(begin, np.int64) + 1}
    return Pieces(
        from_us=np.array(begin, np.int64) * SECOND,
        to_us=np.array(end, np.int64) * SECOND,
        pieces=np.array(counts, np.int64),
        part_no=np.full(n, "N1", object),
        die_id=np.full(n, die_id, object),
        mounting_id=np.array(names, object),
        facts=[
            PieceFact(
                shift_date="1970-01-01",
                shift="day",
                hour_us=0,
                die_id=die_id,
                part_no="N1",
                order_id="",
                setup=setup,
                out=out,
                mounting_id=name,
                pieces=count,
                stroke_from=since + 1,
                stroke_to=since + 1 + count,
                entry_from=0,
                from_us=since * SECOND,
                to_us=until * SECOND,
            )
            for since, until, count, name in rows
        ],
        **same,
    )


def both(first: Pieces, second: Pieces) -> Pieces:
    """Piece facts of two kinds together, in order of time."""
    columns = {
        name: np.concatenate([getattr(first, name), getattr(second, name)]) for name in vars(first) if name != "facts"
    }
    order = np.lexsort((columns["out"], columns["from_us"]))
    facts = [*first.facts, *second.facts]
    return Pieces(**{name: column[order] for name, column in columns.items()}, facts=[facts[i] for i in order])


def look(
    at_s: int, inspected: int | None = 30, rejected: dict[str, int] | None = None, kind: str = "sample", **more: object
) -> Inspection:
    """An inspection at a second."""
    told = {"inspection_id": "I1", **more}
    return Inspection(time_us=at_s * SECOND, kind=kind, inspected=inspected, rejected=rejected or {}, **told)  # type: ignore[arg-type]


def booked(inspection: Inspection, made: Pieces) -> list[dict[str, object]]:
    """Reject facts of an inspection as records."""
    return [fact._asdict() for fact in book([inspection], made)]


def sums(rows: list[dict[str, object]], *columns: str) -> tuple[int, ...]:
    """Sums of columns."""
    return tuple(sum(int(str(row[column])) for row in rows) for column in columns)


def by_coil(rows: list[dict[str, object]], column: str) -> dict[str, int]:
    """Sum of a column by coil, without the zeros."""
    found: dict[str, int] = {}
    for row in rows:
        if row[column]:
            found[str(row["mounting_id"])] = found.get(str(row["mounting_id"]), 0) + int(str(row[column]))
    return found


def test_sample_of_30_at_110_s_looked_at_the_last_10_of_coil_b_and_20_of_coil_a() -> None:
    rows = booked(look(110, 30, {"BUR": 3}), pieces(*TWO_COILS))
    assert by_coil(rows, "inspected") == {"A": 20, "B": 10}
    # 3 over 20 and 10 is 2 and 1.
    assert by_coil(rows, "rejected") == {"A": 2, "B": 1}


def test_sample_looks_only_at_what_was_made_before_it() -> None:
    assert by_coil(booked(look(100, 30), pieces(*TWO_COILS)), "inspected") == {"A": 30}


def test_sample_of_two_outs_is_shared_between_them() -> None:
    made = both(pieces((0, 100, 100, "A")), pieces((0, 100, 100, "A"), out=2))
    rows = booked(look(100, 5), made)
    assert [(row["out"], row["inspected"]) for row in rows] == [(1, 3), (2, 2)]
    assert [row["out"] for row in booked(look(100, 5, out=2), made)] == [2]


def test_part_number_narrows_what_was_looked_at() -> None:
    rows = booked(look(100, 5, {"BUR": 1}, part_no="N2"), pieces(*TWO_COILS))
    assert [(row["die_id"], row["part_no"]) for row in rows] == [("", "N2"), ("", "N2")]


def test_full_look_at_a_box_is_booked_to_when_its_pieces_were_made() -> None:
    # A box filled from 50 to 125 s holds 50 pieces of A and 25 of B, sorted two days later.
    sorted_late = look(200_000, 75, {"BUR": 3, "SCR": 6}, "full", spans_us=((50 * SECOND, 125 * SECOND),))
    rows = booked(sorted_late, pieces(*TWO_COILS))
    assert by_coil(rows, "inspected") == {"A": 50, "B": 25}
    assert by_coil([row for row in rows if row["cause"] == "BUR"], "rejected") == {"A": 2, "B": 1}
    assert by_coil([row for row in rows if row["cause"] == "SCR"], "rejected") == {"A": 4, "B": 2}


def test_inspected_is_counted_once_however_many_causes_were_found() -> None:
    rows = booked(look(100, 30, {"BUR": 1, "SCR": 1, "MSF": 1}, "full"), pieces(*TWO_COILS))
    assert sums(rows, "inspected", "rejected") == (30, 3)


def test_clean_look_keeps_its_denominator() -> None:
    rows = booked(look(100, 30), pieces(*TWO_COILS))
    assert [(row["cause"], row["inspected"], row["rejected"]) for row in rows] == [("", 30, 0)]


def test_tub_over_two_coils_is_shared_by_pieces_and_marked_spread() -> None:
    rows = booked(look(150, None, {"BUR": 6}, "tub", spans_us=((0, 150 * SECOND),)), pieces(*TWO_COILS))
    assert by_coil(rows, "inspected") == {"A": 100, "B": 50}
    assert by_coil(rows, "rejected") == {"A": 4, "B": 2}
    assert {row["spread"] for row in rows} == {1}


def test_tub_in_one_coil_and_die_is_not_spread() -> None:
    rows = booked(look(100, None, {"BUR": 6}, "tub", spans_us=((0, 100 * SECOND),)), pieces(*TWO_COILS))
    assert (by_coil(rows, "rejected"), {row["spread"] for row in rows}) == ({"A": 6}, {0})


def test_tub_over_two_dies_is_spread_and_a_full_look_is_not() -> None:
    made = both(pieces((0, 100, 100, "A")), pieces((100, 150, 50, "A"), die_id="D2"))
    span = (0, 150 * SECOND)
    assert {row["spread"] for row in booked(look(150, None, {"BUR": 3}, "tub", spans_us=(span,)), made)} == {1}
    assert {row["spread"] for row in booked(look(150, 150, {"BUR": 3}, "full", spans_us=(span,)), made)} == {0}


def test_setting_pieces_are_looked_at_only_when_nothing_else_was_made() -> None:
    made = both(pieces((0, 50, 50, "A"), setup=1), pieces((50, 100, 50, "A")))
    assert {row["setup"] for row in booked(look(100, 80), made)} == {0}
    assert {row["setup"] for row in booked(look(50, 30), made)} == {1}


def test_look_whose_pieces_nobody_can_find_keeps_its_counts() -> None:
    held = ("1970-01-01", "day", 0)
    rows = booked(look(100, 30, {"BUR": 2}, held_in=held), pieces())
    assert [(row["cause"], row["inspected"], row["rejected"]) for row in rows] == [("", 30, 0), ("BUR", 0, 2)]
    assert {(row["shift_date"], row["shift"], row["die_id"], row["mounting_id"]) for row in rows} == {
        ("1970-01-01", "day", "", "")
    }


def test_120_rejected_of_which_85_are_found_good_leaves_35() -> None:
    decided = (Disposition("BUR", "found_good", 85),)
    rows = booked(look(150, 150, {"BUR": 120}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert sums(rows, "rejected", "reworked", "released") == (35, 0, 0)


def test_reworked_pieces_are_a_third_group() -> None:
    decided = (Disposition("BUR", "rework", 7), Disposition("BUR", "use_as_is", 2))
    rows = booked(look(150, 150, {"BUR": 12}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert sums(rows, "rejected", "reworked") == (3, 7)


def test_scrap_and_return_to_supplier_leave_the_count_as_it_was() -> None:
    decided = (Disposition("BUR", "scrap", 5), Disposition("BUR", "return_to_supplier", 5))
    rows = booked(look(150, 150, {"BUR": 12}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert sums(rows, "rejected", "reworked", "released") == (12, 0, 0)


@pytest.mark.parametrize("cause", ["BUR", ""])
@pytest.mark.parametrize(
    ("mended", "scrapped", "left"),
    [
        (5, 2, (2, 3)),  # Mending failed on two of the five.
        (4, 3, (3, 2)),  # One that nobody had decided on, and two of the four.
        (2, 3, (3, 2)),  # The three that nobody had decided on.
        (5, 9, (5, 0)),
    ],
)
def test_scrap_after_rework_takes_back_what_could_not_be_mended(
    cause: str, mended: int, scrapped: int, left: tuple[int, int]
) -> None:
    decided = (Disposition(cause, "rework", mended), Disposition(cause, "scrap", scrapped))
    rows = booked(look(150, 150, {"BUR": 5}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert sums(rows, "rejected", "reworked", "released") == (*left, 0)


def test_no_more_pieces_are_moved_than_were_rejected() -> None:
    decided = (Disposition("BUR", "rework", 7), Disposition("BUR", "found_good", 99))
    rows = booked(look(150, 150, {"BUR": 12}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert sums(rows, "rejected", "reworked", "released") == (0, 7, 0)


def test_decision_without_a_cause_speaks_of_the_rejected_pieces_whatever_their_cause() -> None:
    # 6 of BUR 8 and SCR 4: 4 and 2.
    decided = (Disposition("", "found_good", 6),)
    rows = booked(look(100, 50, {"BUR": 8, "SCR": 4}, "full", dispositions=decided), pieces(*TWO_COILS))
    assert {row["cause"]: row["rejected"] for row in rows} == {"": 0, "BUR": 4, "SCR": 2}
    assert sums(rows, "released") == (0,)


def test_decision_without_a_cause_releases_setting_pieces() -> None:
    made = pieces((0, 50, 50, "A"), setup=1)
    rows = booked(look(50, 40, {"BUR": 3}, "full", dispositions=(Disposition("", "found_good", 37),)), made)
    assert sums(rows, "released", "rejected") == (37, 3)


def test_setting_pieces_are_released_by_a_look_at_the_first_good_ones() -> None:
    made = both(pieces((0, 50, 50, "A"), setup=1), pieces((50, 100, 50, "A")))
    rows = booked(look(60, 5, dispositions=(Disposition("", "use_as_is", 40),)), made)
    assert sums(rows, "released", "rejected") == (40, 0)


def test_pieces_used_up_by_the_test_are_taken_off_like_setting_pieces() -> None:
    assert sums(booked(look(100, 5, used_up=2), pieces(*TWO_COILS)), "released", "rejected") == (-2, 0)


@for_all(
    st.lists(st.tuples(st.integers(1, 60), st.integers(0, 80)), min_size=1, max_size=8),
    st.integers(1, 200),
    st.dictionaries(st.sampled_from(CAUSES[1:]), st.integers(0, 20)),
    st.lists(
        st.builds(
            Disposition,
            st.sampled_from(CAUSES),
            st.sampled_from(["scrap", "rework", "found_good"]),
            st.integers(0, 30),
        ),
        max_size=4,
    ),
)
def test_counts_add_up_over_the_pieces_whatever_was_decided(
    stretches: list[tuple[int, int]], inspected: int, rejected: dict[str, int], decided: list[Disposition]
) -> None:
    rows, at = [], 0
    for number, (length, count) in enumerate(stretches):
        rows.append((at, at + length, count, f"C{number}"))
        at += length
    found = booked(look(at, inspected, rejected, dispositions=tuple(decided)), pieces(*rows))
    assert sums(found, "inspected") == (inspected,)
    asked = {cause: sum(d.pieces for d in decided if d.cause == cause and d.outcome != "scrap") for cause in CAUSES}
    still, mended, released = sums(found, "rejected", "reworked", "released")
    moved = sum(rejected.values()) - still
    # A named cause gives at most what was found of it; what no cause holds any more releases setting pieces.
    wanted = asked[""] + sum(min(rejected.get(cause, 0), asked[cause]) for cause in CAUSES[1:])
    # Scrap takes back what was mended before, where nobody had decided on fewer pieces.
    scrapped = sum(d.pieces for d in decided if d.outcome == "scrap")
    assert max(0, wanted - scrapped) <= moved + released <= wanted
    assert 0 <= mended <= moved
    assert released >= 0
