"""Figure rows added up for a screen: sums of what the figure tables hold, and the intervals of the totals.

Pure: frames or records in, frames or records out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from dashboards.ledger.records import Record, Records, records
from dashboards.parts.ribbon import PLAN_REASONS, reason_name
from dashboards.request.formats import known, text
from dashboards.request.locale import key, say
from monitor.figures.output.shifts import MOST_UNRESOLVED
from monitor.reckoning.press.stops import NO_REASON
from monitor.reckoning.statistics.intervals import wilson
from shared.calendar import Calendar
from shared.durations import HOUR_US

ESTIMATE = "sample"
"""The kind of inspection that estimates; the others count."""

_COIL_PARTS = (
    ("good", key("good pieces")),
    ("skeleton", key("skeleton and slugs")),
    ("unfinished", key("head and tail")),
    ("setup", key("setting pieces")),
    ("rejected", key("rejected pieces")),
    ("remaining", key("still on the coil")),
    ("difference", key("difference")),
)
_SPENT = ("planned", "running", "stopped", "unresolved")
_RATES = ("rate", "rate_low", "rate_high")
_SAME_PIECES = ["shift_date", "shift", "press_id", "die_id", "part_no", "coil_id", "lot"]


@dataclass(frozen=True)
class ScrapTotal:
    """Rejected of inspected pieces with the 95 % interval of the rate; None where nothing was inspected."""

    rejected: int
    inspected: int
    estimate: bool
    rate: float | None = None
    rate_low: float | None = None
    rate_high: float | None = None


@dataclass(frozen=True)
class RunningTime:
    """How the planned time of some rows of `shifts` was spent [s].

    `seen` tells that so little of it was not seen that running over planned time is known, `timed` that pieces over
    running time are.
    """

    planned_s: float
    running_s: float
    stopped_s: float
    unresolved_s: float
    seen: bool
    timed: bool


def running_time(shifts: Records) -> RunningTime:
    """Add up the time of rows of the figure `shifts`; of a die of several parts one row alone has it."""
    planned_s, running_s, stopped_s, unresolved_s = (
        sum(float(row[f"{name}_s"]) for row in shifts if known(row[f"{name}_s"])) for name in _SPENT
    )
    seen = unresolved_s <= MOST_UNRESOLVED * planned_s
    apart = [row for row in shifts if known(row["unresolved_s"]) and row["unresolved_s"] > 0]
    timed = seen and all(known(row["parts_per_running_hour"]) for row in apart)
    return RunningTime(planned_s, running_s, stopped_s=stopped_s, unresolved_s=unresolved_s, seen=seen, timed=timed)


def count_stops(stops: Records) -> int:
    """How many stops some rows of the figure `stops` are, what the shift plan itself sets aside left out.

    A stop cut by a shift change, a break or a reason is one: every screen counts here.
    """
    return len({row["stop_id"] for row in stops if row["reason"] not in PLAN_REASONS})


def without_reason(stops: Records) -> int:
    """How many stops of some rows of the figure `stops` have a part that nobody has explained."""
    return count_stops([row for row in stops if row["reason"] == NO_REASON])


def scrap_total(scrap: Records) -> ScrapTotal:
    """All causes together: what was counted (every piece, tubs) where there is any, else what samples found."""
    tallies = _tallies(scrap, [])
    if not tallies:
        return ScrapTotal(0, 0, estimate=True)
    (estimate,), tally = min(tallies.items(), key=lambda item: bool(item[0][-1]))
    rejected, inspected = tally.rejected, tally.inspected
    if not 0 < inspected >= rejected:
        return ScrapTotal(rejected, inspected, bool(estimate))
    low, high = wilson(np.array([rejected]), np.array([inspected]))
    return ScrapTotal(
        rejected,
        inspected,
        estimate=bool(estimate),
        rate=rejected / inspected,
        rate_low=float(low[0]),
        rate_high=float(high[0]),
    )


def scrap_totals(scrap: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """`scrap_total` for each group of `by`: those columns, rejected, inspected, estimate, the rate and its interval."""
    tallies = sorted(_tallies(records(scrap), by).items(), key=lambda item: item[0])
    rows = [(*key[:-1], tally.rejected, tally.inspected, bool(key[-1])) for key, tally in tallies]
    totals = pd.DataFrame(rows, columns=[*by, "rejected", "inspected", "estimate"])
    totals = totals.astype({"rejected": "int64", "inspected": "int64", "estimate": "bool"})
    totals = totals.drop_duplicates(by, keep="first", ignore_index=True)
    return totals.assign(**_rates(totals))


@dataclass
class _Tally:
    """Rejected pieces, and those looked at by what they are."""

    rejected: int
    cells: dict[tuple[Any, ...], int]

    @property
    def inspected(self) -> int:
        return sum(self.cells.values())


def _tallies(scrap: Records, by: list[str]) -> dict[tuple[Any, ...], _Tally]:
    """Sums by the columns of `by` and whether they estimate: in plain Python, since a board adds up a few rows a press.

    The causes of a cell share its pieces, and so do a tub count and a sort: pieces looked at at least once.
    """
    found: dict[tuple[Any, ...], _Tally] = {}
    for row in scrap:
        group = (*(row[name] for name in by), row["kind"] == ESTIMATE)
        tally = found.setdefault(group, _Tally(0, {}))
        tally.rejected += int(row["rejected"])
        looked = int(row["inspected"]) if known(row["inspected"]) else 0
        same = tuple(text(row[name]) for name in _SAME_PIECES)
        tally.cells[same] = max(tally.cells.get(same, 0), looked)
    return found


def scrap_by_cause(scrap: pd.DataFrame, names: Mapping[str, str]) -> pd.DataFrame:
    """One row a cause, counted and sampled apart: label, estimate, rejected, inspected, rate, rate_low, rate_high.

    Every inspection of the range stands in the denominator, also those that did not find the cause.
    """
    split = scrap.assign(estimate=scrap["kind"] == ESTIMATE)
    inspected = scrap_totals(split.assign(sampled=split["estimate"]), ["sampled"]).set_index("sampled")["inspected"]
    found = split[split["cause"] != ""].groupby(["cause", "estimate"])["rejected"].sum()
    rows = found.astype("int64").reset_index()
    rows["inspected"] = rows["estimate"].map(inspected).astype("int64")
    rows["label"] = [f"{cause} {names.get(cause, '')}".strip() for cause in rows["cause"]]
    rows = rows.assign(**_rates(rows)).sort_values(["estimate", "rejected"], ascending=[True, False], ignore_index=True)
    return rows.loc[:, ["label", "estimate", "rejected", "inspected", *_RATES]]


def stop_minutes(stops: pd.DataFrame, names: Mapping[str, str], by: Sequence[str] = ()) -> pd.DataFrame:
    """`standstill_by_reason` as a table, within each group of `by`: those columns, reason, kind, count, minutes."""
    columns = [*by, "reason", "kind", "count", "minutes"]
    table = pd.DataFrame(standstill_by_reason(records(stops), names, by), columns=columns)
    return table.astype({"count": "int64", "minutes": "float64"})


def standstill_by_reason(stops: Records, names: Mapping[str, str], by: Sequence[str] = ()) -> list[Record]:
    """Standing time by reason, the longest first: reason, kind, count of stops, minutes; within each group of `by`.

    What the shift plan itself sets aside (breaks, closed days, no shift) is left out.
    """
    sums: dict[tuple[Any, ...], tuple[set[str], float]] = {}
    for row in stops:
        if row["reason"] not in PLAN_REASONS:
            group = tuple(row[name] for name in (*by, "reason", "kind"))
            held, lasted = sums.get(group, (set(), 0.0))
            sums[group] = (held | {row["stop_id"]}, lasted + row["seconds"])
    rows: list[Record] = [
        dict(zip(by, group, strict=False))
        | {"reason": reason_name(text(group[-2]), names), "kind": text(group[-1])}
        | {"count": len(held), "minutes": lasted / 60}
        for group, (held, lasted) in sums.items()
    ]
    return sorted(rows, key=lambda row: (-row["minutes"], row["reason"]))


def coil_losses(coils: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Where the received weight went (part, label, kg, share), and how many coils of unknown weight are left out."""
    columns = [f"{part}_kg" for part, _ in _COIL_PARTS]
    weighed = coils[coils[["start_kg", *columns]].notna().all(axis=1)]
    rows = [("received", say("received"), float(weighed["start_kg"].sum()))]
    rows += [(part, say(label), float(weighed[f"{part}_kg"].sum())) for part, label in _COIL_PARTS]
    frame = pd.DataFrame(rows, columns=["part", "label", "kg"])
    received = rows[0][2]
    frame["share"] = frame["kg"] / received if received > 0 else float("nan")
    return frame, len(coils) - len(weighed)


