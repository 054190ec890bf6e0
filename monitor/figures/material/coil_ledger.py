"""The `coil_ledger` table: received, used, returned and left of each coil, and differences that nothing explains.

Received = good + skeleton + unfinished + setting + rejected + left + difference, over all mountings of the coil.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from monitor.figures.bounds import typed
from monitor.figures.columns import columns
from monitor.figures.material.coils import weighed
from monitor.figures.material.mountings import with_earlier
from monitor.figures.question import Question
from monitor.figures.scope import Scope
from monitor.figures.strip.coil_place import state, used_up
from monitor.figures.strip.mount_facts import mounts_of
from monitor.figures.strip.mounting_rows import (
    MM_PER_M,
    metre_kg,
    mountings,
    received_on,
    with_material,
    with_start,
)
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record, plant_of
from monitor.plant.carries import presses_of_coils
from monitor.reckoning.pieces.difference import CoilAccount, judge
from shared.fields import count, number, text
from shared.figures import ClosingSum, Figure

FIGURE = Figure(
    "coil_ledger",
    row_per="coil, over all its mountings",
    columns=columns(
        "coil_id lot heat supplier material",
        text("state", "where the coil is", ("on press", "in store", "used up")),
        text("press_id", "press that it is on, or else those that it was on", listed=True),
        text("die_id", "dies that it ran in", listed=True),
        count("mountings", "", "how often it was on a press"),
        "mounted_at removed_at",
        number("received_kg", "kg", "weight on receipt", 0),
        "used_m used_kg pieces rejected good good_kg skeleton_kg unfinished_kg setup_kg rejected_kg",
        number("left_kg", "kg", "weighed when it last came off, else reckoned", 0),
        number("left_m", "m", "strip left", 0),
        "overrun_m difference_kg",
        number("explained_kg", "kg", "difference that weighing, thickness, width and counting explain", 0),
        text("finding", "what is to be said of the difference", ("explained", "not explained", "not weighed")),
        text("likeliest", "the one wrong input most likely", ("width_mm", "thickness_mm", "pitch_mm", "count")),
        number("chance", "1", "chance that it is this input, if it is one alone", 0, 1),
        number("entered", "", "what was entered for it: mm, or strokes counted"),
        number("needed", "", "what would mend the difference"),
        number("needed_low", "", "lower end of that, as far as the scales tell"),
        number("needed_high", "", "upper end of that, as far as the scales tell"),
        "coil_yield",
    ),
    closes=(
        ClosingSum(
            "received_kg",
            ("good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg", "left_kg", "difference_kg"),
        ),
    ),
)

EXPLAINED, UNEXPLAINED, UNWEIGHED = "explained", "not explained", "not weighed"

#: Parts of one by which width and thickness of a coil may differ from what was entered; common practice, no source.
THICKNESS_TOLERANCE = 0.02
WIDTH_TOLERANCE = 0.005

#: Smallest step of the scale [kg]; common practice, no source.
INTERVAL_KG = 1.0

_KG = ("good_kg", "skeleton_kg", "unfinished_kg", "setup_kg", "rejected_kg")
_SUMS = ("used_m", "used_kg", "overrun_m", "pieces", "rejected", "good", *_KG)
_BY_COIL = ["lot", "heat", "supplier", "material"]
_JUDGED = ("finding", "explained_kg", "likeliest", "chance", "entered", "needed", "needed_low", "needed_high")


def coil_ledger(question: Question) -> pd.DataFrame:
    """Return the coils used in range with all their mountings; without range and filters those never used too."""
    table, names = with_earlier(question)
    used = set(table.loc[table["mounting_id"].isin(names), "coil_id"])
    table = table[table["coil_id"].isin(used)].reset_index(drop=True)
    asked = question.scope
    if all(value is None for value in (asked.from_us, asked.to_us, asked.press, asked.die, asked.part)):
        return _accounts(question, table, set(question.book.coils) - used)
    book = question.book.of_coils(question.snapshot.lookup("coils", "coil_id", used))
    return _accounts(replace(question, book=book), table, set())


def _accounts(question: Question, table: pd.DataFrame, idle: set[str]) -> pd.DataFrame:
    """Return the accounts of the coils of some mountings, and of those that were never mounted."""
    rows = [row for row in question.book.tables["coils"] if row["coil_id"] in idle]
    lying = presses_of_coils(question.snapshot)
    return ledger_rows(
        table, weighed(question, table), book=question.book, on=lying, idle=rows, today=question.last_day
    )


def unspent_coils(snapshot: Snapshot) -> pd.DataFrame:
    """Return the `coil_ledger` rows of the coils that are not used up, whenever they were used last, if ever."""
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    wanted = unspent(snapshot.strip_used(), book)
    question = Question(snapshot, book.of_coils(snapshot.lookup("coils", "coil_id", wanted)), Scope())
    chain = mounts_of(snapshot, wanted)
    table = with_start(with_material(mountings(chain), question.book, {}))
    return typed(FIGURE, _accounts(question, table, wanted - set(table["coil_id"])))


def ledger_rows(
    mountings: pd.DataFrame,
    coils: pd.DataFrame,
    book: Book,
    on: Mapping[str, str],
    idle: Iterable[Record] = (),
    today: dt.date = dt.date.min,
) -> pd.DataFrame:
    """Return a row for each coil of the plant book in `mountings` (see `with_start`), and for each that is `idle`.

    `coils` is the `coils` table of the same mountings, `on` the press that a coil lies on now; idle coils were never
    mounted: what a metre weighs is that of the day they came in, or of `today` where that is not known.
    """
    known = book.coils
    sums = _sums(coils[coils["coil_id"].isin(list(known))])
    ends = _ends(mountings)
    wanted = _Wanted(book)
    found = [_row(known[coil], row, ends[coil], on.get(coil, ""), wanted) for coil, row in sums.items()]
    metres = ((row, metre_kg(row, book, received_on(book, row, today))) for row in idle)
    found += [_in_store(row, on.get(row["coil_id"], ""), kg) for row, kg in metres]
    return pd.DataFrame(found)


def unspent(used: pd.DataFrame, book: Book) -> set[str]:
    """Return the coils that are not used up, those never mounted too.

    `used` is what all mountings used (see `strip_used` of the ledger), `book` holds all coils.
    """
    coils = pd.DataFrame(book.tables["coils"], columns=["coil_id", "weight_kg"]).set_index("coil_id")
    spent_kg = _spent_kg(used, book).reindex(coils.index)
    # A weight that is not known makes what is left of it not known; a coil never mounted is whole.
    spent_kg = spent_kg.where(coils.index.isin(used["coil_id"]), 0.0)
    mine = used.groupby("coil_id")
    ends = used[used["end_weighed_kg"].notna()].sort_values("end_weighed_us").drop_duplicates("coil_id", keep="last")
    ends = ends.set_index("coil_id").reindex(coils.index)
    # What was weighed at the last end stands, unless the coil went on a press again.
    stands = ends["end_weighed_us"] >= mine["mounted_us"].max().reindex(coils.index).fillna(-1)
    left = ends["end_weighed_kg"].where(stands, coils["weight_kg"] - spent_kg)
    return set(coils.index[~used_up(left, coils["weight_kg"])])


def _spent_kg(used: pd.DataFrame, book: Book) -> pd.Series[float]:
    """Return what was used of each coil [kg], each mounting by the density of the day it began."""
    known = used[used["coil_id"].isin(list(book.coils)) & used["mounted_us"].notna()]
    pairs = zip(known["coil_id"], known["mounted_us"], strict=True)
    metre = [metre_kg(book.coils[coil], book, book.day_of(int(us))) for coil, us in pairs]
    used_kg: pd.Series[float] = known["used_mm"] / MM_PER_M * np.array(metre, dtype=float)
    return used_kg.groupby(known["coil_id"]).sum(min_count=1)


def _sums(coils: pd.DataFrame) -> dict[str, dict[str, object]]:
    grouped = coils.groupby("coil_id", sort=False)
    sums = grouped[list(_SUMS)].sum(min_count=1)
    for name, emptied in (("good", ["good", "good_kg"]), ("setup_pieces", ["setup_kg"])):
        # Pieces that are not known of one mounting are not known of the coil.
        sums.loc[coils[name].isna().groupby(coils["coil_id"], sort=False).any(), emptied] = pd.NA
    waits = coils["coil_yield"].isna() & coils["good_kg"].notna() & (coils["used_kg"] > 0)
    sums["waits"] = waits.groupby(coils["coil_id"], sort=False).any()
    sums["strokes"] = grouped["strokes"].sum()
    sums["mountings"] = grouped.size()
    sums["mounted_at"] = grouped["mounted_at"].first(skipna=False)
    # A coil that is on a press now was not removed, whenever it came off before.
    sums["removed_at"] = grouped["removed_at"].last(skipna=False)
    sums["press_id"] = grouped["press_id"].agg(_each_once)
    sums["dies"] = sums["die_id"] = grouped["dies"].agg(_all_of)
    return {str(coil): row for coil, row in zip(sums.index, sums.to_dict("records"), strict=True)}  # type: ignore[misc]


def _each_once(names: pd.Series[Any]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _all_of(dies: pd.Series[Any]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(die for some in dies if isinstance(some, tuple) for die in some if die))


def _ends(mountings: pd.DataFrame) -> dict[str, dict[str, object]]:
    """Return what each coil began with, what is left of it, and whether that was weighed."""
    ends = mountings.groupby("coil_id").agg(
        start_kg=("start_kg", "first"),
        left_kg=("remaining_kg", "last"),
        last=("mounting_id", "last"),
        metre_kg=("kg_per_m", "last"),
        mounted_us=("mounted_us", "last"),
    )
    weighed = mountings.set_index("mounting_id")["end_weighed_kg"].notna()
    ends["weighed"] = ends["last"].map(weighed)
    return {str(coil): row for coil, row in zip(ends.index, ends.to_dict("records"), strict=True)}  # type: ignore[misc]


class _Wanted:
    """What width and thickness the dies and parts of the plant book want on a plant day [mm]."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._held: dict[dt.date, tuple[dict[str, Any], dict[str, Any]]] = {}

    def _on(self, day: dt.date) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return width and thickness by die."""
        if day not in self._held:
            held = self._book.as_of(day).tables
            thickness = {row["part_no"]: row["thickness_mm"] for row in held["parts"]}
            made = {row["die_id"]: thickness.get(row["part_no"]) for row in (*held["routes"], *held["outs"])}
            self._held[day] = {row["die_id"]: row["strip_width_mm"] for row in held["dies"]}, made
        return self._held[day]

    def of(self, dies: Iterable[str], mounted_us: object) -> dict[str, float]:
        """Return what the dies of a coil wanted on the day it was mounted, where they agree."""
        found = {}
        day = dt.date.min if pd.isna(mounted_us) else self._book.day_of(int(mounted_us))  # type: ignore[call-overload]
        for name, wants in zip(("width_mm", "thickness_mm"), self._on(day), strict=True):
            values = {wants.get(die) for die in dies} - {None}
            if len(values) == 1:
                found[name] = float(values.pop() or 0)
        return found


def _row(
    coil: Record,
    sums: dict[str, object],
    end: dict[str, object],
    press_id: str,
    wanted: _Wanted,
) -> dict[str, object]:
    received = coil["weight_kg"] if coil["weight_kg"] is not None else float(end["start_kg"])  # type: ignore[arg-type]
    left = float(end["left_kg"])  # type: ignore[arg-type]
    metre_kg = float(end["metre_kg"])  # type: ignore[arg-type]
    row = {**_about(coil), **sums, "received_kg": received, "left_kg": left, "left_m": left / metre_kg}
    row["state"] = state(left, received, press_id)
    row["press_id"] = (press_id,) if press_id else sums["press_id"]
    row["difference_kg"] = float(received) - float(sums["used_kg"]) - left  # type: ignore[arg-type]
    row["coil_yield"] = _yield(sums)
    expected = wanted.of(sums["dies"], end["mounted_us"])  # type: ignore[arg-type]
    return row | _judged(coil, row, metre_kg, expected if end["weighed"] else None)


def _about(coil: Record) -> dict[str, object]:
    return {"coil_id": coil["coil_id"], **{name: coil[name] or "" for name in _BY_COIL}}


def _yield(sums: Mapping[str, object]) -> float:
    good, used = float(sums["good_kg"]), float(sums["used_kg"])  # type: ignore[arg-type]
    return good / used if used > 0 and not sums["waits"] else np.nan


def _in_store(coil: Record, press_id: str, metre_kg: float) -> dict[str, object]:
    """Return the row of a coil of which nothing was used; `metre_kg` is what a metre weighs [kg]."""
    nothing = dict.fromkeys(("mountings", "pieces", "rejected", "good", "used_m", "used_kg", "overrun_m", *_KG), 0)
    kg = np.nan if coil["weight_kg"] is None else coil["weight_kg"]
    where = {"state": state(kg, kg, press_id), "press_id": (press_id,) if press_id else (), "die_id": ()}
    metres = float(kg) / metre_kg
    left = {"received_kg": kg, "left_kg": kg, "left_m": metres, "difference_kg": 0.0}
    return {**_about(coil), **nothing, **where, **left, "finding": UNWEIGHED, "likeliest": ""}


def _judged(
    coil: Record, row: Mapping[str, object], metre_kg: float, expected: Mapping[str, float] | None
) -> dict[str, object]:
    """Return whether weighing and counting explain the difference, and else what would; None = it was not weighed."""
    account = None if expected is None else _account(coil, row, metre_kg, expected)
    found = judge(account) if account else None
    if account is None or found is None:
        return {"finding": UNWEIGHED, "likeliest": ""}
    entered = getattr(account, found.likeliest) if found.likeliest else np.nan
    finding = UNEXPLAINED if found.flagged else EXPLAINED
    told = (finding, found.explained_kg, found.likeliest, found.chance, entered, found.value, found.low, found.high)
    return dict(zip(_JUDGED, told, strict=True))


def _account(
    coil: Record, row: Mapping[str, object], metre_kg: float, expected: Mapping[str, float]
) -> CoilAccount | None:
    """Return what a coil says of itself, with the strip beyond its length; None where something of it is not known."""
    names = ("received_kg", "left_kg", "used_kg", "used_m", "overrun_m", "strokes")
    received, left, used, used_m, over_m, strokes = (float(row[name]) for name in names)  # type: ignore[arg-type]
    if not strokes or np.isnan([received, left, used, metre_kg]).any():
        return None
    width, thickness = float(coil["width_mm"]), float(coil["thickness_mm"])
    pitch_mm = used_m * MM_PER_M / strokes
    return CoilAccount(
        received,
        left,
        used_kg=used + over_m * metre_kg,
        width_mm=width,
        thickness_mm=thickness,
        pitch_mm=pitch_mm,
        count=round(strokes + over_m * MM_PER_M / pitch_mm) if pitch_mm else int(strokes),
        interval_kg=INTERVAL_KG,
        thickness_tolerance_mm=THICKNESS_TOLERANCE * thickness,
        width_tolerance_mm=WIDTH_TOLERANCE * width,
        expected=expected,
    )
