"""Rechecks of the same pieces merged into the first inspection, so that every piece is counted once.

A recheck is about a set of the pieces of the look that it names, and changes only what it looked at.  Of N pieces
looked at first (unknown for a tub count) R were rejected; the recheck looks at m of its set and finds r bad:

| first look   | recheck      | its set  | m        | rejected after it                                  | of       |
|--------------|--------------|----------|----------|----------------------------------------------------|----------|
| any          | any          | rejected | m <= R   | R - m + r                                          | N        |
| any          | any          | rejected | m > R    | r: all R were looked at again                      | max(N,m) |
| any          | any          | passed   | any      | R + r                                              | max(N,R+m) |
| full         | sample       | all      | any      | R, and what it found of a cause beyond the sort's  | N        |
| full, sample | any other    | all      | m < N    | R - x + r, x = m R / N of the rejected looked at   | N        |
| full, sample | any other    | all      | m >= N   | r: every piece was looked at again                 | m        |
| sample       | full         | all      | m > N    | the sample is part of the sort, a look of its own  | 0, m     |
| tub          | any          | all      | any      | as for rejected: a tub holds nothing else          | unknown  |

An empty set is all.  A sample out of a sort is evidence and overrules nothing: whether what it found are pieces that
the sort had found too nobody knows, so only what goes beyond the sort's own count of a cause is added.  A recheck
counted out of a tub looked at the pieces it counted; of a set of all it is treated like a sample.  A sort that a sample
is part of, and that names neither a time nor a container of its own, is about the pieces of that sample, and where it
looked at more, about those made just before them.

By cause: a piece found bad again for a cause is one that was rejected for it.  What else was looked at again is taken
from the causes in proportion to what is left of them, in whole numbers; a piece of it found bad for another cause
counts for that one.  Pieces that a decision made before the recheck had mended or let pass stay so, and are not among
the rejected that it looked at; where the pieces are too few for both, the recheck outweighs the decision.

A recheck of a recheck is about the set of pieces of that one, and is folded into it first.  Rechecks of one look count
in order of time, then of name.  Looks that name each other in a round, or one that is not there, stand by themselves.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from monitor.reckoning.pieces.inspections import STAYS, Disposition, Inspection, with_causes
from monitor.reckoning.press.split import largest_remainder

Counts = dict[str, int]


def merge_rechecks(inspections: Iterable[Inspection]) -> list[Inspection]:
    """Return first looks with what their rechecks changed, in order of name: rejected, inspected and decisions.

    The pieces spoken of are those of the first look.  Of a sample that a later sort of more pieces holds, and of what
    rechecked it before that sort, only used up pieces and decisions are left, of 0 pieces looked at, and nothing where
    there are none; what rechecks it later rechecks the sort.
    """
    ordered = sorted(inspections, key=lambda i: (i.time_us, i.inspection_id))
    by_id = {i.inspection_id: i for i in ordered}
    later: dict[str, list[Inspection]] = defaultdict(list)
    alone = []
    for look in ordered:
        if look.rechecks not in by_id or _is_in_a_round(look, by_id):
            alone.append(look)
        else:
            later[look.rechecks].append(look)
    merged = [found for look in alone for found in _with_sort(look, later)]
    return sorted(merged, key=lambda look: look.inspection_id)


def _is_in_a_round(look: Inspection, by_id: Mapping[str, Inspection]) -> bool:
    """Tell whether going back from look to look ends nowhere."""
    seen = {look.inspection_id}
    while look.rechecks in by_id:
        if look.rechecks in seen:
            return True
        seen.add(look.rechecks)
        look = by_id[look.rechecks]
    return False


def _with_sort(look: Inspection, later: Mapping[str, Sequence[Inspection]]) -> list[Inspection]:
    """Return a first look merged with its rechecks, or what is left of it and the sort that holds it."""
    again = later.get(look.inspection_id, ())
    at = next((at for at, sort in enumerate(again) if _holds_sample(sort, look)), None)
    if at is None:
        return [_merged(look, later)]
    left = replace(look, inspected=0, rejected={})
    for earlier in again[:at]:
        left = _second_look(left, replace(_merged(earlier, later), inspected=0, rejected={}))
    sort = _about_first(look, _merged(again[at], later))
    for after in again[at + 1 :]:
        sort = _second_look(sort, _merged(after, later))
    return [left, sort] if left.used_up or left.dispositions else [sort]


def _holds_sample(sort: Inspection, first: Inspection) -> bool:
    """Tell whether a look is a sort of more pieces than the sample that it rechecks, all of those among them."""
    if sort.kind != "full" or first.kind != "sample" or sort.scope not in ("", "all"):
        return False
    return (sort.inspected or 0) > (first.inspected or 0)


def _about_first(first: Inspection, sort: Inspection) -> Inspection:
    """Return a sort as one of the pieces of the sample that it holds, where it does not say itself which it is of."""
    if sort.spans_us:
        return sort
    return replace(
        sort,
        part_no=sort.part_no or first.part_no,
        out=first.out if sort.out is None else sort.out,
        spans_us=first.spans_us,
        before_us=min((begin for begin, _ in first.spans_us), default=first.time_us),
    )


def _merged(look: Inspection, later: Mapping[str, Sequence[Inspection]]) -> Inspection:
    for again in later.get(look.inspection_id, ()):
        look = _second_look(look, _merged(again, later))
    return look


def _second_look(first: Inspection, again: Inspection) -> Inspection:
    scope = again.scope or "all"
    if first.inspected is None and scope == "all":
        scope = "rejected"
    moved = _moved_before(first, again.time_us)
    still = {cause: count - moved.get(cause, 0) for cause, count in first.rejected.items()}
    left = _ACTS[scope](first, again, still)
    inspected = _together(first, again, scope)
    decided = first.dispositions
    if inspected is not None and (over := sum(left.values()) + sum(moved.values()) - inspected) > 0:
        decided = _less(first, again.time_us, over)
        moved = _moved(first, (decision for decision in decided if decision.time_us < again.time_us))
    rejected = {cause: left.get(cause, 0) + moved.get(cause, 0) for cause in sorted({*left, *moved})}
    wider = again.kind == "full" and (again.inspected or 0) > (first.inspected or 0) and scope == "all"
    return replace(
        first,
        kind="full" if wider else first.kind,
        inspected=inspected,
        rejected={cause: count for cause, count in rejected.items() if count},
        used_up=first.used_up + again.used_up,
        dispositions=tuple(sorted((*decided, *again.dispositions), key=lambda decision: decision.time_us)),
    )


def _together(first: Inspection, again: Inspection, scope: str) -> int | None:
    """Return the pieces that two looks looked at, each once; unknown beside a tub."""
    if first.inspected is None:
        return None
    seen = _seen(again) + (sum(first.rejected.values()) if scope == "passed" else 0)
    return first.inspected if _is_evidence(first, again, scope) else max(first.inspected, seen)


def _is_evidence(first: Inspection, again: Inspection, scope: str) -> bool:
    return scope == "all" and (again.inspected is None or (first.kind == "full" and again.kind == "sample"))


def _seen(look: Inspection) -> int:
    found = sum(look.rejected.values())
    return found if look.inspected is None else max(look.inspected, found)


def _of_rejected(first: Inspection, again: Inspection, still: Counts) -> Counts:
    return _looked_again(still, min(_seen(again), sum(still.values())), again.rejected)


def _of_passed(first: Inspection, again: Inspection, still: Counts) -> Counts:
    return {cause: still.get(cause, 0) + again.rejected.get(cause, 0) for cause in {*still, *again.rejected}}


def _of_all(first: Inspection, again: Inspection, still: Counts) -> Counts:
    if _is_evidence(first, again, "all"):
        return _beyond(first, again, still)
    pieces, seen, rejected = first.inspected or 0, _seen(again), sum(still.values())
    if seen >= pieces:
        return _looked_again(still, rejected, again.rejected)
    likely = (2 * rejected * seen + pieces) // (2 * pieces)
    return _looked_again(still, max(rejected - (pieces - seen), min(likely, rejected, seen)), again.rejected)


_ACTS: dict[str, Callable[[Inspection, Inspection, Counts], Counts]] = {
    "all": _of_all,
    "passed": _of_passed,
    "rejected": _of_rejected,
}


def _beyond(first: Inspection, again: Inspection, still: Counts) -> Counts:
    """Add what a sample found of a cause beyond what the sort had found of it, as far as pieces had passed the sort."""
    found = first.rejected
    extra = {cause: max(0, count - found.get(cause, 0)) for cause, count in again.rejected.items()}
    room = max(0, (first.inspected or 0) - sum(found.values()))
    if sum(extra.values()) > room:
        extra = _share(room, extra)
    return {cause: still.get(cause, 0) + extra.get(cause, 0) for cause in {*still, *extra}}


def _looked_again(still: Counts, seen: int, found: Mapping[str, int]) -> Counts:
    """Return what is rejected by cause after a look at `seen` of the pieces `still` rejected that found some bad."""
    again = {cause: min(count, still.get(cause, 0)) for cause, count in found.items()}
    if sum(again.values()) > seen:
        again = _share(seen, again)
    rest = {cause: count - again.get(cause, 0) for cause, count in still.items()}
    gone = _share(seen - sum(again.values()), rest)
    new = {cause: count - again[cause] for cause, count in found.items()}
    return {cause: still.get(cause, 0) - gone.get(cause, 0) + new.get(cause, 0) for cause in {*still, *new}}


def _share(total: int, over: Counts) -> Counts:
    """Share pieces over causes in proportion, in whole numbers; never more of one than there are."""
    if not total:
        return dict.fromkeys(over, 0)
    causes = sorted(over)
    shares = largest_remainder(total, np.array([over[cause] for cause in causes], dtype=np.int64))
    return dict(zip(causes, shares.tolist(), strict=True))


def _moved_before(first: Inspection, us: int) -> Counts:
    """Return by cause the rejected pieces that decisions before a moment [us] had mended or let pass."""
    early = tuple(decision for decision in first.dispositions if decision.time_us < us)
    return _moved(first, with_causes(replace(first, dispositions=early)).dispositions)


def _moved(first: Inspection, decisions: Iterable[Disposition]) -> Counts:
    """Return by cause the rejected pieces that decisions had mended or let pass, as far as these name a cause."""
    moved: Counts = defaultdict(int)
    for decision in decisions:
        if decision.outcome not in STAYS and decision.cause:
            moved[decision.cause] += decision.pieces
    return {cause: min(count, moved[cause]) for cause, count in first.rejected.items() if cause in moved}


def _less(first: Inspection, us: int, pieces: int) -> tuple[Disposition, ...]:
    """Return the decisions on a look, those before a moment [us] about that many pieces less, the latest first.

    What was decided beyond the pieces rejected for a cause is left out, or it would take the place of what goes.
    """
    early = [decision for decision in first.dispositions if decision.time_us < us]
    named = _within(first, with_causes(replace(first, dispositions=tuple(early))).dispositions)
    kept = []
    for decision in sorted(named, key=lambda decision: -decision.time_us):
        less = min(pieces, decision.pieces) if decision.cause and decision.outcome not in STAYS else 0
        pieces -= less
        kept.append(replace(decision, pieces=decision.pieces - less))
    return (*kept[::-1], *(decision for decision in first.dispositions if decision.time_us >= us))


def _within(first: Inspection, decisions: Iterable[Disposition]) -> list[Disposition]:
    """Return decisions about no more pieces of a cause than were rejected for it, the earliest first."""
    left, kept = dict(first.rejected), []
    for decision in decisions:
        if decision.cause and decision.outcome not in STAYS:
            decision = replace(decision, pieces=min(decision.pieces, left.get(decision.cause, 0)))
            left[decision.cause] = left.get(decision.cause, 0) - decision.pieces
        kept.append(decision)
    return kept
