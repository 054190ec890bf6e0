"""Stretches of pieces that left a press: parts of one by time, and one stretch for each progression."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class MadeStretch:
    """Stretch of pieces of one out that left a press in (from, to] [us]; the first is `entry` of its mounting.

    `pieces` left the press, `good` of them were neither setting pieces nor rejected, reworked or used up.
    """

    press_id: str
    die_id: str
    part_no: str
    out: int
    mounting_id: str
    pieces: int
    good: int
    entry: int
    from_us: int
    to_us: int
    rejected: int = 0


def within(made: Sequence[MadeStretch], from_us: int, to_us: int) -> Iterable[MadeStretch]:
    """Yield what of some stretches, in order of time, left the press in (from, to] [us].

    A stretch that reaches over an edge is shared by time in whole pieces: what the facts cut there is exact.
    """
    for stretch in made:
        length = stretch.to_us - stretch.from_us
        begin, end = max(stretch.from_us, from_us), min(stretch.to_us, to_us)
        if length <= 0:
            if from_us < stretch.to_us <= to_us:
                yield stretch
        elif begin < end:
            first = round(stretch.pieces * (begin - stretch.from_us) / length)
            count = round(stretch.pieces * (end - stretch.from_us) / length) - first
            if count:
                yield part_of(stretch, first, count)


def part_of(made: MadeStretch, first: int, count: int) -> MadeStretch:
    """Return `count` pieces of a stretch from its `first` (0 = the first) on; good ones are shared alike."""
    if count == made.pieces:
        return made

    def before(total: int, pieces: int) -> int:
        return round(total * pieces / made.pieces)

    good, rejected = (before(n, first + count) - before(n, first) for n in (made.good, made.rejected))
    return MadeStretch(
        made.press_id,
        made.die_id,
        part_no=made.part_no,
        out=made.out,
        mounting_id=made.mounting_id,
        pieces=count,
        good=good,
        entry=made.entry + first,
        from_us=made.from_us,
        to_us=made.to_us,
        rejected=rejected,
    )


def last_out(made: Iterable[MadeStretch], outs: Mapping[str, Sequence[int]]) -> list[MadeStretch]:
    """Keep one stretch a progression: of the outs of each die that part off last, the first that runs."""
    kept: dict[tuple[str, int, int], MadeStretch] = {}
    for stretch in sorted(made, key=lambda m: (m.from_us, m.out)):
        if stretch.die_id not in outs or stretch.out in outs[stretch.die_id]:
            kept.setdefault((stretch.mounting_id, stretch.entry, stretch.from_us), stretch)
    return sorted(kept.values(), key=lambda m: (m.from_us, m.to_us))
