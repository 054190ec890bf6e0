"""The account of a row depends on what was delivered, never on the order in which it came."""

from __future__ import annotations

from collections import Counter
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from monitor.ledger.merge.accounts import CORRECTED, NEVER, NEW, REPEATED, SET_ASIDE, Delivery, Order, judge, settle_key

FILES = "abcd"


def delivery(
    file: str, weight: int, recorded_at: int = NEVER, given_at: int = 0, line: int = 2, load_id: int = 0
) -> Delivery:
    # The same file given as a correction is a load of its own.
    load_id = load_id or FILES.index(file) + 1 + 10 * given_at
    order = Order(file, f"{file}.csv", load_id, line)
    return Delivery((weight,), recorded_at, given_at, order, load_id)


def counts(*deliveries: Delivery) -> list[str]:
    verdicts = judge(deliveries)
    return [verdicts[one].counts_as for one in deliveries]


def test_the_lowest_rank_is_new_and_each_later_one_corrects_it() -> None:
    assert counts(delivery("a", 20, 9), delivery("b", 21, 5), delivery("c", 22)) == [CORRECTED, CORRECTED, NEW]
    # What says again what was said before is a repeat, what goes back to it a correction.
    assert counts(delivery("a", 20), delivery("b", 20, 5), delivery("c", 21, 6), delivery("d", 20, 7)) == [
        NEW, REPEATED, CORRECTED, CORRECTED,
    ]  # fmt: skip


def test_of_two_that_contradict_the_first_file_stays() -> None:
    assert counts(delivery("b", 20), delivery("a", 21)) == [SET_ASIDE, NEW]
    against = judge([one := delivery("b", 20), delivery("a", 21)])[one].against
    assert against == delivery("a", 21)


def test_a_correction_counts_from_when_it_was_given_and_settles_a_contradiction() -> None:
    lost = delivery("b", 20)
    assert counts(delivery("a", 21), lost, delivery("b", 20, given_at=100)) == [NEW, REPEATED, CORRECTED]
    # One that says when it was written is no later for being given as a correction, but wins among its like.
    assert counts(delivery("a", 21, 50), delivery("b", 20, 40, given_at=100)) == [CORRECTED, NEW]
    assert counts(delivery("a", 21, 50), delivery("b", 20, 50, given_at=100)) == [NEW, CORRECTED]


DELIVERIES = st.lists(
    st.builds(
        delivery,
        st.sampled_from(FILES),
        st.integers(20, 22),
        st.sampled_from([NEVER, NEVER, 5, 6]),
        st.sampled_from([0, 0, 100, 101]),
        st.integers(2, 4),
    ),
    max_size=7,
    unique_by=lambda one: (one.order, one.given_at),
)


Seen = tuple[Counter[tuple[int, str]], set[tuple[int, int]], set[object]]


def settled(parts: list[list[Delivery]]) -> Seen:
    """Counts by load, lines set aside and what holds, after the deliveries came some at a time."""
    held: list[Delivery] = []
    counted: Counter[tuple[int, str]] = Counter()
    aside: set[tuple[int, int]] = set()
    holding: set[object] = set()
    for came in parts:
        account = settle_key(held, came)
        counted.update({(came[0].load_id, name): count for name, count in account.counts.items()})
        counted[came[0].load_id, SET_ASIDE] += len(account.lost)
        for (load_id, was, now), count in account.moves.items():
            counted[load_id, was] -= count
            counted[load_id, now] += count
        aside |= {(one.load_id, one.order.line) for one, _ in (*account.lost, *account.aside)}
        aside -= {(one.load_id, one.order.line) for one in account.back}
        held = [*account.holding, *(one for one, _ in account.others)]
        holding = {one.saying for one in account.holding}
    return +counted, aside, holding


@given(DELIVERIES, st.randoms(use_true_random=False))
def test_any_order_gives_the_same_account(deliveries: list[Delivery], dice: Random) -> None:
    shuffled = list(deliveries)
    dice.shuffle(shuffled)
    expected = settled([[one] for one in deliveries])
    assert settled([[one] for one in shuffled]) == expected
    # Rows of one file may come together.
    files = [[one for one in shuffled if one.load_id == load_id] for load_id in {one.load_id for one in shuffled}]
    assert settled(files) == expected
    assert sum(expected[0].values()) == len(deliveries)
    assert expected[0].total() - sum(n for (_, name), n in expected[0].items() if name != SET_ASIDE) == len(expected[1])
