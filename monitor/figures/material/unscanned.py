"""Where a coil change was not noted: strip used beyond a coil's length, or pieces booked while no strip was known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from monitor.figures.material.mountings import mountings
from monitor.figures.question import question
from monitor.figures.scope import Bound
from monitor.figures.strip.mounting_rows import LENGTH_TOLERANCE, run_out
from monitor.ledger import Snapshot
from monitor.plant.book import Record
from monitor.plant.records import records
from shared.durations import HOUR_US


@dataclass(frozen=True)
class Missing:
    """A coil change that seems not to have been noted.

    Strip ran out between `from_us` and `by_us`, or pieces were booked in that time although no strip was known; what
    ran until `until_us` is of no known coil: so many strokes.  `coil_id` had run out, "" where none lay on the press;
    `booked` names containers and inspections that speak of pieces, with how many.
    """

    press_id: str
    coil_id: str
    from_us: int
    by_us: int
    until_us: int
    strokes: int
    booked: tuple[tuple[str, int], ...] = ()


def missing_scans(
    snapshot: Snapshot, *, from_: Bound = None, to: Bound = None, press: str | None = None
) -> list[Missing]:
    """Return the coil changes in range that seem not to have been noted; RequestError for a range there is not."""
    asked = question(snapshot, from_, to=to, press=press)
    return unscanned(snapshot, mountings(asked), asked.facts("strokes"))


def unscanned(snapshot: Snapshot, mountings: pd.DataFrame, strokes: pd.DataFrame) -> list[Missing]:
    """Return the coil changes that seem to lack, newest first.

    `mountings` as `with_start` gives them; `strokes` are the facts of the range and presses asked for.
    """
    found = [*_overruns(snapshot, mountings), *_bare(snapshot, strokes)]
    return sorted(found, key=lambda one: (-one.from_us, one.press_id))


def _overruns(snapshot: Snapshot, mountings: pd.DataFrame) -> Iterator[Missing]:
    limits = run_out(mountings)
    facts = snapshot.facts("strokes", where=("mounting_id", sorted(limits.index)))
    known = mountings.set_index("mounting_id")
    for name, some in facts[facts["fed"] > 0].groupby("mounting_id"):
        ordered = some.sort_values("from_us")
        limit = int(limits[str(name)])
        around = (limit * (1 - LENGTH_TOLERANCE), limit * (1 + LENGTH_TOLERANCE))
        first, last = (_reached(ordered, fed) for fed in around)
        until, total = int(ordered["to_us"].max()), int(ordered["fed"].sum())
        coil = str(known.loc[str(name), "coil_id"])
        yield Missing(
            str(ordered["press_id"].iloc[0]),
            coil,
            from_us=first,
            by_us=min(last, until),
            until_us=until,
            strokes=total - limit,
        )


def _reached(ordered: pd.DataFrame, fed: float) -> int:
    """Return when so many progressions had been drawn in [us], evenly within a stretch."""
    ends = ordered["fed"].cumsum().to_numpy(np.float64)
    at = min(int(np.searchsorted(ends, fed)), len(ends) - 1)
    row = ordered.iloc[at]
    part = min(1.0, (fed - (ends[at] - row["fed"])) / row["fed"])
    return int(row["from_us"] + part * (row["to_us"] - row["from_us"]))


def _bare(snapshot: Snapshot, strokes: pd.DataFrame) -> Iterator[Missing]:
    bare = strokes[(strokes["strokes"] > 0) & (strokes["fed"] == 0)]
    for press_id, some in bare.groupby("press_id"):
        for begin, end, count in _joined(some):
            booked = tuple(_booked(snapshot, str(press_id), begin, end))
            if booked:
                yield Missing(str(press_id), "", from_us=begin, by_us=end, until_us=end, strokes=count, booked=booked)


def _joined(strokes: pd.DataFrame) -> list[tuple[int, int, int]]:
    """Join stretches that follow one another within an hour: begin and end [us], strokes."""
    spans: list[tuple[int, int, int]] = []
    ordered = strokes.sort_values("from_us")
    for begin, end, count in zip(*(ordered[name].tolist() for name in ("from_us", "to_us", "strokes")), strict=True):
        if spans and begin <= spans[-1][1] + HOUR_US:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end), spans[-1][2] + count)
        else:
            spans.append((begin, end, count))
    return spans


def _booked(snapshot: Snapshot, press_id: str, begin: int, end: int) -> Iterator[tuple[str, int]]:
    """Yield what was booked while a press stroked without strip: containers filled then, rejects counted then."""
    boxes = records(snapshot.rows("containers", press_id, begin, end))
    yield from ((row["container_id"], row["quantity"]) for row in boxes if _is_filled(row, end))
    looks = records(snapshot.rows("inspections", press_id, begin + 1, end + 1))
    for name in dict.fromkeys(row["inspection_id"] for row in looks if row["kind"] == "tub"):
        rejected = sum(row["rejected"] for row in looks if row["inspection_id"] == name)
        if rejected:
            yield name, rejected


def _is_filled(box: Record, end: int) -> bool:
    return bool(box["quantity"]) and box["closed_at"] is not None and box["closed_at"] <= end
