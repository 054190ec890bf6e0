"""Figure rows added up for a screen: sums of what the figure tables hold, and the intervals of the totals.

Pure: frames in, frames out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from dashboards.formats import text
from dashboards.ribbon import BREAK, reason_name
from monitor.reckoning.intervals import wilson

ESTIMATE = "sample"
"""The kind of inspection that estimates; the others count."""

_COIL_PARTS = (
    ("good", "good pieces"),
    ("skeleton", "skeleton and slugs"),
    ("unfinished", "head and tail"),
    ("setup", "setting pieces"),
    ("rejected", "rejected pieces"),
    ("remaining", "still on the coil"),
    ("difference", "difference"),
)
_SAME_PIECES = ["shift_date", "shift", "press_id", "die_id", "part_no", "coil_id", "lot"]


@dataclass(frozen=True)
class ScrapTotal:
    """Rejected of inspected pieces with the 95 % interval of the rate; None where nothing was inspected."""

    rejected: int
    inspected: int
    estimate: bool
    rate: float | None = None
    low: float | None = None
    high: float | None = None


def scrap_total(scrap: pd.DataFrame) -> ScrapTotal:
    """All causes together: what was counted (every piece, tubs) where there is any, else what samples found."""
    counted = scrap[scrap["kind"] != ESTIMATE]
    rows = counted if len(counted) else scrap
    rejected = int(rows["rejected"].sum())
    inspected = _inspected(rows)
    low, high = _interval(rejected, inspected)
    rate = rejected / inspected if inspected else None
    return ScrapTotal(rejected, inspected, not len(counted), rate, low, high)


def scrap_by_cause(scrap: pd.DataFrame, names: Mapping[str, str]) -> pd.DataFrame:
    """One row a cause, counted and sampled apart: label, estimate, rejected, inspected, rate and its interval.

    Every inspection of the range stands in the denominator, also those that did not find the cause.
    """
    rows: list[dict[str, object]] = []
    for estimate, part in scrap.groupby(scrap["kind"] == ESTIMATE):
        inspected = _inspected(part)
        for cause, found in part[part["cause"] != ""].groupby("cause"):
            rejected = int(found["rejected"].sum())
            low, high = _interval(rejected, inspected)
            rate = rejected / inspected if inspected else None
            name = names.get(str(cause), "")
            rows.append(
                {
                    "label": f"{cause} {name}".strip(),
                    "estimate": bool(estimate),
                    "rejected": rejected,
                    "inspected": inspected,
                    "rate": rate,
                    "rate_low": low,
                    "rate_high": high,
                }
            )
    columns = ["label", "estimate", "rejected", "inspected", "rate", "rate_low", "rate_high"]
    frame = pd.DataFrame(rows, columns=columns).astype({"rate": float, "rate_low": float, "rate_high": float})
    return frame.sort_values(["estimate", "rejected"], ascending=[True, False], ignore_index=True)


def stop_minutes(stops: pd.DataFrame, names: Mapping[str, str]) -> pd.DataFrame:
    """Standing time by reason, planned breaks left out: reason, kind, count of stops, minutes; the longest first."""
    rows = stops[stops["reason"] != BREAK]
    sums = rows.groupby(["reason", "kind"], as_index=False, dropna=False).agg(
        count=("stop_id", "nunique"), minutes=("seconds", "sum")
    )
    sums["minutes"] = sums["minutes"].astype(float) / 60
    sums["reason"] = [reason_name(text(reason), names) for reason in sums["reason"]]
    return sums.sort_values(["minutes", "reason"], ascending=[False, True], ignore_index=True)


def coil_losses(coils: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Where the received weight went (part, label, kg, share), and how many coils of unknown weight are left out."""
    columns = [f"{part}_kg" for part, _ in _COIL_PARTS]
    weighed = coils[coils[["start_kg", *columns]].notna().all(axis=1)]
    rows = [("received", "received", float(weighed["start_kg"].sum()))]
    rows += [(part, label, float(weighed[f"{part}_kg"].sum())) for part, label in _COIL_PARTS]
    frame = pd.DataFrame(rows, columns=["part", "label", "kg"])
    received = rows[0][2]
    frame["share"] = frame["kg"] / received if received > 0 else float("nan")
    return frame, len(coils) - len(weighed)


def coil_yield(coils: pd.DataFrame) -> float | None:
    """Weight of good pieces over weight of strip used, coils without either left out; None where none is left."""
    rows = coils[coils["good_kg"].notna() & (coils["used_kg"] > 0)]
    return float(rows["good_kg"].sum() / rows["used_kg"].sum()) if len(rows) else None


def _inspected(scrap: pd.DataFrame) -> int:
    """Pieces looked at at least once: the causes of a cell share its pieces, and so do a tub count and a sort."""
    return int(scrap.groupby(_SAME_PIECES, dropna=False)["inspected"].max().sum())


def _interval(rejected: int, inspected: int) -> tuple[float | None, float | None]:
    if not 0 < inspected >= rejected:
        return None, None
    low, high = wilson(rejected, inspected)
    return float(low), float(high)
