"""From which coil a piece came: through the strip in the die, and back through reels by place on the strip.

A reel is wound with the progressions that leave the last station of its press between two moments, in order.  It is
fed last wound first; each rewinding turns it round once more.  A length cut from a reel keeps the places it had there.
Places are counted in progressions and measured in millimetres of strip, never averaged.  What nobody can tell stays
"one of these coils".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np
import numpy.typing as npt

from monitor.reckoning.pieces.stretches import MadeStretch, part_of, within
from monitor.reckoning.press.counters import Ints

Lengths = npt.NDArray[np.float64]

MM_PER_M = 1000

#: Joins, where ids are shown, those of coils of which nobody can tell which one it was.  An id may hold it as well, so
#: no such list is ever taken apart again.
EITHER = ";"

#: Stands in such a list for a coil that is not known.
UNKNOWN = "?"

#: Reels cut from reels from reels: more than this is a ring of names, not a reel; common practice, no source.
DEEPEST = 20


@dataclass(frozen=True)
class Mounting:
    """A coil or reel on a press.

    `before_mm` of it was used by earlier mountings or cut off at its head; from progression `limit` on it had run out
    (None = never); `cuts` are moments [us] at which strip [mm] was cut away.  `doubt` is by how many progressions its
    beginning is uncertain: the strokes between the two readings around it, and the one in which it lies.
    """

    mounting_id: str
    coil_id: str
    pitch_mm: float
    before_mm: float = 0.0
    limit: int | None = None
    cuts: tuple[tuple[int, float], ...] = ()
    doubt: float = 0.0

    def place_mm(self, entries: Ints, from_us: int) -> Lengths:
        """Return the middles of progressions that left the press from a moment [us] on, along the strip [mm]."""
        cut_mm = sum(mm for us, mm in self.cuts if us <= from_us)
        return np.asarray(self.before_mm + cut_mm + (entries + 0.5) * self.pitch_mm, dtype=np.float64)


@dataclass(frozen=True)
class Reel:
    """Strip wound on a press between two moments [us], or a length [m] cut from another reel; None = nobody knows.

    `from_m` and `to_m` count from the first wound end of the reel it was cut from.
    """

    reel_id: str
    press_id: str
    from_us: int
    to_us: int
    rewinds: int | None = 0
    from_reel: str = ""
    from_m: float | None = None
    to_m: float | None = None
    doubt: float = 0.0


@dataclass(frozen=True)
class Origin:
    """A coil and the reels on the way, first wound first.

    Several coils = one of these, "" among them = one that is not known; none = nobody knows.  `is_held` marks pieces
    that were in a container under a hold.
    """

    coils: tuple[str, ...] = ()
    reels: tuple[str, ...] = ()
    is_held: bool = False

    @property
    def coil_id(self) -> str:
        """The coil as it is shown: "" = not known, several as a `;`-list."""
        return EITHER.join(coil or UNKNOWN for coil in self.coils)

    @property
    def is_sure(self) -> bool:
        """Tell whether it names one coil."""
        return len(self.coils) == 1 and self.coils != ("",)


NOBODY = Origin()

Run = tuple[Origin, int]


@dataclass(frozen=True)
class _Wound:
    """Strip of a reel in winding order with its ends [mm]; [low, high) of it lies here, turned `turns` times."""

    strip: tuple[MadeStretch, ...]
    ends_mm: Lengths
    low_mm: float
    high_mm: float
    turns: int | None
    doubt: float

    @property
    def length_mm(self) -> float:
        """Length of the strip on this reel [mm]."""
        return self.high_mm - self.low_mm

    @cached_property
    def lying(self) -> tuple[MadeStretch, ...]:
        """The stretches of which some lies on this reel."""
        starts = np.concatenate(([0.0], self.ends_mm[:-1]))
        inside = (starts < self.high_mm) & (self.ends_mm > self.low_mm)
        return tuple(self.strip[at] for at in np.flatnonzero(inside))


class Descent:
    """Finds the coil of pieces; `strip` holds, by press, the stretches of the out that leaves the last station."""

    def __init__(
        self, mountings: Mapping[str, Mounting], reels: Mapping[str, Reel], strip: Mapping[str, Sequence[MadeStretch]]
    ) -> None:
        self._mountings = mountings
        self._reels = reels
        self._strip = strip
        self._wound: dict[str, _Wound | None] = {}

    def runs(self, made: MadeStretch) -> list[Run]:
        """Return how many pieces of a stretch came from which coil, in the order in which they were made."""
        entries = np.arange(made.entry, made.entry + made.pieces, dtype=np.int64)
        return joined(self._runs(made.mounting_id, entries, made.from_us, ()))

    def doubt(self, mounting_id: str) -> float:
        """Return by how many progressions it is uncertain where the strip of a mounting, or of its reel, changes."""
        mounting = self._mountings.get(mounting_id)
        if mounting is None:
            return 0.0
        wound = self._reel(mounting.coil_id, 0) if mounting.coil_id in self._reels else None
        if wound is None:
            return mounting.doubt
        inner = {made.mounting_id for made in wound.lying} - {mounting_id}
        return mounting.doubt + wound.doubt + max((self.doubt(name) for name in inner), default=0.0)

    def on_reel(self, reel_id: str) -> list[Run]:
        """Return how many progressions of which coil lie on a reel, in the order in which they were wound."""
        wound = self._reel(reel_id, 0)
        if wound is None:
            return []
        return joined(run for made in self._cut_out(wound) for run in self.runs(made))

    def _cut_out(self, wound: _Wound) -> Iterable[MadeStretch]:
        start = 0.0
        for made, end in zip(wound.strip, wound.ends_mm.tolist(), strict=True):
            pitch = (end - start) / made.pieces
            first = max(0, round((wound.low_mm - start) / pitch))
            last = min(made.pieces, round((wound.high_mm - start) / pitch))
            if first < last:
                yield part_of(made, first, last - first)
            start = end

    def _runs(self, mounting_id: str, entries: Ints, from_us: int, reels: tuple[str, ...]) -> Iterable[Run]:
        mounting = self._mountings.get(mounting_id)
        if mounting is None or not mounting.coil_id:
            return [(Origin((), reels), len(entries))]
        if mounting.coil_id not in self._reels:
            own = len(entries) if mounting.limit is None else int(np.count_nonzero(entries < mounting.limit))
            return [(Origin((mounting.coil_id,), reels), own), (Origin((), reels), len(entries) - own)]
        way = (mounting.coil_id, *reels)
        if len(way) > DEEPEST:
            return [(Origin((), reels), len(entries))]
        return self._through(mounting.coil_id, mounting.place_mm(entries, from_us), way)

    def _through(self, reel_id: str, fed_mm: Lengths, way: tuple[str, ...]) -> Iterable[Run]:
        """Yield what lies on a reel `fed_mm` from the end that is fed first."""
        wound = self._reel(reel_id, 0)
        if wound is None or not wound.strip:
            yield Origin((), way), len(fed_mm)
            return
        if wound.turns is None:
            yield self._one_of(wound, way), len(fed_mm)
            return
        place_mm = wound.high_mm - fed_mm if wound.turns % 2 == 0 else wound.low_mm + fed_mm
        inside = (fed_mm >= 0) & (fed_mm < wound.length_mm) & (place_mm < wound.ends_mm[-1])
        at = np.where(inside, np.searchsorted(wound.ends_mm, place_mm, side="right"), -1)
        edges = np.concatenate(([0], np.flatnonzero(np.diff(at)) + 1, [len(at)]))
        for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            if at[first] < 0:
                yield Origin((), way), last - first
            else:
                yield from self._stretch(wound, int(at[first]), place_mm[first:last], way)

    def _stretch(self, wound: _Wound, at: int, place_mm: Lengths, way: tuple[str, ...]) -> Iterable[Run]:
        made = wound.strip[at]
        start = wound.ends_mm[at - 1] if at else 0.0
        pitch = (wound.ends_mm[at] - start) / made.pieces
        nth = np.clip(np.floor((place_mm - start) / pitch).astype(np.int64), 0, made.pieces - 1)
        return self._runs(made.mounting_id, made.entry + nth, made.from_us, way)

    def _one_of(self, wound: _Wound, way: tuple[str, ...]) -> Origin:
        """Return the one coil all of a reel is of, else all that it may be."""
        found = {
            coil
            for made in wound.lying
            for origin, count in self._runs(made.mounting_id, _ends(made), 0, way)
            if count
            for coil in origin.coils or ("",)
        }
        return Origin(one_of(found), way)

    def _reel(self, reel_id: str, depth: int) -> _Wound | None:
        if reel_id not in self._wound:
            self._wound[reel_id] = self._wind(reel_id, depth)
        return self._wound[reel_id]

    def _wind(self, reel_id: str, depth: int) -> _Wound | None:
        reel = self._reels.get(reel_id)
        if reel is None or depth > DEEPEST:
            return None
        if not reel.from_reel:
            strip = tuple(within(self._strip.get(reel.press_id, ()), reel.from_us, reel.to_us))
            lengths = [made.pieces * self._pitch(made.mounting_id) for made in strip]
            ends = np.cumsum(np.array(lengths, dtype=np.float64))
            return _Wound(
                strip,
                ends,
                low_mm=0.0,
                high_mm=float(ends[-1]) if len(ends) else 0.0,
                turns=reel.rewinds,
                doubt=reel.doubt,
            )
        mother = self._reel(reel.from_reel, depth + 1)
        return None if mother is None else _cut_from(mother, reel)

    def _pitch(self, mounting_id: str) -> float:
        mounting = self._mountings.get(mounting_id)
        return mounting.pitch_mm if mounting and mounting.pitch_mm > 0 else 1.0


def _ends(made: MadeStretch) -> Ints:
    return np.array([made.entry, made.entry + made.pieces - 1], dtype=np.int64)


def one_of(coils: Iterable[str]) -> tuple[str, ...]:
    """Return the coils of which it is one, in order; "" at the end where it may be one that is not known."""
    some = set(coils)
    known = sorted(some - {""})
    return (*known, "") if known and "" in some else tuple(known)


def _cut_from(mother: _Wound, reel: Reel) -> _Wound:
    """Return a length cut from a reel: it keeps its places; where they are not known, nor is the order."""
    whole = reel.from_m is None and reel.to_m is None
    known = mother.turns is not None and reel.rewinds is not None and not whole
    low = mother.low_mm + (reel.from_m or 0.0) * MM_PER_M
    high = mother.high_mm if reel.to_m is None else min(mother.high_mm, mother.low_mm + reel.to_m * MM_PER_M)
    turns = (mother.turns or 0) + (reel.rewinds or 0) if known else None
    return _Wound(mother.strip, mother.ends_mm, low_mm=low, high_mm=high, turns=turns, doubt=mother.doubt)


def joined(runs: Iterable[Run]) -> list[Run]:
    """Join neighbours of one origin and leave out what counts nothing."""
    some = (run for run in runs if run[1])
    return [(origin, sum(count for _, count in same)) for origin, same in groupby(some, key=lambda run: run[0])]
