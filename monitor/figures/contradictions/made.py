"""What a press can have made in a span of time at most, as far as anybody can know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from monitor.figures.genealogy.doubts import Doubts
from monitor.ledger import Snapshot
from monitor.plant.book import Book
from monitor.reckoning.pieces.contradictions import EDGE_US
from monitor.reckoning.press.counters import Ints
from shared.durations import DAY_US, HOUR_US
from shared.errors import DamagedPart

#: More pieces than anybody counts.
_ANY = 1 << 62


@dataclass(frozen=True)
class _Day:
    """The stretches of pieces that begin on one day, as arrays of one length."""

    part_no: npt.NDArray[np.object_]
    out: Ints
    pieces: Ints
    from_us: Ints
    to_us: Ints


class PiecesMade:
    """Counts the pieces of presses in spans of time; facts are read a day at a time, and once."""

    def __init__(self, snapshot: Snapshot, book: Book) -> None:
        self._snapshot = snapshot
        self._most_outs = max((row["parts_per_stroke"] for row in book.tables["dies"]), default=1)
        self._days: dict[tuple[str, int], _Day] = {}
        self._read: dict[str, tuple[int, int] | None] = {}
        self._doubts = Doubts(snapshot)

    def is_known(self, press_id: str, from_us: int | None, to_us: int) -> bool:
        """Tell whether readings reach over a span [us], None = from the first reading on."""
        read = self._reach(press_id)
        if read is None or not self.reaches(press_id, to_us):
            return False
        return from_us is None or from_us >= read[0] - EDGE_US

    def reaches(self, press_id: str, us: int) -> bool:
        """Tell whether readings of a press reach up to a moment [us]: what they lack, a later file may bring."""
        read = self._reach(press_id)
        return read is not None and us <= read[1] + EDGE_US

    def since(self, press_id: str) -> int:
        """Return when the readings of a press begin [us]."""
        read = self._reach(press_id)
        return 0 if read is None else read[0]

    def last_count(self, press_id: str, before_us: int) -> int | None:
        """Return when the reject tub of a press was counted last before a moment [us], if it was in a fortnight."""
        looks = self._snapshot.placed_between("inspections", before_us - 14 * DAY_US, before_us, press_id=press_id)
        return max((int(one.row["time"]) for one in looks if one.row["kind"] == "tub"), default=None)

    def at_most(self, press_id: str, from_us: int, to_us: int, part_no: str = "", out: int | None = None) -> int:
        """Return how many pieces of a part and out ("" and None = any) may have been made in a span [us].

        People round times, between two readings nobody knows which strokes came first, and strokes of which no die or
        no strip was noted may have made pieces of any die.
        """
        begin, end = from_us - EDGE_US, to_us + EDGE_US
        pieces = self.pieces(press_id, begin, end, part_no, out)
        try:
            doubt = self._doubts.strokes(press_id, begin) + self._doubts.strokes(press_id, end)
        except DamagedPart:  # A check names it; until it is healed nobody knows.
            return _ANY
        return pieces + self._most_outs * (round(doubt) + self._bare(press_id, begin, end))

    def _bare(self, press_id: str, from_us: int, to_us: int) -> int:
        """Return the strokes in a span [us] that may have been fed although no die or no strip was noted.

        What was not fed under a die with strip before it is known from the count of feeds to have made nothing.
        """
        facts = self._snapshot.facts("strokes", press_id=press_id, made_us=(from_us - HOUR_US, to_us))
        facts = facts[(facts["to_us"] > from_us) & ((facts["die_id"] == "") | (facts["mounting_id"] == ""))]
        idle = facts["strokes"].where(facts["die_id"] == "", facts["strokes"] - facts["fed"])
        rows = zip(idle, facts["from_us"], facts["to_us"], strict=True)
        return sum(min(int(count), self._most_fed(press_id, begin, end)) for count, begin, end in rows if count)

    def _most_fed(self, press_id: str, from_us: int, to_us: int) -> int:
        """Return how many feeds were counted between the readings around a span [us]; any where that is not known."""
        read = self._snapshot.strokes(press_id, from_us - HOUR_US, to_us + HOUR_US)
        times = np.asarray(read.column("time").cast(pa.int64()))
        feeds = read.column("feeds").to_pandas().to_numpy(np.float64)
        first = int(np.searchsorted(times, from_us, side="right")) - 1
        last = int(np.searchsorted(times, to_us, side="left"))
        rises = np.diff(feeds[max(first, 0) : last + 1])
        if first < 0 or last >= len(times) or not (rises >= 0).all():
            return _ANY
        return int(rises.sum())

    def at_least(self, press_id: str, until_us: int, wanted: int, part_no: str = "", out: int | None = None) -> bool:
        """Tell whether so many pieces had been made until a moment [us]; looks back no further than it must."""
        made, end, days = 0, until_us + EDGE_US, 1
        first = self.since(press_id)
        while made < wanted and end > first:
            begin = max(first, end - days * DAY_US)
            made += self.pieces(press_id, begin, end, part_no, out)
            end, days = begin, 2 * days
        return made >= wanted

    def pieces(self, press_id: str, from_us: int, to_us: int, part_no: str = "", out: int | None = None) -> int:
        """Return the pieces made in a span [us], whole stretches in proportion, rounded up."""
        found = 0.0
        # A stretch belongs to the day it begins on, and none is longer than an hour.
        for day in range((from_us - HOUR_US) // DAY_US, to_us // DAY_US + 1):
            made = self._day(press_id, day)
            fits = (made.from_us < to_us) & (made.to_us >= from_us)
            if part_no:
                fits &= (made.part_no == part_no) | (made.part_no == "")
            if out is not None:
                fits &= made.out == out
            begin, end = made.from_us[fits], np.maximum(made.to_us[fits], made.from_us[fits] + 1)
            inside = np.minimum(end, max(to_us, from_us + 1)) - np.maximum(begin, from_us)
            found += float((made.pieces[fits] * np.clip(inside / (end - begin), 0.0, 1.0)).sum())
        return int(np.ceil(found - 1e-6))

    def _day(self, press_id: str, day: int) -> _Day:
        if (press_id, day) not in self._days:
            span = (day * DAY_US, (day + 1) * DAY_US)
            facts = self._snapshot.facts("pieces", press_id=press_id, made_us=span)
            self._days[press_id, day] = _Day(
                part_no=facts["part_no"].to_numpy(object),
                out=facts["out"].to_numpy(np.int64),
                pieces=facts["pieces"].to_numpy(np.int64),
                from_us=facts["from_us"].to_numpy(np.int64),
                to_us=facts["to_us"].to_numpy(np.int64),
            )
        return self._days[press_id, day]

    def _reach(self, press_id: str) -> tuple[int, int] | None:
        if press_id not in self._read:
            self._read[press_id] = self._snapshot.read_between(press_id)
        return self._read[press_id]
