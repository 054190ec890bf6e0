"""The `capability` table: what each press and die can hold of each characteristic, from subgroups of pieces."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Iterable, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from scipy import special

from monitor.figures.columns import columns
from monitor.figures.question import Question, last_day
from monitor.figures.scope import Scope
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.reckoning.press.die_events import dies_in_press
from monitor.reckoning.press.press_day import DieChange
from monitor.reckoning.statistics.capability import Capability
from monitor.reckoning.statistics.capability import capability as judged
from shared.fields import count, flag, number
from shared.figures import Figure

FIGURE = Figure(
    "capability",
    row_per="part, characteristic, press, die",
    columns=columns(
        "part_no characteristic press_id die_id",
        count("n", "", "number of values"),
        count("subgroups", "", "number of subgroups"),
        number("mean", "", "mean, in the characteristic's unit"),
        number("sd_within", "", "standard deviation within subgroups", 0),
        number("sd_overall", "", "standard deviation of all values", 0),
        number("cp", "1", "tolerance over six standard deviations within", 0),
        number("cpk", "1", "distance to the nearer limit over three standard deviations within"),
        number("pp", "1", "tolerance over six standard deviations overall", 0),
        number("ppk", "1", "distance to the nearer limit over three standard deviations overall"),
        number("cpk_low", "1", "lower end of the 95 % interval of cpk"),
        number("cpk_high", "1", "upper end of the 95 % interval of cpk"),
        flag("stable", "whether the control chart shows no signal"),
        flag("normal", "whether the values may be taken as normally distributed"),
        flag("outs_differ", "whether outs pooled here have different means, so that each is to be judged by itself"),
    ),
)

#: Values below which no index is worth showing; common practice, no source.
LEAST_VALUES = 2

#: Chance of calling outs different that are alike; common practice, no source.
OUTS_CHANCE = 0.001


def capability(question: Question) -> pd.DataFrame:
    """Return the `capability` table for the measurements in range, with `ppk_low` and `ppk_high` beside its columns."""
    snapshot, scope = question.snapshot, question.scope
    return capability_of(measured(snapshot, scope), snapshot, question.book, scope)


def capability_of(table: pd.DataFrame, snapshot: Snapshot, book: Book, scope: Scope) -> pd.DataFrame:
    """Return the same for measurements that were read already."""
    told = with_die(scope.keep_part(table), records(snapshot.rows("die_changes", scope.press)))
    if scope.die is not None:
        told = told[told["die_id"] == scope.die]
    return capabilities(told, specifications(snapshot, book, scope))


def measured(snapshot: Snapshot, scope: Scope) -> pd.DataFrame:
    """Return the measurements in range, as columns `capabilities` wants but the die."""
    rows = snapshot.rows("measurements", scope.press, scope.from_us, scope.to_us)
    wanted = rows.select(["part_no", "characteristic", "press_id", "out", "value"])
    table: pd.DataFrame = wanted.append_column("time_us", rows.column("time").cast(pa.int64())).to_pandas()
    return table


def specifications(snapshot: Snapshot, book: Book, scope: Scope) -> dict[tuple[str, str], Record]:
    """Return the characteristics as the plant book had them on the last day of a range, by part and name.

    Where the range has no end, that is the day of the newest counter reading or measurement.
    """
    rows = book.rows_on("characteristics", _last_day(snapshot, book, scope))
    return {(row["part_no"], row["characteristic"]): row for row in rows}


def _last_day(snapshot: Snapshot, book: Book, scope: Scope) -> dt.date:
    day = last_day(snapshot, book, scope)
    if scope.to_us is not None:
        return day
    newest = pc.max(snapshot.rows("measurements").column("time").cast(pa.int64())).as_py()
    return day if newest is None else max(day, book.day_of(newest))


def die_at(changes: Iterable[Record]) -> Mapping[str, tuple[list[int], list[str]]]:
    """Return, by press, the moments [us] at which its die changed and the die from then on ("" = none)."""
    by_press: dict[str, list[DieChange]] = {}
    for row in changes:
        by_press.setdefault(row["press_id"], []).append(DieChange(row["time"], row["event"], row["die_id"]))
    found = {}
    for press_id, events in by_press.items():
        since = dies_in_press(events)
        found[press_id] = ([us for us, _ in since], [die_id for _, die_id in since])
    return found


def with_die(measurements: pd.DataFrame, changes: Iterable[Record]) -> pd.DataFrame:
    """Add to each measurement (press_id, time_us) the die that was in its press."""
    dies = die_at(changes)
    named = []
    for press_id, time_us in zip(measurements["press_id"], measurements["time_us"], strict=True):
        moments, names = dies.get(press_id, ([], []))
        at = bisect_right(moments, time_us) - 1
        named.append(names[at] if at >= 0 else "")
    return measurements.assign(die_id=named)


def capabilities(measurements: pd.DataFrame, limits: Mapping[tuple[str, str], Record]) -> pd.DataFrame:
    """Return a row for each part, characteristic, press and die with at least two values.

    `measurements` holds part_no, characteristic, press_id, die_id, time_us, out, value; values of one time and out are
    a subgroup.  Outs are never pooled into one subgroup; where their means differ, `outs_differ` says that the indices
    are of a mixture with two humps, and each out is to be judged by itself.
    """
    rows = []
    key = ["part_no", "characteristic", "press_id", "die_id"]
    for names, values in measurements.groupby(key, sort=True):
        told = limits.get((str(names[0]), str(names[1])))
        if told is not None and len(values) >= LEAST_VALUES:
            found = judged(subgroups(values), *_limits(told))
            rows.append({**dict(zip(key, names, strict=True)), **_row(found), "outs_differ": outs_differ(values)})
    return pd.DataFrame(rows, columns=[*key, *_COLUMNS])


def subgroups(values: pd.DataFrame) -> npt.NDArray[np.float64]:
    """Turn values of one characteristic into subgroups: a row for each time and out in order, NaN where one lacks."""
    out, time_us = values["out"].fillna(0).to_numpy(np.int64), values["time_us"].to_numpy(np.int64)
    order = np.lexsort((time_us, out))
    out, time_us = out[order], time_us[order]
    begins = np.ones(len(order), dtype=np.bool_)
    begins[1:] = (np.diff(out) != 0) | (np.diff(time_us) != 0)
    row = np.cumsum(begins) - 1
    place = np.arange(len(order)) - np.flatnonzero(begins)[row]
    wide = np.full((row.max(initial=-1) + 1, place.max(initial=0) + 1), np.nan)
    wide[row, place] = values["value"].to_numpy(np.float64)[order]
    return wide


def outs_differ(values: pd.DataFrame) -> bool | None:
    """Tell whether the outs measured have different means (one-way analysis of variance); None for a single out."""
    if values["out"].nunique() < 2:
        return None
    by_out = values["value"].groupby(values["out"])
    n, mean, spread = by_out.size(), by_out.mean(), by_out.var(ddof=0)
    within = float((n * spread).sum())
    outs, left = len(n), int(n.sum()) - len(n)
    if left < 1:
        return None
    overall = float((n * mean).sum() / n.sum())
    between = float((n * (mean - overall) ** 2).sum())
    if within <= 0:
        return between > 0
    ratio = (between / (outs - 1)) / (within / left)
    return bool(special.fdtrc(outs - 1, left, ratio) < OUTS_CHANCE)


def _limits(told: Record) -> tuple[float, float]:
    lower, upper = told.get("lower"), told.get("upper")
    return (np.nan if lower is None else lower), (np.nan if upper is None else upper)


_COLUMNS = (
    "n", "subgroups", "mean", "sd_within", "sd_overall", "cp", "cpk", "pp", "ppk", "cpk_low", "cpk_high", "ppk_low",
    "ppk_high", "stable", "normal", "outs_differ",
)  # fmt: skip


def _row(found: Capability) -> dict[str, object]:
    return {
        "n": found.n,
        "subgroups": found.subgroups,
        "mean": found.mean,
        "sd_within": found.sd_within,
        "sd_overall": found.sd_overall,
        "cp": found.cp.value,
        "cpk": found.cpk.value,
        "pp": found.pp.value,
        "ppk": found.ppk.value,
        "cpk_low": found.cpk.low,
        "cpk_high": found.cpk.high,
        "ppk_low": found.ppk.low,
        "ppk_high": found.ppk.high,
        "stable": found.stable,
        "normal": found.normal,
    }
