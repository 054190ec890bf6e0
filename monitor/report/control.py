"""Control charts of a customer's parts: pure sums over the rows handed in."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from scipy import special

from monitor.reckoning.statistics.count_charts import CountChart, laney_p_chart, p_chart
from shared.durations import HOUR_US

#: Lengths a stretch of production may have [h], and the most points that a printed chart stays readable with.
STRETCHES_H = (1, 2, 4, 8, 12, 24)
MOST_POINTS = 60
#: Charts of a part: its most frequent causes; the table of rejects holds all.
MOST_CHARTS = 4
#: Fewer points say nothing about limits; common practice, no source.
LEAST_POINTS = 8

_COLUMNS = [
    "part_no", "kind", "cause", "chart", "start_us", "hours", "inspected", "rejected", "rate", "centre", "low", "high",
    "outside",
]  # fmt: skip


def charts(rejects: pd.DataFrame, from_us: int) -> pd.DataFrame:
    """Return the points of the charts of each part's most frequent causes, over stretches of clock hours.

    `rejects`: reject facts.  Full inspections where a part has them, else samples; tub counts have no denominator of
    their own.  `from_us`: where the stretches are counted from.
    """
    seen = rejects[rejects["kind"].isin(["full", "sample"]) & (rejects["inspected"] + rejects["rejected"] > 0)]
    points = [(part_no, *row) for part_no, rows in seen.groupby("part_no") for row in _of_part(rows, from_us)]
    return pd.DataFrame(points, columns=_COLUMNS)


def _of_part(rows: pd.DataFrame, from_us: int) -> list[tuple[object, ...]]:
    kind = "full" if (rows["kind"] == "full").any() else "sample"
    rows = rows[rows["kind"] == kind]
    hour_us, causes, inspected, rejected = (
        rows[name].to_numpy() for name in ("hour_us", "cause", "inspected", "rejected")
    )
    hours = _stretch(hour_us, from_us)
    starts, place = np.unique(_start(hour_us, from_us, hours), return_inverse=True)
    looked = _sums(inspected, place, len(starts))
    seen = looked > 0
    if np.count_nonzero(seen) < LEAST_POINTS:
        return []
    totals = {cause: int(rejected[causes == cause].sum()) for cause in np.unique(causes[rejected > 0])}
    found = []
    for cause in sorted(totals, key=lambda cause: (-totals[cause], cause))[:MOST_CHARTS]:
        bad = _sums(rejected[causes == cause], place[causes == cause], len(starts))
        # A recheck may lay more on a stretch than was looked at in it.
        name, points = _points(np.minimum(bad, looked)[seen], looked[seen])
        found += [(kind, cause, name, at, hours, *p) for at, p in zip(starts[seen].tolist(), points, strict=True)]
    return found


def _stretch(hour_us: np.ndarray, from_us: int) -> int:
    return next((h for h in STRETCHES_H if len(np.unique(_start(hour_us, from_us, h))) <= MOST_POINTS), STRETCHES_H[-1])


def _start(hour_us: np.ndarray, from_us: int, hours: int) -> np.ndarray:
    """Return when the stretches begin that some hours lie in [us]."""
    whole: np.ndarray = (hour_us - from_us) // (hours * HOUR_US) * (hours * HOUR_US)
    return from_us + whole


def _sums(counts: np.ndarray, place: np.ndarray, places: int) -> np.ndarray:
    sums = np.zeros(places, dtype=np.int64)
    np.add.at(sums, place, counts)
    return sums


def _points(found: np.ndarray, looked: np.ndarray) -> tuple[str, Iterator[tuple[object, ...]]]:
    """Return which chart it is, and by point: inspected, rejected, rate, centre, limits, whether it lies outside."""
    name, chart = _chart(found, looked)
    columns = (looked, found, chart.value, chart.centre, chart.low, chart.high, chart.outside)
    return name, zip(*(column.tolist() for column in columns), strict=True)


def _chart(found: np.ndarray, looked: np.ndarray) -> tuple[str, CountChart]:
    """Return the p chart; Laney's p' where the points scatter more than chance allows (chi-square, 1 %)."""
    plain = p_chart(found, looked)
    z = plain.standardised
    z = z[np.isfinite(z)]
    if z.size > 2 and float(np.sum(z**2)) > 2 * special.gammaincinv((z.size - 1) / 2, 0.99):
        wide = laney_p_chart(found, looked)
        if wide.spread_factor > 1:
            return "p'", wide
    return "p", plain
