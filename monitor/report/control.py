"""Control charts of a customer's parts: pure sums over the rows handed in."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from monitor.reckoning.limits import CountChart, laney_p_chart, p_chart

HOUR_US = 3_600 * 1_000_000

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
    drawn = [_of_part(rows, str(part_no), from_us) for part_no, rows in seen.groupby("part_no")]
    drawn = [table for table in drawn if len(table)]
    return pd.concat(drawn, ignore_index=True) if drawn else pd.DataFrame(columns=_COLUMNS)


def _of_part(rows: pd.DataFrame, part_no: str, from_us: int) -> pd.DataFrame:
    kind = "full" if (rows["kind"] == "full").any() else "sample"
    rows = rows[rows["kind"] == kind]
    hours = _stretch(rows["hour_us"], from_us)
    starts = from_us + (rows["hour_us"] - from_us) // (hours * HOUR_US) * hours * HOUR_US
    looked = rows.groupby(starts)["inspected"].sum()
    looked = looked[looked > 0]
    totals = rows[rows["rejected"] > 0].groupby("cause")["rejected"].sum()
    worst = sorted(totals.index, key=lambda cause: (-totals[cause], cause))[:MOST_CHARTS]
    if len(looked) < LEAST_POINTS or not worst:
        return pd.DataFrame(columns=_COLUMNS)
    tables = []
    for cause in worst:
        found = rows[rows["cause"] == cause].groupby(starts)["rejected"].sum().reindex(looked.index, fill_value=0)
        # A recheck may lay more on a stretch than was looked at in it.
        found = found.clip(upper=looked)
        tables.append(_points(found, looked).assign(part_no=part_no, kind=kind, cause=cause, hours=hours))
    return pd.concat(tables, ignore_index=True)[_COLUMNS]


def _stretch(hours_us: pd.Series, from_us: int) -> int:
    for hours in STRETCHES_H:
        if ((hours_us - from_us) // (hours * HOUR_US)).nunique() <= MOST_POINTS:
            return hours
    return STRETCHES_H[-1]


def _points(found: pd.Series, looked: pd.Series) -> pd.DataFrame:
    name, chart = _chart(found.to_numpy(), looked.to_numpy())
    return pd.DataFrame(
        {
            "chart": name,
            "start_us": found.index.to_numpy(),
            "inspected": looked.to_numpy(),
            "rejected": found.to_numpy(),
            "rate": chart.value,
            "centre": chart.centre,
            "low": chart.low,
            "high": chart.high,
            "outside": chart.outside,
        }
    )


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
