"""Piece facts as stretches in order, with what inspections left good of each."""

from __future__ import annotations

import pandas as pd

from monitor.reckoning.pieces.stretches import MadeStretch

_SAME = ["press_id", "out", "mounting_id", "stroke_from", "from_us"]


def stretches(pieces: pd.DataFrame, rejects: pd.DataFrame) -> list[MadeStretch]:
    """Turn piece facts of one press into stretches in order, with what inspections left good of each."""
    pieces = pieces.sort_values(["stroke_from", "out"], kind="stable")
    taken = rejects.assign(lost=rejects["rejected"] + rejects["reworked"])
    sums = taken.groupby(_SAME, sort=False)[["lost", "released"]].sum()
    lost = dict(zip(sums.index, zip(sums["lost"].tolist(), sums["released"].tolist(), strict=True), strict=True))
    names = ("press_id", "die_id", "part_no", "out", "mounting_id", "pieces", "setup", "entry_from", "from_us", "to_us")
    columns = [pieces[name].tolist() for name in (*names, "stroke_from")]
    found = []
    for press, die, part, out, mounting, count, setup, entry, begin, end, stroke in zip(*columns, strict=True):
        gone, released = lost.get((press, out, mounting, stroke, begin), (0, 0))
        # Setting pieces are scrap as a whole; rejects found among them are not taken off a second time.
        good = released if setup else count + released - gone
        found.append(
            MadeStretch(
                press,
                die,
                part_no=part,
                out=out,
                mounting_id=mounting,
                pieces=count,
                good=good,
                entry=entry,
                from_us=begin,
                to_us=end,
                rejected=0 if setup else gone,
            )
        )
    return found
