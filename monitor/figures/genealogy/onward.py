"""Strip that went on to another die: what was finished of it there, by the mounting of the coil it was of.

Strip wound onto a reel is no finished part yet.  Its weight stands once, with the coil: as good, rejected or setting
pieces of the last die, traced back through the reels by place on the strip, and as unfinished where it has not come
through that die.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.genealogy.reader import GenealogyReader
from monitor.figures.routes import earlier_steps
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.reckoning.pieces.genealogy import DEEPEST, Descent
from monitor.reckoning.pieces.stretches import MadeStretch
from monitor.reckoning.press.split import largest_remainder
from shared.durations import FOREVER_US

Flags = npt.NDArray[np.bool_]


FATES = ("pieces", "setup_pieces", "rejected", "reworked")
_COLUMNS = ("mounting_id", "part_no", "shift_date", *FATES)
_SAME = ["press_id", "out", "mounting_id", "stroke_from", "from_us"]


@dataclass(frozen=True)
class Onward:
    """Strip that went on to another die, so that its weight is counted once, with the coil.

    `goes_on` tells of each piece fact whether it was wound up for another die; `finished` is what the last die made of
    it, a row for each mounting of a coil, part and shift date: pieces, setup_pieces, rejected, reworked; `reels` are
    the mountings of reels that these pieces came from.
    """

    goes_on: Flags
    finished: pd.DataFrame
    reels: frozenset[str]


def onward(snapshot: Snapshot, book: Book, table: pd.DataFrame, pieces: pd.DataFrame) -> Onward | None:
    """Return what became at later dies of the strip of some mountings (with coil_id) and of their piece facts.

    None where no strip goes on, which is so in a plant without reels and without parts of several steps.
    """
    reels = _Reels(records(snapshot.rows("reels")), book)
    goes_on = reels.wound(pieces)
    mine = set(table.loc[table["coil_id"].isin(list(reels.names)), "mounting_id"])
    if not goes_on.any() and not mine:
        return None
    later = _at_later_dies(snapshot, reels, pieces[goes_on], mine)
    traced, known = _traced(snapshot, book, later)
    return Onward(goes_on, traced, known | (mine & set(pieces.loc[goes_on, "mounting_id"])))


class _Reels:
    """The reels of a plant, and which pieces were wound onto them or have further steps of their route before them."""

    def __init__(self, rows: Sequence[Record], book: Book) -> None:
        self._rows = [{**row, "ended_at": row["ended_at"] or FOREVER_US} for row in rows]
        self._book = book
        self.names = {str(row["reel_id"]) for row in rows}

    def wound(self, pieces: pd.DataFrame) -> Flags:
        """Tell for each piece fact whether the strip goes on to another die."""
        keys = zip(pieces["shift_date"], pieces["part_no"], pieces["die_id"], strict=True)
        before = {day: earlier_steps(self._book, str(day)) for day in pieces["shift_date"].unique()}
        is_step = np.array([(part, die) in before[day] for day, part, die in keys], dtype=bool)
        onto = np.zeros(len(pieces), dtype=bool)
        for press_id, rows in pieces.groupby("press_id").indices.items():
            onto[rows] = self._on_one(str(press_id), pieces.iloc[rows])
        return is_step | onto

    def _on_one(self, press_id: str, pieces: pd.DataFrame) -> Flags:
        spans = sorted((row["started_at"], row["ended_at"]) for row in self._of_press(press_id))
        if not spans:
            return np.zeros(len(pieces), dtype=bool)
        starts = np.array([begin for begin, _ in spans], dtype=np.int64)
        ends = np.maximum.accumulate(np.array([end for _, end in spans], dtype=np.int64))
        at = np.searchsorted(starts, pieces["from_us"].to_numpy(np.int64), side="right") - 1
        inside: Flags = (at >= 0) & (pieces["to_us"].to_numpy(np.int64) <= ends[np.maximum(at, 0)])
        return inside

    def _of_press(self, press_id: str) -> list[Record]:
        return [row for row in self._rows if row["press_id"] == press_id and not row["from_reel"]]

    def of(self, pieces: pd.DataFrame) -> set[str]:
        """Return the reels that pieces were wound onto, with those cut from them."""
        found = set()
        for press_id, some in pieces.groupby("press_id"):
            begin, end = some["from_us"].min(), some["to_us"].max()
            rows = self._of_press(str(press_id))
            found |= {row["reel_id"] for row in rows if row["started_at"] < end and row["ended_at"] > begin}
        for _ in range(DEEPEST):
            found |= {row["reel_id"] for row in self._rows if row["from_reel"] in found}
        return found


def _at_later_dies(snapshot: Snapshot, reels: _Reels, pieces: pd.DataFrame, mine: set[str]) -> pd.DataFrame:
    """Return the facts of the pieces that the last die made of the strip of some, and of some mountings of reels."""
    found, seen, names = [pieces[:0]], set[str](), set(mine)
    for _ in range(DEEPEST):
        mounts = snapshot.facts("mounts", where=("coil_id", reels.of(pieces)))
        names = (names | set(mounts["mounting_id"])) - seen - {""}
        if not names:
            break
        seen |= names
        made = snapshot.facts("pieces", where=("mounting_id", names))
        goes_on = reels.wound(made)
        found.append(made[~goes_on])
        pieces, names = made[goes_on], set()
    return pd.concat(found, ignore_index=True)


def _traced(snapshot: Snapshot, book: Book, pieces: pd.DataFrame) -> tuple[pd.DataFrame, frozenset[str]]:
    """Return what became of the strip of each mounting of a coil, and the mountings of reels that were traced."""
    mountings, reels, strip = GenealogyReader(snapshot, book, sure=False).strip(set(pieces["mounting_id"]))
    # A coil may have been mounted several times: what is sought is which mounting, so it goes by that name.
    by_mounting = {
        name: mounting if mounting.coil_id in reels else replace(mounting, coil_id=name)
        for name, mounting in mountings.items()
    }
    descent = Descent(by_mounting, reels, strip)
    rejects = snapshot.facts("rejects", where=("mounting_id", set(pieces["mounting_id"])))
    rows, known = list[tuple[object, ...]](), set[str]()
    for made, day, fates in _fates(pieces, rejects):
        runs = descent.runs(made)
        for (origin, count), shares in zip(runs, _shared(fates, [count for _, count in runs]), strict=True):
            if origin.reels and origin.is_sure:
                known.add(made.mounting_id)
                rows.append((origin.coils[0], made.part_no, day, count, *shares))
    table = pd.DataFrame(rows, columns=list(_COLUMNS)).astype(dict.fromkeys(FATES, "int64"))
    return table, frozenset(known)


def _fates(pieces: pd.DataFrame, rejects: pd.DataFrame) -> Iterable[tuple[MadeStretch, str, tuple[int, int, int]]]:
    """Yield stretches of pieces with their shift date, and how many were setting pieces, rejected and reworked."""
    running = 1 - rejects["setup"]
    told = rejects.assign(rejected=rejects["rejected"] * running, reworked=rejects["reworked"] * running)
    summed = told.groupby(_SAME)[["released", "rejected", "reworked"]].sum()
    sums = dict(zip(summed.index, summed.to_numpy().tolist(), strict=True))
    names = ("press_id", "die_id", "part_no", "out", "mounting_id", "pieces", "entry_from", "from_us", "to_us")
    for row in pieces.to_dict("records"):
        press, die, part, out, mounting, count, entry, begin, end = (row[name] for name in names)
        released, rejected, reworked = sums.get((press, out, mounting, row["stroke_from"], begin), (0, 0, 0))
        setup = (count if row["setup"] else 0) - released
        made = MadeStretch(
            press,
            die,
            part_no=part,
            out=out,
            mounting_id=mounting,
            pieces=count,
            good=count,
            entry=entry,
            from_us=begin,
            to_us=end,
        )
        yield made, row["shift_date"], (setup, rejected, reworked)


def _shared(fates: Sequence[int], counts: Sequence[int]) -> list[tuple[int, ...]]:
    """Share fates over runs of pieces in whole numbers; no piece has two, as far as there are pieces."""
    room = np.array(counts, dtype=np.int64)
    shares = []
    for fate in fates:
        share = largest_remainder(max(0, fate), room)
        room = np.maximum(room - share, 0)
        shares.append(share.tolist())
    return list(zip(*shares, strict=True))
