"""The strip in a progressive die: which coil a stroke draws in, and which coil the piece it parts off came from.

A piece that leaves station S at stroke n entered station 1 at stroke n - S + 1.  Progressions are numbered along the
strip that is threaded, from 1 at the stroke that draws in the first; a strip fed N times through S stations gives
N - S + 1 pieces.  Each progression belongs to the mounting of the coil that lay at station 1 when it was drawn in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

#: Progression number below every real one: the strip was in the die before the first entry in the ledger.
LONG_AGO = -(1 << 60)


@dataclass(frozen=True)
class StripStretch:
    """Progressions [first, first + count) of one mounting: `entry` is the first one's place since it was mounted."""

    mounting_id: str
    first: int
    count: int
    entry: int


@dataclass(frozen=True)
class Joint:
    """From progression `first` on the strip is of this mounting; `entry` is that progression's place in it."""

    first: int
    mounting_id: str
    entry: int


@dataclass(frozen=True)
class Strip:
    """What lies on the decoiler and in the die of one press.

    `mounting_id` feeds the die ("" with `on_press` = coil not known); `joints` describe the threaded strip, `fed` its
    progressions so far; `voids` are progressions that give no piece; `parked` is a strip whose coil was taken off but
    which still lies in the die, so that a splice can join on to it.  `progress` counts progressions per mounting.
    """

    on_press: bool = False
    mounting_id: str = ""
    fed: int = 0
    joints: tuple[Joint, ...] = ()
    voids: tuple[tuple[int, int], ...] = ()
    parked: bool = False
    progress: Mapping[str, int] = field(default_factory=dict)

    @property
    def feeds(self) -> bool:
        """Tell whether a stroke draws strip in."""
        return self.on_press and not self.parked


def presumed() -> Strip:
    """Return the strip of a press that ran before its first entry: threaded, of a coil nobody noted."""
    return Strip(on_press=True, joints=(Joint(LONG_AGO, "", 0),))


def mount(strip: Strip, mounting_id: str, lost: int | None, stations: int) -> Strip:
    """Thread a new strip; `lost` progressions [count], where noted, override the S - 1 lost in threading.

    Fewer than S - 1 lost means that the new strip pushed the old one through: the pieces go on but for those lost.
    """
    progress = {**strip.progress, mounting_id: 0}
    if strip.joints and lost is not None and lost < stations - 1:
        return _joined(replace(strip, progress=progress), mounting_id, strip.fed + 1, lost)
    return Strip(on_press=True, mounting_id=mounting_id, progress=_living(progress, (), mounting_id))


def splice(strip: Strip, mounting_id: str, lead_in: int, lost: int | None) -> Strip:
    """Join a new strip to the old one `lead_in` progressions before station 1; nothing is lost unless noted."""
    # After a cut or a die change the die is empty, but the old coil lies before it.
    strip = thread(strip)
    progress = {**strip.progress, mounting_id: 0}
    if not strip.joints:
        return Strip(on_press=True, mounting_id=mounting_id, progress=_living(progress, (), mounting_id))
    return _joined(replace(strip, progress=progress), mounting_id, strip.fed + lead_in + 1, lost or 0)


def cut(strip: Strip, lost: int | None, stations: int) -> Strip:
    """Cut the strip back and thread it again: the same coil, S - 1 progressions lost unless noted otherwise."""
    if strip.joints and lost is not None and lost < stations - 1:
        return replace(strip, voids=(*strip.voids, (strip.fed + 1, strip.fed + 1 + lost)))
    return clear(strip)


def park(strip: Strip) -> Strip:
    """Take the coil off; its strip lies in the die until it is pulled out, pushed through or joined."""
    return replace(strip, on_press=False, parked=bool(strip.joints), mounting_id="")


def clear(strip: Strip) -> Strip:
    """Empty the die; what stays on the decoiler is threaded anew with the next stroke."""
    kept = _living(strip.progress, (), strip.mounting_id)
    return replace(strip, fed=0, joints=(), voids=(), parked=False, progress=kept)


