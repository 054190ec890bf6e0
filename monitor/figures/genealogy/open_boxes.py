"""Containers, and reels, that stood open while pieces were made."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import pandas as pd

from monitor.figures.genealogy.reader import STANDS_OPEN_US
from monitor.ledger import Snapshot
from monitor.plant.book import Record
from shared.durations import FOREVER_US, HOUR_US


def made_by(snapshot: Snapshot, scope: str, value: str, span: tuple[int | None, int | None]) -> dict[str, Record]:
    """Return the containers open while a die (scope `die`) or a press (`range`) made pieces in a span [us]."""
    die_id, press_id = (value, None) if scope == "die" else (None, value)
    begin, end = span[0] or 0, span[1] or FOREVER_US
    pieces = snapshot.facts("pieces", press_id=press_id, die_id=die_id, made_us=(begin - HOUR_US, end))
    pieces = pieces[pieces["to_us"] > begin]
    found: dict[str, Record] = {}
    for (press, part_no), some in pieces.groupby(["press_id", "part_no"]):
        spans = [(max(first, begin), min(last, end)) for first, last in _spans(some)]
        boxes = _standing(snapshot, "containers", str(press), spans)
        found |= {row["container_id"]: row for row in boxes if row["part_no"] == part_no}
    return found


def filled_from(snapshot: Snapshot, coils: Collection[str]) -> dict[str, Record]:
    """Return the containers that stood open while pieces of coils, or of reels, were made."""
    return followed(snapshot, coils)[0]


def followed(snapshot: Snapshot, coils: Collection[str]) -> tuple[dict[str, Record], set[str]]:
    """Return the containers open while pieces of coils, or of reels wound from them, were made, and those reels too."""
    found: dict[str, Record] = {}
    seen: set[str] = set()
    names = set(coils)
    while names:
        seen |= names
        mounts = snapshot.facts("mounts", where=("coil_id", names))
        pieces = snapshot.facts("pieces", where=("mounting_id", set(mounts["mounting_id"])))
        reels: set[str] = set()
        for (press_id, part_no), some in pieces.groupby(["press_id", "part_no"]):
            spans = _spans(some)
            boxes = _standing(snapshot, "containers", str(press_id), spans)
            found |= {row["container_id"]: row for row in boxes if row["part_no"] == part_no}
            reels |= {row["reel_id"] for row in _standing(snapshot, "reels", str(press_id), spans)}
        names = _with_cut(snapshot, reels | names) - seen
    return found, seen


def _with_cut(snapshot: Snapshot, reels: set[str]) -> set[str]:
    """Return reels with those cut from them, and from those."""
    found, names = set(reels), set(reels)
    while names:
        names = {row["reel_id"] for row in snapshot.lookup("reels", "from_reel", names)} - found
        found |= names
    return found


def _spans(pieces: pd.DataFrame) -> list[tuple[int, int]]:
    """Join stretches that follow one another within an hour."""
    ordered = pieces.sort_values("from_us")
    spans: list[tuple[int, int]] = []
    for begin, end in zip(ordered["from_us"].tolist(), ordered["to_us"].tolist(), strict=True):
        if spans and begin <= spans[-1][1] + HOUR_US:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((begin, end))
    return spans


_UNTIL = {"containers": ("opened_at", "closed_at"), "reels": ("started_at", "ended_at")}


def _standing(snapshot: Snapshot, table: str, press_id: str, spans: Sequence[tuple[int, int]]) -> list[Record]:
    """Return containers or reels of a press that stood open in one of some spans [us]."""
    if not spans:
        return []
    opened, closed = _UNTIL[table]
    rows = snapshot.spanning(
        table, press_id, end=closed, from_us=spans[0][0], to_us=spans[-1][1], open_us=STANDS_OPEN_US
    )
    lived = [(row, row[opened], row[closed] or row[opened] + STANDS_OPEN_US) for row in rows]
    return [row for row, begin, end in lived if any(begin < last and end > first for first, last in spans)]
