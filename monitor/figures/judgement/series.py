"""Inspections joined to what each inspected piece was made of and on: the series behind every verdict.

One row is what one inspection counted of one mounting in one die state and shift, with its coil, lot, heat, supplier,
certificate values, place in the coil, strokes since each station's sharpening, press, shift, setup, speed and day.  A
tub count that lies over several coils or die states is one row too: it speaks of what all its pieces have in common,
of amounts by their mean, and of nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from monitor.figures.strip.mounting_rows import run_out
from monitor.plant.book import Book, Record
from monitor.plant.records import die_stations
from shared.durations import DAY_US, MINUTE_US
from shared.factors import Setting

MM_PER_M = 1000

#: Work after which an edge counts as new; common practice, no source.
RENEWED = frozenset({"sharpen", "replace"})

#: Begins the names of the columns of strokes since sharpening.
WEAR = "strokes_since_sharpening"

#: Begins the names of the columns of strokes seen before the first sharpening that is known.
BEFORE = "strokes_before_sharpening"

#: Operations that cut, and so wear an edge; common practice, no source.
CUTTING = frozenset({"pierce", "notch", "lance", "blank", "trim", "shave", "cutoff"})

#: Strokes after which a setting has shown what it is; common practice, no source.  What rises beyond them is an edge
#: or the time, and an edge whose history is not known must not lend its wear to the setting.
SETTLED_STROKES = 25_000

_SAME_STRETCH = ["press_id", "mounting_id", "out", "from_us", "stroke_from"]
_COIL = ["coil_id", "lot", "heat", "supplier"]
# What is counted apart although one inspection looked at it; of a tub over several of these only the sum is known.
_APART = ["press_id", "mounting_id", "setup_id", "shift_date", "shift", "part_no", "renewals"]
_LEVELS = ["press_id", "mounting_id", "setup_id", "shift", "part_no", *_COIL]
_FIRST = {"inspection_id": "first", "kind": "first", "shift_date": "first", "hour_us": "first"}
_SPAN = {"from_us": "min", "to_us": "max", "stroke_from": "min"}
_CERT_COLUMNS = ("yield_mpa", "tensile_mpa", "elongation_pct", "hardness_hv", "thickness_mm")


@dataclass(frozen=True)
class Facts:
    """Facts of one die over all presses, and what the ledger holds of its material, setting and service.

    `mountings` is the table of `coils.with_start` by mounting; `services` and `settings` are rows of `die_service` and
    of the `set` events of `die_changes`; `tests` are rows of `coil_tests`.
    """

    rejects: pd.DataFrame
    pieces: pd.DataFrame
    strokes: pd.DataFrame
    time: pd.DataFrame
    mountings: pd.DataFrame
    services: Iterable[Record]
    settings: Iterable[Record]
    tests: Iterable[Record]


def series(die_id: str, facts: Facts, book: Book) -> pd.DataFrame:
    """Return a row for each count of pieces of one die: one inspection, one mounting, one die state, one shift.

    Columns: inspection_id, kind, inspected, shift_date, press_id, shift, part_no, out (0 = several), mounting_id,
    coil_id, lot, heat, supplier (text: "" = not known or several), setup_id (likewise, a `Setting`), from_us, to_us,
    stroke_from, day [d], head_m, tail_m [m], strokes_since_set (at most `SETTLED_STROKES`),
    strokes_since_sharpening[_stations], where those are not known strokes_before_sharpening[_stations], speed_spm,
    cert_* (mean over the pieces, NaN = not known), and found_CAUSE [pieces] for each cause.
    """
    looks = _looks(facts.rejects)
    if looks.empty:
        return looks
    rows = looks.merge(_places(facts.pieces), on=_SAME_STRETCH, how="left")
    rows = _with_coil(rows, facts)
    middle_us = ((rows["from_us"] + rows["to_us"]) // 2).to_numpy(np.int64)
    rows["day"] = middle_us / DAY_US
    _add_setting(rows, die_id, facts, book)
    _add_wear(rows, die_id, facts, book, middle_us)
    _add_speed(rows, facts.time, facts.strokes)
    _add_certificates(rows, facts.tests, book)
    return _as_counted(rows)


def _as_counted(rows: pd.DataFrame) -> pd.DataFrame:
    """Put the stretches of one count together: its rejects were shared out over them and prove nothing singly."""
    over = rows["spread"].to_numpy() == 1
    apart = rows[_APART].astype(str)
    apart.loc[over] = ""
    by = rows.groupby([rows["inspection_id"], *(apart[name] for name in _APART)], sort=False)
    found = [str(name) for name in rows if str(name).startswith("found_")]
    numbers = ["day", "head_m", "tail_m", "strokes_since_set", "speed_spm"]
    numbers += [str(name) for name in rows if str(name).startswith((WEAR, BEFORE, "cert_"))]
    counted = by.agg({**_FIRST, **_SPAN, **dict.fromkeys(["inspected", *found], "sum")})
    for name in [*_LEVELS, "out"]:
        counted[name] = by[name].first().where(by[name].nunique() == 1, 0 if name == "out" else "")
    weight = np.maximum(rows["inspected"].to_numpy(np.float64), 1e-9)
    whole = pd.Series(weight, rows.index).groupby(by.ngroup()).sum().to_numpy()
    for name in numbers:
        # A sum with a part that is not known is not known.
        sums = (rows[name] * weight).groupby(by.ngroup()).sum(skipna=False)
        counted[name] = sums.to_numpy() / whole
    several = counted["mounting_id"] == ""
    counted.loc[several, ["head_m", "tail_m"]] = np.nan
    return counted.reset_index(drop=True)


def _looks(rejects: pd.DataFrame) -> pd.DataFrame:
    """Turn reject facts into a row a stretch: pieces inspected, and found_CAUSE for each cause."""
    speaking = rejects[(rejects["setup"] == 0) & (rejects["die_id"] != "")]
    key = ["inspection_id", "kind", "spread", *_SAME_STRETCH, "to_us", "part_no", "shift_date", "shift", "hour_us"]
    inspected = speaking[speaking["cause"] == ""].groupby(key, sort=False)["inspected"].sum()
    bad = speaking.assign(bad=speaking["rejected"] + speaking["reworked"])
    causes = bad[bad["cause"] != ""].pivot_table("bad", index=key, columns="cause", aggfunc="sum", fill_value=0)
    found = causes.rename(columns=lambda cause: f"found_{cause}")
    rows = inspected.to_frame().join(found, how="left").fillna(0)
    looked, bad_pieces = rows["inspected"], rows.drop(columns="inspected").sum(axis=1)
    # Whole pieces shared over stretches may leave a stretch a piece looked at short of what was found in it.
    rows["inspected"] = rows.max(axis=1).astype("int64")
    rows = rows.reset_index()
    # A look at no piece at all, such as a sample whose pieces were sorted later, proves nothing; nor does one that
    # found more bad pieces than there were.
    by = rows["inspection_id"]
    known = looked.groupby("inspection_id").sum() >= bad_pieces.groupby("inspection_id").sum()
    return rows[(rows.groupby(by)["inspected"].transform("sum") > 0) & by.map(known)].reset_index(drop=True)


def _places(pieces: pd.DataFrame) -> pd.DataFrame:
    """Return the place in its mounting of the middle of each stretch of pieces [progressions]."""
    middle = pieces["entry_from"] + pieces["pieces"] / 2
    return pieces[_SAME_STRETCH].assign(entry=middle).drop_duplicates(_SAME_STRETCH)


def _with_coil(rows: pd.DataFrame, facts: Facts) -> pd.DataFrame:
    """Add the coil and the place in it [m]; strip beyond the coil's length is of no known coil."""
    table = facts.mountings
    length_m = table["received_kg"] / table["kg_per_m"]
    before_m = (length_m - table["start_kg"] / table["kg_per_m"]).clip(lower=0).fillna(0)
    coils = table[["mounting_id", *_COIL, "pitch_mm"]].assign(length_m=length_m, used_before_m=before_m)
    rows = rows.merge(coils, on="mounting_id", how="left")
    rows["head_m"] = rows["entry"] * rows["pitch_mm"] / MM_PER_M + rows["used_before_m"]
    rows["tail_m"] = (rows["length_m"] - rows["head_m"]).clip(lower=0)
    over = rows["entry"] > rows["mounting_id"].map(run_out(table))
    rows.loc[over, ["head_m", "tail_m"]] = np.nan
    rows[_COIL] = rows[_COIL].mask(over, "").fillna("")
    return rows


