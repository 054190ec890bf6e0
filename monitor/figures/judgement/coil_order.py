"""Coils in the order run: the rate of each with its limits, what wear alone would give, alarms, changes and marks."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import special

from monitor.figures.judgement.series import RENEWED
from monitor.plant.book import Record
from monitor.reckoning.statistics.changepoint import binomial_change
from monitor.reckoning.statistics.count_charts import laney_p_chart, p_chart
from monitor.reckoning.statistics.cusum import cusum
from monitor.reckoning.statistics.intervals import wilson
from monitor.reckoning.statistics.wear import WearTable

Floats = npt.NDArray[np.float64]

#: Changes of level marked at most, and the chance of a false one that is put up with; common practice, no source.
MOST_CHANGES = 6
CHANGE_CHANCE = 0.01

#: Inspections on either side of a change at least; common practice, no source.
_LEAST_SIDE = 3


def coil_runs(rows: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each stay of a coil on a press, in the order run.

    Columns: mounting_id, coil_id, lot, heat, supplier, press_id, from_us, to_us, inspected, rejected, rate, rate_low,
    rate_high, wear_rate (what wear alone would give; NaN where the edge has no history), usual (rate of the coils
    within their limits), limit_low, limit_high, outside.
    """
    first = ["coil_id", "lot", "heat", "supplier", "press_id"]
    sums = {"from_us": "min", "to_us": "max", "inspected": "sum", "rejected": "sum"}
    by = rows.assign(wear_pieces=rows["wear_rate"] * rows["inspected"]).groupby("mounting_id", sort=False)
    table = by.agg({**dict.fromkeys(first, "first"), **sums}).reset_index()
    whole = (by["wear_pieces"].count() == by.size()).to_numpy()
    table["wear_rate"] = np.where(whole, by["wear_pieces"].sum().to_numpy() / table["inspected"], np.nan)
    table = table.sort_values(["from_us", "press_id"], kind="stable").reset_index(drop=True)
    looked, bad = (table[name].to_numpy(np.float64) for name in ("inspected", "rejected"))
    low, high = wilson(bad, looked)
    limits = _limits(bad, looked)
    return table.assign(rate=bad / looked, rate_low=low, rate_high=high, **limits)


def _limits(bad: Floats, looked: Floats) -> dict[str, Floats | npt.NDArray[np.bool_]]:
    """Limits around the rate of the coils that lie within them; those beyond are left out until none is."""
    within = np.ones(bad.size, dtype=bool)
    for _ in range(bad.size):
        share = float(bad[within].sum() / looked[within].sum())
        factor = _widening(bad[within], looked[within])
        sigma = np.sqrt(share * (1 - share) / looked) * factor
        beyond = (bad / looked > share + 3 * sigma + 1e-12) & within
        if not beyond.any() or not (within & ~beyond).any():
            break
        within &= ~beyond
    low, high = np.maximum(share - 3 * sigma, 0.0), np.minimum(share + 3 * sigma, 1.0)
    usual = np.full(bad.size, share)
    outside = (bad / looked > high + 1e-12) | (bad / looked < low - 1e-12)
    return {"usual": usual, "limit_low": low, "limit_high": high, "outside": outside}


def _widening(bad: Floats, looked: Floats) -> float:
    """Return how much wider than chance the limits are: that of Laney's chart where the coils scatter so (1 %)."""
    z = p_chart(bad, looked).standardised if 0 < bad.sum() < looked.sum() else np.zeros(0)
    z = z[np.isfinite(z)]
    if z.size < 3 or float(np.sum(z**2)) <= special.chdtri(z.size - 1, 0.01):
        return 1.0
    return max(1.0, laney_p_chart(bad, looked).spread_factor)


def rate_at(wear: WearTable, strokes: Floats) -> Floats:
    """Return the rate of all pieces made at about so many strokes since sharpening; NaN where they are not known."""
    if not wear.rate.size:
        return np.full(strokes.size, np.nan)
    at = np.searchsorted(wear.strokes_from, strokes, side="right") - 1
    return np.where(np.isnan(strokes), np.nan, wear.rate[np.clip(at, 0, wear.rate.size - 1)])


def places(coils: pd.DataFrame, rows: pd.DataFrame) -> Floats:
    """Return where on the axis of coils each stretch lies: 0 is the middle of the first coil, ±½ its ends."""
    names = pd.Series(coils.index.to_numpy(), index=coils["mounting_id"])
    found = rows["mounting_id"].map(names)
    at = found.fillna(0).to_numpy(np.int64)
    begin, end = (coils[name].to_numpy(np.int64)[at] for name in ("from_us", "to_us"))
    middle = (rows["from_us"].to_numpy(np.int64) + rows["to_us"].to_numpy(np.int64)) / 2
    places = at - 0.5 + np.clip((middle - begin) / np.maximum(end - begin, 1), 0, 1)
    return np.where(found.isna(), _moments(coils, middle), places)