def whole_sum(counts: pd.Series) -> int | None:
    """Sum of counts; None where one of them is not known, since the others alone would look like all."""
    return None if counts.isna().any() else int(counts.sum())


def in_shift(rows: pd.DataFrame, shift: str, calendar: Calendar | None) -> pd.DataFrame:
    """Rows of one shift of each day, all of them where `shift` is empty or the table knows neither shift nor hour.

    An hour over a shift change belongs to both.
    """
    if not shift or rows.empty:
        return rows
    if "shift" in rows:
        return rows[rows["shift"] == shift]
    if calendar is None or "hour_start" not in rows:
        return rows
    keep = [
        any(w.shift == shift for w in calendar.shifts(press_id, start, start + HOUR_US))
        for press_id, start in zip(rows["press_id"], rows["hour_start"].tolist(), strict=True)
    ]
    return rows[keep]


def coil_yield(coils: pd.DataFrame) -> float | None:
    """Weight of good pieces over weight of strip used, coils of unknown yield left out; None where none is left."""
    rows = coils[coils["coil_yield"].notna()]
    return float(rows["good_kg"].sum() / rows["used_kg"].sum()) if len(rows) else None


def _rates(counts: pd.DataFrame) -> dict[str, pd.Series[float]]:
    """Rate of each row with its interval, NaN where nothing was inspected or more was rejected than that."""
    fits = (counts["inspected"] > 0) & (counts["rejected"] <= counts["inspected"])
    low, high = wilson(counts["rejected"].where(fits, 0), counts["inspected"].where(fits, 0))
    inspected = counts["inspected"].astype(float)
    rate = counts["rejected"] / inspected.where(fits)
    ends = (pd.Series(end, index=counts.index) for end in (low, high))
    return dict(zip(_RATES, (rate, *ends), strict=True))
