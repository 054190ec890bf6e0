"""The `coils` table: what became of the strip of each mounting, in metres, pieces and kilograms.

Received = good pieces + skeleton and slugs + unfinished + setting + rejected + remaining + difference, and the
difference is shown with its sign, since it is where a wrong width, pitch, count or scale shows up.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from monitor.figures.bounds import with_known_counts
from monitor.figures.columns import columns
from monitor.figures.genealogy.onward import Onward, onward
from monitor.figures.material.mountings import mountings
from monitor.figures.question import Question
from monitor.figures.strip.mount_facts import of_no_coil
from monitor.figures.strip.mounting_rows import MM_PER_M, UNKNOWN, by_press, run_out
from monitor.plant.book import Book
from shared.fields import count, number, text
from shared.figures import ClosingSum, Figure

FIGURE = Figure(
    "coils",
    row_per="mounting of a coil on a press. Strip that goes through several dies is weighed with its coil",
    columns=columns(
        "coil_id lot heat supplier material press_id",
        text("die_id", "dies that its strip was fed into", listed=True),
        "mounted_at removed_at strokes used_m used_kg",
        number("start_kg", "kg", "weighed at the mounting, else what was left, else received", 0),
        number("remaining_kg", "kg", "strip left after the mounting", 0),
        "overrun_m pieces",
        count("unfinished", "progressions", "progressions left in the die when the strip came out, counted once"),
        "setup_pieces rejected good good_kg skeleton_kg unfinished_kg setup_kg rejected_kg difference_kg coil_yield",
    ),
    closes=(
        ClosingSum(
            "start_kg",
            (
                "good_kg",
                "skeleton_kg",
                "unfinished_kg",
                "setup_kg",
                "rejected_kg",
                "remaining_kg",
                "difference_kg",
            ),
        ),
    ),
)

G_PER_KG = 1000

#: Part of the strip used that may wait for the last die, or have been lost before it, where a yield is shown; common
#: practice, no source.
WAITING = 0.02

_SAME_STRETCH = ["press_id", "mounting_id", "out", "from_us", "stroke_from"]


def coils(question: Question) -> pd.DataFrame:
    """Return the `coils` table for the range and filters asked."""
    return weighed(question, mountings(question))


def weighed(question: Question, table: pd.DataFrame) -> pd.DataFrame:
    """Return the `coils` table of mountings (from `with_earlier`): what became of their strip."""
    named = ("mounting_id", [name for name in table["mounting_id"] if not name.startswith(UNKNOWN)])
    made = [(question.snapshot.facts("pieces", where=named), question.snapshot.facts("rejects", where=named))]
    if len(named[1]) < len(table):
        made.append(of_no_coil(question.snapshot, question.scope.dates(question.book.calendar), question.scope.press))
    pieces, rejects = (by_press(pd.concat(facts, ignore_index=True)) for facts in zip(*made, strict=True))
    passed = onward(question.snapshot, question.book, table, pieces)
    return coil_rows(table, pieces, rejects, question.book, passed)


def beyond(facts: pd.DataFrame, limits: pd.Series) -> pd.DataFrame:
    """Give pieces drawn in after the coil had run out to no coil; a stretch that spans the moment is split."""
    if limits.empty or facts.empty:
        return facts
    limit = facts["mounting_id"].map(limits)
    over = (facts["entry_from"] + facts["pieces"] - limit).clip(lower=0).fillna(0).astype("int64")
    over = over.clip(upper=facts["pieces"])
    kept = facts.assign(pieces=facts["pieces"] - over)
    unknown = facts[over > 0].assign(pieces=over[over > 0], mounting_id=facts["mounting_id"] + OVERRUN)
    return pd.concat([kept[kept["pieces"] > 0], unknown], ignore_index=True)


#: Marks the part of a mounting that lies beyond its coil's length.
OVERRUN = "+"


def coil_rows(
    table: pd.DataFrame, pieces: pd.DataFrame, rejects: pd.DataFrame, book: Book, onward: Onward | None = None
) -> pd.DataFrame:
    """Weigh what each mounting gave; `table` from `with_start`, piece and reject facts of the same mountings.

    Where strip went on to another die, `onward` says what became of it there.
    """
    limits = run_out(table)
    table = _split_overrun(table, limits).assign(waiting_kg=0.0)
    counts = _counts(beyond(pieces, limits), rejects, book, table["mounting_id"])
    if onward is not None:
        _weigh_onward(counts, onward, _of_first_die(pieces, rejects, onward, limits, book), book)
    table = table.assign(**{name: counts[name].to_numpy() for name in counts.columns})
    return _weighed(table, book)


def _of_first_die(
    pieces: pd.DataFrame, rejects: pd.DataFrame, onward: Onward, limits: pd.Series, book: Book
) -> pd.DataFrame:
    """Return pieces and weights, by mounting, of what was wound up for another die."""
    wound = pieces[onward.goes_on]
    of_wound = pd.MultiIndex.from_frame(rejects[_SAME_STRETCH]).isin(pd.MultiIndex.from_frame(wound[_SAME_STRETCH]))
    return _counts(beyond(wound, limits), rejects[of_wound], book, wound["mounting_id"].drop_duplicates())


def _weigh_onward(counts: pd.DataFrame, onward: Onward, first: pd.DataFrame, book: Book) -> None:
    """Put the weights of finished pieces in place of those of what was wound up; what is neither is waiting."""
    last = onward.finished.assign(weight=_net_kg(onward.finished, book).astype(float))
    good = last["pieces"] - last["setup_pieces"] - last["rejected"]
    for name, some in (("good", good), ("setup", last["setup_pieces"]), ("rejected", last["rejected"])):
        last[f"{name}_kg"] = some * last["weight"]
    weights = ["good_kg", "setup_kg", "rejected_kg"]
    last = last.groupby("mounting_id")[["pieces", *weights]].sum(skipna=False).reindex(first.index, fill_value=0)
    each_kg = (first["made_kg"] / first["pieces"].where(first["pieces"] > 0)).mask(first["pieces"] == 0, 0.0)
    waits = (first["pieces"] - last["pieces"]).clip(lower=0)
    # What the first die had found bad is the first not to go on.
    setup = np.minimum(waits, first["setup_pieces"].fillna(0).astype("int64"))
    rejected = np.minimum(waits - setup, first["rejected"])
    stays = {"good_kg": 0, "setup_kg": setup, "rejected_kg": rejected}
    for name, stay in stays.items():
        counts.loc[first.index, name] += last[name] + stay * each_kg - first[name]
    counts["waiting_kg"] = 0.0
    counts.loc[first.index, "waiting_kg"] = (waits - setup - rejected) * each_kg
    whole = last[weights].sum(axis=1, skipna=False) + waits * each_kg
    counts.loc[first.index, "made_kg"] += whole - first["made_kg"]
    counts.loc[counts.index.isin(list(onward.reels)), ["made_kg", "waiting_kg", *weights]] = np.nan


def _split_overrun(table: pd.DataFrame, limits: pd.Series) -> pd.DataFrame:
    limit = table["mounting_id"].map(limits)
    over = limit.notna()
    if not over.any():
        return table.assign(overrun_m=0.0)
    rest = table[over].copy()
    rest["strokes"] = rest["strokes"] - limit[over].astype("int64")
    rest["overrun_m"] = rest["strokes"] * rest["pitch_mm"] / MM_PER_M
    rest["finished"] = (rest["finished"] - limit[over]).clip(lower=0).astype("int64")
    kept = table.assign(overrun_m=0.0)
    kept.loc[over, "overrun_m"] = rest["overrun_m"]
    kept.loc[over, "strokes"] = limit[over].astype("int64")
    kept.loc[over, "finished"] = np.minimum(table.loc[over, "finished"], limit[over]).astype("int64")
    # Which die drew in the rest nobody knows.
    rest["finished_pitch_mm"] = rest["pitch_mm"]
    kept.loc[over, "finished_pitch_mm"] = kept.loc[over, "pitch_mm"]
    kept.loc[over, "used_mm"] = kept.loc[over, "strokes"] * kept.loc[over, "pitch_mm"]
    return pd.concat([kept, _of_no_coil(rest)], ignore_index=True)


def _of_no_coil(rest: pd.DataFrame) -> pd.DataFrame:
    rest = rest.assign(mounting_id=rest["mounting_id"] + OVERRUN, used_mm=rest["strokes"] * rest["pitch_mm"])
    rest[["coil_id", "lot", "heat", "supplier"]] = ""
    rest[["start_kg", "remaining_kg"]] = np.nan
    return rest.assign(overrun_m=0.0)


def _counts(pieces: pd.DataFrame, rejects: pd.DataFrame, book: Book, names: pd.Series[str]) -> pd.DataFrame:
    """Return pieces and net weights [kg] of the mountings named: made, setting, rejected, good."""
    made = pieces.assign(weight=_net_kg(pieces, book), setup_pieces=pieces["pieces"] * pieces["setup"])
    made["made_kg"] = made["pieces"] * made["weight"]
    made["setup_kg"] = made["setup_pieces"] * made["weight"]
    lost = rejects.assign(weight=_net_kg(rejects, book))
    running = 1 - lost["setup"]
    lost["rejected"] = lost["rejected"] * running
    lost["reworked"] = lost["reworked"] * running
    lost["rejected_kg"] = lost["rejected"] * lost["weight"]
    lost["released_kg"] = lost["released"] * lost["weight"]
    # A weight that is not known makes its sum not known; what a mounting has none of is nothing.
    sums = pd.concat(
        [
            _summed(made, ["pieces", "setup_pieces", "made_kg", "setup_kg"], names),
            _summed(lost, ["rejected", "reworked", "released", "rejected_kg", "released_kg"], names),
        ],
        axis=1,
    )
    sums["setup_pieces"] -= sums["released"]
    sums["setup_kg"] -= sums["released_kg"]
    sums["good"] = sums["pieces"] - sums["setup_pieces"] - sums["rejected"] - sums["reworked"]
    sums["good_kg"] = sums["made_kg"] - sums["setup_kg"] - sums["rejected_kg"]
    return _without_impossible(sums)


def _without_impossible(sums: pd.DataFrame) -> pd.DataFrame:
    """Return the counts with those below 0 missing, and the weights of these pieces with them."""
    known = with_known_counts(sums)
    for name, pieces in (("setup_kg", "setup_pieces"), ("good_kg", "good")):
        known[name] = known[name].mask(known[pieces].isna())
    return known


def _net_kg(facts: pd.DataFrame, book: Book) -> pd.Series[float]:
    """Return the weight of one piece of each fact by the part's row of the day it was made [kg]."""
    grams = book.column("parts", "net_weight_g", facts["shift_date"], facts["part_no"])
    return pd.Series(grams, index=facts.index, dtype=float) / G_PER_KG