def _moments(coils: pd.DataFrame, times_us: Floats) -> Floats:
    """Return where on the axis of coils moments lie; between two coils they lie on the line that parts them."""
    begin, end = (coils[name].to_numpy(np.int64) for name in ("from_us", "to_us"))
    at = np.searchsorted(begin, times_us, side="right") - 1
    inside = np.clip(at, 0, None)
    part = np.clip((times_us - begin[inside]) / np.maximum(end[inside] - begin[inside], 1), 0, 1)
    places: Floats = np.where(at < 0, -0.5, at - 0.5 + part)
    return places


def checks(rows: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each inspection in time order, at the place and time where what it looked at ends."""
    by = rows.groupby("inspection_id", sort=False)
    sums = {"inspected": "sum", "rejected": "sum", "place": "max", "to_us": "max", "coil_id": "last"}
    return by.agg(sums).sort_values("to_us", kind="stable").reset_index()


def spread(checks: pd.DataFrame, usual: float) -> float:
    """Return how many times chance the inspections scatter, from neighbours, so that a change of level counts once."""
    expected = checks["inspected"].to_numpy(np.float64) * usual
    if len(checks) < 3 or not expected.sum() > 0:
        return 1.0
    z = (checks["rejected"].to_numpy(np.float64) - expected) / np.sqrt(np.maximum(expected * (1 - usual), 1e-12))
    # The median keeps the jumps at a change of level out; 0.4549 is that of a chi-square with one degree.
    return float(max(1.0, np.median(np.diff(z) ** 2) / 2 / 0.4549))


def alarms(checks: pd.DataFrame, usual: float, spread: float) -> pd.DataFrame:
    """Return the moments at which a watch of the inspections would have called, one a coil."""
    expected = checks["inspected"].to_numpy(np.float64) * usual
    if not usual > 0 or not expected.sum() > 0:
        return checks.iloc[:0][["place", "to_us", "coil_id"]].rename(columns={"to_us": "time_us"})
    seen = cusum(checks["rejected"].to_numpy(np.float64) / spread, expected / spread)
    called = checks[seen.signals][["place", "to_us", "coil_id"]].rename(columns={"to_us": "time_us"})
    return called.drop_duplicates("coil_id").reset_index(drop=True)


def changes(checks: pd.DataFrame, spread: float) -> pd.DataFrame:
    """Return where the level changed: the clearest change first looked for, then on either side of it."""
    found: list[tuple[int, int, int, float, float]] = []
    open_ = [(0, len(checks))]
    bad, looked = (checks[name].to_numpy(np.float64) for name in ("rejected", "inspected"))
    while open_ and len(found) < MOST_CHANGES:
        low, high = open_.pop(0)
        if high - low < 2 * _LEAST_SIDE or not bad[low:high].sum() > 0:
            continue
        told = binomial_change(bad[low:high], looked[low:high], dispersion=spread)
        at = low + told.last_before
        if told.false_alarm <= CHANGE_CHANCE and _LEAST_SIDE <= told.last_before <= high - low - _LEAST_SIDE:
            found.append((at, low + told.earliest, low + told.latest, told.before, told.after))
            open_ += [(low, at), (at, high)]
    place, time = checks["place"].to_numpy(np.float64), checks["to_us"].to_numpy(np.int64)
    rows = [
        (place[at - 1], place[low - 1], place[high - 1], time[at - 1], before, after)
        for at, low, high, before, after in sorted(found)
    ]
    return pd.DataFrame(rows, columns=["place", "place_low", "place_high", "time_us", "before", "after"])


def marks(
    coils: pd.DataFrame, rows: pd.DataFrame, services: Iterable[Record], die: str, stations: list[int]
) -> pd.DataFrame:
    """Return the sharpenings and settings between the first and the last piece looked at."""
    first, last = int(rows["from_us"].min()), int(rows["to_us"].max())
    mine = [row for row in services if row["die_id"] == die and row["work"] in RENEWED]
    ground = [
        ("sharpened", row["time"], row["station"], row.get("removed_mm"), "")
        for row in mine
        if first <= row["time"] <= last and (row["station"] is None or not stations or row["station"] in stations)
    ]
    begun = rows[rows["setup_id"] != ""].groupby("setup_id", sort=False)["from_us"].min()
    settings = [("set", int(time), None, None, name) for name, time in begun.items()]
    table = pd.DataFrame([*ground, *settings], columns=["kind", "time_us", "station", "removed_mm", "setup_id"])
    table["place"] = _moments(coils, table["time_us"].to_numpy(np.int64))
    return table.sort_values(["time_us", "kind"], kind="stable").reset_index(drop=True)
