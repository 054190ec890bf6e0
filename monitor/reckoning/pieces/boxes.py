"""What is in a container: the good pieces that left the press while it stood open, and what was packed over since.

Pieces of a container are mixed.  When only some are moved on, nobody can tell of which coil they are unless all are of
one: what must be so by count is kept apart from "one of these coils".
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

import numpy as np

from monitor.reckoning.pieces.account import is_early
from monitor.reckoning.pieces.containers import SORTED_OUT, Accounts, Box, RepackDone
from monitor.reckoning.pieces.genealogy import NOBODY, Origin, Run, one_of
from monitor.reckoning.pieces.stretches import MadeStretch, within
from monitor.reckoning.press.split import largest_remainder
from shared.durations import HOUR_US

Contents = dict[Origin, int]

HELD_NOBODY = replace(NOBODY, is_held=True)


@dataclass
class BoxPieces:
    """Pieces by origin: all that ever came into a container, what is still there, and what of the first is sure."""

    came: Contents = field(default_factory=dict)
    here: Contents = field(default_factory=dict)
    sure: Contents = field(default_factory=dict)


@dataclass(frozen=True)
class Filling:
    """Pieces of one origin in the order in which they fell, the stretch they are of, and those rejected of it."""

    origin: Origin
    count: int
    made: MadeStretch
    rejected: int


@dataclass(frozen=True)
class Falls:
    """What fell into a container, and for how sure that is what fell in the hour before and after it."""

    inside: Sequence[Filling]
    before: Sequence[Filling] = ()
    after: Sequence[Filling] = ()

    def of_out(self, out: int) -> Falls:
        """Return what fell from one out."""
        return Falls(*([f for f in some if f.made.out == out] for some in (self.inside, self.before, self.after)))


def falls_of(
    box: Box, made: Sequence[MadeStretch], runs: Callable[[MadeStretch], Sequence[Run]], *, sure: bool
) -> Falls:
    """Return what fell into a container; `made` are stretches of its press in order, an hour around it where `sure`."""
    inside = fillings(box, made, runs)
    if not sure:
        return Falls(inside)
    before = replace(box, from_us=box.from_us - HOUR_US, to_us=box.from_us, beside=())
    after = replace(box, from_us=box.to_us, to_us=box.to_us + HOUR_US, beside=())
    return Falls(inside, fillings(before, made, runs), fillings(after, made, runs))


def fillings(box: Box, made: Sequence[MadeStretch], runs: Callable[[MadeStretch], Sequence[Run]]) -> list[Filling]:
    """Return what fell into a container; `made` are stretches of its press in order of time."""
    found = []
    for stretch in (part for span in box.filled_us for part in within(made, *span)):
        if stretch.part_no == box.part_no and box.out in (None, stretch.out):
            parts = runs(stretch)
            counts = np.array([count for _, count in parts], dtype=np.int64)
            shares = largest_remainder(max(0, stretch.good), counts).tolist()
            lost = largest_remainder(stretch.rejected, counts).tolist()
            found += [
                Filling(origin, share, stretch, gone)
                for (origin, _), share, gone in zip(parts, shares, lost, strict=True)
                if share or gone
            ]
    return found


def fallen(box: Box, made: Sequence[MadeStretch]) -> int:
    """Return how many pieces fell into a container, of whatever coil: as many as are `fillings`."""
    inside = (part for span in box.filled_us for part in within(made, *span))
    return sum(max(0, m.good) for m in inside if m.part_no == box.part_no and box.out in (None, m.out))


def contents(
    boxes: Sequence[Box],
    filled: Mapping[str, Falls],
    found: Accounts,
    doubt: Callable[[str], float],
    holds: Collection[str] = (),
) -> dict[str, BoxPieces]:
    """Return what came into each container and what is still there, or was when it was sent; Σ here is what it held.

    `found` are the accounts of the containers and of those pieces were packed over from.  Where a container was
    counted, what the pieces do not add up to stands under no coil, with its sign; so do pieces found bad that the count
    holds.  All others that were sorted out, or had left before it was counted, count as if they had never come.
    `doubt` tells by how many progressions the beginning of a mounting is uncertain.  Origins of pieces that ever were
    in a container of `holds` are marked as held.
    """
    held = {box.container_id: BoxPieces() for box in boxes}
    named = {box.container_id: box for box in boxes}
    sorted_before = {
        name: sum(one.repack.quantity for one in moves if not one.repack.fell) for name, moves in found.reaches.items()
    }
    for name, box in named.items():
        one, is_held = held[name], name in holds
        falls = filled.get(name, Falls(()))
        for fall in falls.inside:
            _add(one.came, _marked(fall.origin, is_held), fall.count)
        one.sure = {_marked(origin, is_held): count for origin, count in _sure(box, falls, doubt).items()}
        nobody = found.by_container[name].difference + sorted_before.get(name, 0)
        _add(one.came, _marked(NOBODY, is_held), nobody)
        one.here = dict(one.came)
    for poured in found.poured:
        _move(held, named, found, poured, holds)
    for name, account in found.by_container.items():
        _add(held[name].came, _marked(NOBODY, name in holds), account.counted_bad)
    return held


def _marked(origin: Origin, is_held: bool) -> Origin:
    return replace(origin, is_held=True) if is_held and not origin.is_held else origin


def _move(
    held: Mapping[str, BoxPieces], boxes: Mapping[str, Box], found: Accounts, poured: RepackDone, holds: Collection[str]
) -> None:
    """Pour pieces over; what goes beyond the contents of a container comes from nobody knows where."""
    move = poured.repack
    source, target = held.get(move.from_container), held.get(move.to_container)
    share, some = _sure_share(source), Contents()
    if source is not None:
        some = _take(source, poured)
        account = found.by_container[move.from_container]
        if move.to_container == SORTED_OUT or (account.is_late and is_early(boxes[move.from_container], move)):
            _forget(source, poured)
    if target is None:
        return
    _add(some, _marked(NOBODY, move.from_container in holds), move.quantity - poured.pieces)
    for was, count in some.items():
        origin = _marked(was, move.to_container in holds)
        _add(target.came, origin, count)
        _add(target.here, origin, count)
        if origin.is_sure:
            _add(target.sure, origin, int(count * share.get(was, 0.0)))


def _take(source: BoxPieces, poured: RepackDone) -> Contents:
    """Take pieces out of a container; those that the falls leave out already stand under no coil."""
    if not poured.pieces:
        return {}
    if poured.repack.fell:
        some, source.here = pour(source.here, poured.pieces)
        return some
    _add(source.here, _nobody_of(source.here), -poured.pieces)
    return {}


def _forget(source: BoxPieces, poured: RepackDone) -> None:
    """Leave pieces out of what came into a container."""
    if not poured.pieces:
        return
    if not poured.repack.fell:
        _add(source.came, _nobody_of(source.came), -poured.pieces)
        return
    _, source.came = pour(source.came, poured.pieces)
    source.sure = {origin: min(count, source.came.get(origin, 0)) for origin, count in source.sure.items()}


def _nobody_of(contents: Contents) -> Origin:
    return next((origin for origin in contents if origin in (NOBODY, HELD_NOBODY)), NOBODY)


def _sure_share(held: BoxPieces | None) -> dict[Origin, float]:
    if held is None:
        return {}
    return {origin: held.sure.get(origin, 0) / count for origin, count in held.came.items() if count > 0}


def pour(contents: Mapping[Origin, int], quantity: int) -> tuple[Contents, Contents]:
    """Take some pieces out of mixed ones; return what was moved and what is left.

    Of each origin at least what the rest cannot make up must have been moved, and the same holds for what is left;
    everything else is one of the coils there are.
    """
    total = sum(contents.values())
    if quantity >= total:
        moved = dict(contents)
        _add(moved, NOBODY, quantity - total)
        return moved, {}
    there = {origin: count for origin, count in contents.items() if count > 0}
    missing = {origin: count for origin, count in contents.items() if count < 0}
    rest = sum(there.values()) - quantity
    moved = {origin: count - rest for origin, count in there.items() if count > rest}
    left = {origin: count - quantity for origin, count in there.items() if count > quantity}
    mixed = either(there)
    _add(moved, mixed, quantity - sum(moved.values()))
    _add(left, mixed, rest - sum(left.values()))
    return moved, left | missing


def either(origins: Iterable[Origin]) -> Origin:
    """Return "one of these coils"; of one that is not known nobody can say that it is not among them."""
    origins = list(origins)
    coils = one_of(coil for origin in origins for coil in origin.coils or ("",))
    reels = tuple(dict.fromkeys(reel for origin in origins for reel in origin.reels))
    return Origin(coils, reels, any(origin.is_held for origin in origins))


def _add(contents: Contents, origin: Origin, count: int) -> None:
    if count:
        contents[origin] = contents.get(origin, 0) + count
        if not contents[origin]:
            del contents[origin]


def _sure(box: Box, falls: Falls, doubt: Callable[[str], float]) -> Contents:
    """Return, by origin, the pieces that are in the container whatever happened between two readings."""
    sure: dict[Origin, float] = {}
    for out in {fall.made.out for fall in falls.inside}:
        for origin, count in _sure_of_out(box, falls.of_out(out), doubt).items():
            sure[origin] = sure.get(origin, 0.0) + count
    # Where all pieces of a coil were rejected, none of them is in the container for sure.
    lost = dict.fromkeys([*sure, *(fall.origin for fall in falls.inside)], 0)
    for fall in falls.inside:
        lost[fall.origin] += fall.rejected
    # Nobody noted of which coil the rejected pieces were, so those of the others may have been of this one.
    whole = sum(lost.values())
    return {o: max(0, int(n - (whole - lost[o]))) for o, n in sure.items() if o.is_sure}


def _sure_of_out(box: Box, falls: Falls, doubt: Callable[[str], float]) -> dict[Origin, float]:
    """Count the pieces that do not lie within the doubt of a change of coil, or of the container's own edges."""
    stretches = _stretches([*falls.before, *falls.inside, *falls.after])
    first = float(sum(fall.count for fall in falls.before))
    last = first + sum(fall.count for fall in falls.inside)
    unsure = [(first - box.doubts[0], first + box.doubts[0]), (last - box.doubts[1], last + box.doubts[1])]
    place = 0.0
    for at, (_, count, made) in enumerate(stretches):
        if at:
            unsure.append((place - doubt(made.mounting_id), place + doubt(made.mounting_id)))
        place += count
    sure: dict[Origin, float] = {}
    place = 0.0
    for origin, count, _ in stretches:
        begin, end = max(first, place), min(last, place + count)
        place += count
        if begin < end:
            sure[origin] = sure.get(origin, 0.0) + end - begin - _covered(begin, end, unsure)
    return sure


def _covered(begin: float, end: float, spans: Sequence[tuple[float, float]]) -> float:
    """Return how much of [begin, end) lies in any of some spans."""
    covered, reached = 0.0, begin
    for low, high in sorted(spans):
        low, high = max(low, reached), min(high, end)
        if low < high:
            covered += high - low
            reached = high
    return covered


def _stretches(falls: Sequence[Filling]) -> list[tuple[Origin, int, MadeStretch]]:
    """Join what fell one after the other and is of one origin; each with the stretch in which it begins."""
    found = []
    for origin, same in groupby(falls, key=lambda fall: fall.origin):
        members = list(same)
        found.append((origin, sum(fall.count for fall in members), members[0].made))
    return found