def _add_setting(rows: pd.DataFrame, die_id: str, facts: Facts, book: Book) -> None:
    """Add which setting of the die a piece belongs to, and strokes since."""
    rows["strokes_since_set"] = np.nan
    setup = np.full(len(rows), "", dtype=object)
    for press_id, mine in rows.groupby("press_id"):
        moments = np.sort([s["time"] for s in facts.settings if s["press_id"] == press_id and s["die_id"] == die_id])
        at = np.searchsorted(moments, mine["from_us"].to_numpy(np.int64), side="right") - 1
        known = at >= 0
        count = _strokes_at(facts.strokes[facts.strokes["press_id"] == press_id], moments)
        names = [Setting(str(press_id), told[:16]) for told in book.calendar.local_iso(moments.tolist())]
        since = mine["stroke_from"].to_numpy()[known] - count[at[known]]
        for row, setting in zip(mine.index[known], at[known], strict=True):
            setup[row] = names[setting]
        rows.loc[mine.index[known], "strokes_since_set"] = np.clip(since, 0, SETTLED_STROKES)
    rows["setup_id"] = setup


def _strokes_at(strokes: pd.DataFrame, moments_us: np.ndarray) -> np.ndarray:
    """Return the number of the first stroke of a press after each moment [us]."""
    ordered = strokes.sort_values("from_us")
    after = np.searchsorted(ordered["from_us"].to_numpy(np.int64), moments_us)
    numbers = np.append(ordered["stroke_from"].to_numpy(np.int64), np.iinfo(np.int64).max)
    return numbers[after]