def thread(strip: Strip) -> Strip:
    """Begin a strip with what lies on the decoiler, if none is in the die."""
    if strip.joints or not strip.feeds:
        return strip
    return replace(strip, joints=(Joint(1, strip.mounting_id, strip.progress.get(strip.mounting_id, 0)),))


def draw_in(strip: Strip, count: int) -> tuple[Strip, list[StripStretch]]:
    """Feed `count` progressions; return the strip after it and what was drawn in, by mounting."""
    strip = thread(strip)
    drawn = list(_by_mounting(strip, strip.fed + 1, strip.fed + count))
    progress = dict(strip.progress)
    for stretch in drawn:
        progress[stretch.mounting_id] = stretch.entry + stretch.count
    return replace(strip, fed=strip.fed + count, progress=progress), drawn


def parted(strip: Strip, fed_before: int, station: int) -> list[StripStretch]:
    """Return the progressions that left `station` between `fed_before` and now, by mounting, without the voids."""
    if not strip.joints:
        return []
    first = max(strip.joints[0].first, fed_before + 2 - station)
    return list(_without(strip.voids, _by_mounting(strip, first, strip.fed + 1 - station)))


def forget(strip: Strip, stations: int) -> Strip:
    """Drop joints and voids that have left the die, so that what is carried on stays small."""
    if len(strip.joints) == 1 and not strip.voids:
        return strip
    oldest = strip.fed + 1 - stations
    behind = [i for i, joint in enumerate(strip.joints) if joint.first <= oldest]
    joints = strip.joints[behind[-1] :] if behind else strip.joints
    voids = tuple(void for void in strip.voids if void[1] > oldest)
    return replace(strip, joints=joints, voids=voids, progress=_living(strip.progress, joints, strip.mounting_id))


def progressions(length_mm: float, pitch_mm: float) -> int:
    """Return the whole progressions that a length [mm] reaches into; a joint's own progression counts as before it."""
    return math.ceil(length_mm / pitch_mm - 1e-9) if length_mm > 0 else 0


def _joined(strip: Strip, mounting_id: str, first: int, lost: int) -> Strip:
    voids = (*strip.voids, (first, first + lost)) if lost else strip.voids
    joints = (*(j for j in strip.joints if j.first < first), Joint(first, mounting_id, 0))
    return replace(strip, on_press=True, parked=False, mounting_id=mounting_id, joints=joints, voids=voids)


def _living(progress: Mapping[str, int], joints: tuple[Joint, ...], mounting_id: str) -> dict[str, int]:
    names = {mounting_id, *(joint.mounting_id for joint in joints)}
    return {name: count for name, count in progress.items() if name in names}


def _by_mounting(strip: Strip, first: int, last: int) -> Iterator[StripStretch]:
    ends = [*(joint.first - 1 for joint in strip.joints[1:]), last]
    for joint, end in zip(strip.joints, ends, strict=True):
        begin, stop = max(first, joint.first), min(end, last)
        if begin <= stop:
            entry = joint.entry + begin - joint.first if joint.first > LONG_AGO else 0
            yield StripStretch(joint.mounting_id, begin, stop - begin + 1, entry)


def _without(voids: tuple[tuple[int, int], ...], stretches: Iterator[StripStretch]) -> Iterator[StripStretch]:
    for stretch in stretches:
        pieces = [stretch]
        for begin, end in voids:
            pieces = [part for piece in pieces for part in _cut_out(piece, begin, end)]
        yield from pieces


def _cut_out(piece: StripStretch, begin: int, end: int) -> Iterator[StripStretch]:
    last = piece.first + piece.count
    for first, stop in ((piece.first, min(last, begin)), (max(piece.first, end), last)):
        if first < stop:
            yield StripStretch(piece.mounting_id, first, stop - first, piece.entry + first - piece.first)