def _summed(facts: pd.DataFrame, columns: list[str], names: pd.Series[str]) -> pd.DataFrame:
    return facts.groupby("mounting_id")[columns].sum(skipna=False).reindex(names, fill_value=0)


def _weighed(table: pd.DataFrame, book: Book) -> pd.DataFrame:
    used_m = table["used_mm"] / MM_PER_M
    used_kg = used_m * table["kg_per_m"]
    unfinished = table["strokes"] - table["finished"]
    lost_m = used_m - table["strokes"] * table["pitch_mm"].fillna(0) / MM_PER_M
    # What a die fed it parted off as well, but for the unfinished; another die may have fed another length.
    longer = (table["pitch_mm"] - table["finished_pitch_mm"]).fillna(0)
    left_mm = unfinished * table["pitch_mm"].fillna(0) + table["finished"] * longer
    left_kg = (left_mm / MM_PER_M + lost_m) * table["kg_per_m"]
    skeleton_kg = used_kg - left_kg - table["made_kg"]
    unfinished_kg = left_kg + table["waiting_kg"]
    shown = table[["coil_id", "lot", "heat", "supplier", "material", "press_id"]].copy()
    shown["die_id"] = table["die_id"].fillna("")
    shown["dies"] = table["dies"]
    for name in ("mounted", "removed"):
        shown[f"{name}_at"] = table[f"{name}_us"].astype("Int64")
    shown["strokes"] = table["strokes"]
    shown["used_m"], shown["used_kg"] = used_m, used_kg
    shown["start_kg"], shown["remaining_kg"] = table["start_kg"], table["remaining_kg"]
    shown["overrun_m"] = table["overrun_m"]
    shown["pieces"], shown["unfinished"] = table["pieces"], unfinished
    for name in ("setup_pieces", "rejected", "good", "good_kg"):
        shown[name] = table[name]
    shown["skeleton_kg"], shown["unfinished_kg"] = skeleton_kg, unfinished_kg
    shown["setup_kg"], shown["rejected_kg"] = table["setup_kg"], table["rejected_kg"]
    shown["difference_kg"] = table["start_kg"] - used_kg - table["remaining_kg"]
    # What became of strip that waits for the last die nobody knows yet.
    done = (used_kg > 0) & ~(table["waiting_kg"] > WAITING * used_kg)
    shown["coil_yield"] = table["good_kg"] / used_kg.where(done)
    return shown
