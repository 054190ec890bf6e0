"""Mountings that had strip in use in a range, and what their strip is."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

import numpy as np
import pandas as pd

from monitor.figures.question import Question
from monitor.figures.strip import mounting_rows as strip
from monitor.figures.strip.mount_facts import mounts_of
from monitor.plant.book import Record
from monitor.plant.records import records


def mountings(question: Question) -> pd.DataFrame:
    """Return the mountings that had strip in use in range, weighed in order of all mountings of their coils."""
    table, names = with_earlier(question)
    return table[table["mounting_id"].isin(names)].reset_index(drop=True)


def with_earlier(question: Question) -> tuple[pd.DataFrame, set[str]]:
    """Return all mountings of the coils that had strip in use in range, weighed in order, and those of the range."""
    first, after = question.scope.dates(question.book.calendar)
    snapshot = question.snapshot
    asked = question.scope
    wanted = snapshot.facts("mounts", from_date=first, to_date=after, press_id=asked.press, die_id=asked.die)
    chain = mounts_of(snapshot, wanted["coil_id"], wanted["mounting_id"])
    # Strip of no known coil is no mounting: what of it went through the die in range is all there is to weigh.
    chain = strip.by_press(pd.concat([chain, wanted[wanted["mounting_id"] == ""]], ignore_index=True))
    table = strip.with_start(described(question, chain))
    chosen = table["mounting_id"].isin(set(strip.by_press(wanted)["mounting_id"]))
    if asked.die is not None:
        chosen &= np.array([isinstance(dies, tuple) and asked.die in dies for dies in table["dies"]], dtype=bool)
    return table, set(table.loc[chosen, "mounting_id"])


def described(question: Question, mounts: pd.DataFrame) -> pd.DataFrame:
    """Return the mountings of mount facts with what their strip is."""
    names = set(mounts["coil_id"])
    book = question.book.of_coils(question.snapshot.lookup("coils", "coil_id", names))
    return strip.with_material(strip.mountings(mounts), book, _reels(question, names))


def _reels(question: Question, names: Iterable[str]) -> dict[str, Record]:
    """Return what reels among some names inherit from the coils wound onto them: what these have in common."""
    reels: dict[str, Record] = {}
    asked = question.snapshot.lookup("reels", "reel_id", set(names))
    mounted = {press_id: _mounted(question, press_id) for press_id in {reel["press_id"] for reel in asked}}
    for reel in asked:
        rows = question.snapshot.lookup("coils", "coil_id", _wound(mounted[reel["press_id"]], reel))
        columns = ("lot", "heat", "supplier", "material", "width_mm", "thickness_mm")
        shared = {column: {row[column] for row in rows} for column in columns}
        reels[reel["reel_id"]] = {name: values.pop() for name, values in shared.items() if len(values) == 1}
    return reels


def _mounted(question: Question, press_id: str) -> tuple[list[int], list[str]]:
    """Return when coils went on a press [us], and which."""
    changes = records(question.snapshot.rows("coil_changes", press_id))
    on = [row for row in changes if row["event"] in ("mount", "splice")]
    return [row["time"] for row in on], [row["coil_id"] for row in on]


def _wound(mounted: tuple[list[int], list[str]], reel: Record) -> set[str]:
    """Return the coils that lay on the press while a reel was wound."""
    times, coils = mounted
    first = max(0, bisect_right(times, reel["started_at"]) - 1)
    after = len(times) if reel["ended_at"] is None else bisect_left(times, reel["ended_at"])
    return set(coils[first:after])