def _add_wear(rows: pd.DataFrame, die_id: str, facts: Facts, book: Book, middle_us: np.ndarray) -> None:
    """Add strokes of the die since each station's edge was renewed; stations of one history share one column.

    The column names its stations unless they are all that cut.
    """
    by_station = renewals(die_id, facts.services, book)
    columns: dict[tuple[int, ...], list[int]] = {}
    for station, moments in by_station.items():
        columns.setdefault(tuple(moments), []).append(station)
    worn_at = die_strokes(facts.strokes, middle_us)
    rows["renewals"] = 0
    for since_us, stations in columns.items():
        name = WEAR
        if set(stations) != set(cutting_stations(die_id, book)):
            name += "_" + "_".join(str(station) for station in stations)
        at = np.searchsorted(since_us, middle_us, side="right") - 1
        since = worn_at - die_strokes(facts.strokes, np.array(since_us, dtype=np.int64))[np.maximum(at, 0)]
        rows[name] = np.where(at >= 0, since, np.nan)
        if np.any(at < 0):
            rows[name.replace(WEAR, BEFORE)] = np.where(at < 0, worn_at, np.nan)
        rows["renewals"] += at


def cutting_stations(die_id: str, book: Book) -> list[int]:
    """Return the stations of a die that have an edge."""
    stations = die_stations(book.tables["stations"], die_id)
    return sorted({station.number for station in stations if not CUTTING.isdisjoint(station.operations)})


def renewals(die_id: str, services: Iterable[Record], book: Book) -> dict[int, list[int]]:
    """Return, by cutting station, the moments [us] at which its edge was renewed; never renewed is left out."""
    cutting = cutting_stations(die_id, book)
    found: dict[int, list[int]] = {}
    for row in sorted(services, key=lambda row: row["time"]):
        if row["die_id"] == die_id and row["work"] in RENEWED:
            for station in cutting if row["station"] is None else [row["station"]]:
                found.setdefault(station, []).append(row["time"])
    return found


def die_strokes(strokes: pd.DataFrame, moments_us: np.ndarray) -> np.ndarray:
    """Return how many strokes with strip a die had made, over all presses, at each moment [us]."""
    ordered = strokes.sort_values("to_us")
    ends = ordered["to_us"].to_numpy(np.int64)
    starts = ordered["from_us"].to_numpy(np.int64)
    fed = ordered["fed"].to_numpy(np.int64)
    before = np.concatenate(([0], np.cumsum(fed)))
    at = np.searchsorted(ends, moments_us, side="right")
    last = np.minimum(at, max(len(ends) - 1, 0))
    if not len(ends):
        return np.zeros(len(moments_us))
    share = np.clip((moments_us - starts[last]) / np.maximum(ends[last] - starts[last], 1), 0, 1)
    return before[at] + np.where(at < len(ends), fed[last] * share, 0)


def _add_speed(rows: pd.DataFrame, time: pd.DataFrame, strokes: pd.DataFrame) -> None:
    """Add strokes per running minute of the clock hour; not known where the time of some strokes is not."""
    key = ["press_id", "hour_us"]
    sums = time.groupby(key)[["running_us", "untimed"]].sum()
    running = sums["running_us"] / MINUTE_US
    spm = strokes.groupby(key)["strokes"].sum() / running.where((running > 0) & (sums["untimed"] == 0))
    rows["speed_spm"] = spm.reindex(pd.MultiIndex.from_frame(rows[key])).to_numpy()


def _add_certificates(rows: pd.DataFrame, tests: Iterable[Record], book: Book) -> None:
    """Add certificate values and own tests of each coil; several of one property are averaged."""
    values: dict[tuple[str, str], list[float]] = {}
    seen = set(rows["coil_id"])
    for coil in (book.coils[coil_id] for coil_id in seen if coil_id in book.coils):
        for name in _CERT_COLUMNS:
            if coil.get(name) is not None:
                values.setdefault((coil["coil_id"], name), []).append(coil[name])
    for test in tests:
        if test["coil_id"] in seen:
            values.setdefault((test["coil_id"], f"{test['property']}_{test['source']}"), []).append(test["value"])
    means: Mapping[tuple[str, str], float] = {key: float(np.mean(found)) for key, found in values.items()}
    for name in sorted({name for _, name in means}):
        column = np.array([means.get((coil_id, name), np.nan) for coil_id in rows["coil_id"]])
        # A value that is the same on every coil tells nothing.
        if len(np.unique(column[~np.isnan(column)])) > 1:
            rows[f"cert_{name}"] = column
