"""Inspections, looks at the same pieces again, and decisions; what they leave rejected (reckoning, section 5)."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from sample_runs.simulate.logger import LoggedReadings
from tests.invented.checks import CAUSES, SAME, alike
from tests.invented.jobs import Dice

Row = dict[str, object]
#: Steps in a chain of looks at the same pieces, after the first.
MOST_STEPS = 3
#: More than is made within the minutes by which the times of an inspection may be off.
BEYOND = 5000
#: More than all looks at the same pieces can have rejected together.
MORE = 100


@dataclass
class Look:
    """Pieces that were looked at, agreeing in shift, hour, die, part and coil, and what came of it.

    Rejected are from `low` to `high`; `causes` tells how many of each cause, None where nobody can know.
    """

    press_id: str
    part_no: str
    place: dict[str, object]
    pieces: int
    low: int = 0
    high: int = 0
    reworked: int = 0
    causes: Counter[str] | None = field(default_factory=Counter)


@dataclass
class _Last:
    """The look that the next one refers to."""

    row: Row
    size: int
    causes: Counter[str]
    sort: bool
    #: Whether the pieces had been sorted before, so that what a sample of them finds may have been found already.
    held: bool = False

    @property
    def rejected(self) -> int:
        return self.causes.total()


@dataclass
class Desk:
    """Rows of `inspections` and `dispositions` (times in seconds since 1970 UTC), and what they come to."""

    dice: Dice
    inspections: list[Row] = field(default_factory=list)
    dispositions: list[Row] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    contradictions: list[tuple[str, str]] = field(default_factory=list)
    left_open: list[Look] = field(default_factory=list)

    def look_at(self, press_id: str, pieces: pd.DataFrame, readings: LoggedReadings, dry: np.ndarray) -> None:
        """Inspect some of the pieces of a press; `dry` are the seconds of strokes without strip."""
        times = readings.time_s[~readings.glitch]
        for part_no, made in pieces.groupby("part_no", sort=True):
            for from_s, to_s in alike(made, times):
                if self.dice.chance(0.35):
                    inside = made[(made["second"] > from_s) & (made["second"] <= to_s)]
                    place = {name: inside[name].iloc[0] for name in SAME}
                    look = Look(press_id, str(part_no), place, len(inside))
                    # Where strokes made no pieces for want of a note, nobody knows how many pieces there were.
                    known = not ((dry > from_s - 3600) & (dry <= to_s)).any()
                    self._chain(look, (from_s, to_s), known)

    def _chain(self, look: Look, window: tuple[int, int], known: bool) -> None:
        """One inspection, then looks at what it looked at."""
        dice = self.dice
        causes = CAUSES[:1] if dice.chance(0.5) else CAUSES
        sort = dice.chance(0.6)
        size = look.pieces if sort else int(dice.rng.integers(1, min(look.pieces, 20) + 1))
        found = self._bad(causes, min(size, 12))
        row: Row = {
            "inspection_id": self._name(),
            "time": window[1] + dice.ticks(5, 3600),
            "press_id": look.press_id,
            "kind": "full" if sort else "sample",
            "inspected": size,
            "part_no": look.part_no,
            "made_from": window[0],
            "made_to": window[1],
        }
        if known and dice.chance(0.06):
            self._impossible(look, row, sort)
            return
        self._write(row, found)
        look.low = look.high = found.total()
        look.causes = Counter(found)
        last = _Last(row, size, found, sort)
        for _ in range(int(dice.rng.integers(0, MOST_STEPS + 1))):
            if look.low != look.high:
                break
            last = self._again(look, last, causes)
        self._decide(look, last)
        self.looks.append(look)

    def _impossible(self, look: Look, row: Row, sort: bool) -> None:
        """A look at more pieces than were made, or one that rejects more."""
        self.dice.happened.add("a look at more than was made")
        row["inspected"] = look.pieces + BEYOND
        rejected = look.pieces + BEYOND - 1 if sort else 1
        self._write(row, Counter({CAUSES[0]: rejected}))
        code = "more_rejected_than_made" if sort else "sample_larger_than_made"
        self.contradictions.append((code, str(row["inspection_id"])))
        self.left_open.append(look)

    def _again(self, look: Look, last: _Last, causes: tuple[str, ...]) -> _Last:
        """A look at all, the passed or the rejected of the last one."""
        dice = self.dice
        scope = dice.one_of(("all", "", "passed", "rejected"))
        there = {"passed": last.size - last.rejected, "rejected": last.rejected}.get(scope, last.size)
        if not there:
            return last
        whole = dice.chance(0.5)
        if last.row["kind"] == "sample" and "rechecks" not in last.row and scope in ("", "all") and dice.chance(0.5):
            return self._sort_all(look, last, scope, causes)
        size = there if whole else int(dice.rng.integers(1, there + 1))
        whole = size == there
        # Of those found bad before, no cause turns into another: a burr does not become a scratch.
        limits = Counter(last.causes) if scope == "rejected" else None
        found = self._bad(causes, min(size, 8), limits)
        self._count(look, last, scope, size, found)
        sort = whole and (last.sort or scope == "rejected")
        return self._recheck(last, scope, size, found, sort)

    def _sort_all(self, look: Look, last: _Last, scope: str, causes: tuple[str, ...]) -> _Last:
        """After a sample, a sort of everything it stood for."""
        found = self._bad(causes, min(look.pieces, 12))
        look.low = look.high = found.total()
        look.causes = Counter(found)
        self.dice.happened.add("a sort after a sample")
        return self._recheck(last, scope, look.pieces, found, True)

    def _recheck(self, last: _Last, scope: str, size: int, found: Counter[str], sort: bool) -> _Last:
        """Write a look again, with or without what it was about."""
        names = ("press_id", "part_no", *(("made_from", "made_to") if self.dice.chance(0.5) else ()))
        row = {name: last.row[name] for name in names if name in last.row} | {
            "inspection_id": self._name(),
            "time": int(str(last.row["time"])) + self.dice.ticks(600, 7200),
            "kind": "full" if sort else "sample",
            "inspected": size,
            "rechecks": last.row["inspection_id"],
            "scope": scope,
        }
        self.dice.happened.add(f"a recheck of {scope or 'what was looked at'}")
        self._write(row, found)
        held = not sort and (last.held if scope == "passed" else scope != "rejected" and (last.sort or last.held))
        return _Last(row, size, found, sort, held)

    def _count(self, look: Look, last: _Last, scope: str, size: int, found: Counter[str]) -> None:
        """What a look again leaves rejected."""
        new, bad = found.total(), last.rejected
        whole = size == {"rejected": bad}.get(scope, last.size)
        gone: Counter[str] | None
        if last.held and scope != "rejected":
            # Of a set of all it may have been the bad ones that were looked at again, and were good.
            look.low = max(0, look.low - (0 if scope == "passed" else min(size, bad)))
            look.high += new
            gone = None
        elif scope == "passed":
            look.low, look.high = look.low + new, look.high + new
            gone = Counter()
        elif scope == "rejected":
            look.low, look.high = look.low - size + new, look.high - size + new
            one = len(last.causes) == 1
            gone = last.causes if whole else Counter(dict.fromkeys(last.causes, size)) if one else None
        elif whole:
            look.low, look.high = look.low - bad + new, look.high - bad + new
            gone = last.causes
        else:
            # Which of them were looked at nobody knows; what a sample finds never overrules a sort.
            freed = 0 if last.sort else min(size, bad)
            look.low, look.high = max(look.low - freed + (0 if last.sort else new), 0), look.high + new
            gone = None
        if look.causes is not None:
            if gone is None:
                look.causes = None
            else:
                look.causes.subtract(gone)
                look.causes.update(found)

    def _decide(self, look: Look, last: _Last) -> None:
        """Some of what the last look rejected is mended, or was good after all."""
        dice = self.dice
        for cause, bad in sorted(last.causes.items()):
            if look.low != look.high or not dice.chance(0.3):
                continue
            if dice.chance(0.1):
                dice.happened.add("more decided than rejected")
                self._disposition(last, cause, "rework", bad + MORE)
                self.contradictions.append(("more_decided_than_rejected", str(last.row["inspection_id"])))
                look.low, look.causes = 0, None
                self.left_open.append(look)
                return
            mended = int(dice.rng.integers(0, bad + 1))
            good = int(dice.rng.integers(0, bad - mended + 1))
            self._disposition(last, cause, "rework", mended)
            self._disposition(last, cause, "found_good", good)
            look.low, look.high = look.low - mended - good, look.high - mended - good
            look.reworked += mended
            look.causes = None

    def _disposition(self, last: _Last, cause: str, outcome: str, pieces: int) -> None:
        if pieces:
            self.dispositions.append(
                {
                    "disposition_id": f"X-{len(self.dispositions) + 1}",
                    "inspection_id": last.row["inspection_id"],
                    "cause": cause,
                    "time": int(str(last.row["time"])) + 3600,
                    "outcome": outcome,
                    "pieces": pieces,
                }
            )

    def _bad(self, causes: tuple[str, ...], most: int, limits: Counter[str] | None = None) -> Counter[str]:
        """How many are found bad, by cause."""
        left, found = int(self.dice.rng.integers(0, most + 1)), Counter[str]()
        for cause in causes:
            room = left if limits is None else min(left, limits[cause])
            here = int(self.dice.rng.integers(0, room + 1)) if len(causes) > 1 else room
            if here:
                found[cause] = here
                left -= here
        return found

    def _write(self, row: Row, found: Counter[str]) -> None:
        for cause, rejected in sorted(found.items()):
            self.inspections.append({**row, "cause": cause, "rejected": rejected})
        if not found:
            self.inspections.append({**row, "cause": "", "rejected": 0})

    def _name(self) -> str:
        return f"I-{len({row['inspection_id'] for row in self.inspections}) + 1}"


def good_after(look: Look) -> tuple[int, int]:
    """Least and most that are still good of the pieces of a look."""
    return look.pieces - look.high - look.reworked, look.pieces - look.low - look.reworked
