"""The coil ledger seen from above: yield by lot, supplier or die, and differences that nothing explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from monitor.reckoning.difference import CoilAccount, judge

MM_PER_M = 1000

DIFFERENCES = ("coil_id", "press_id", "mounted_at", "difference_kg", "explained_kg", "likeliest", "entered", "needed")


def yields(coils: pd.DataFrame, by: Sequence[str]) -> pd.DataFrame:
    """Sum the `coils` figure by some of its columns: mountings, used_kg, good_kg, coil_yield (good per strip used).

    Mountings of which a weight is not known are left out and counted in `unweighed`.
    """
    known = coils["used_kg"].notna() & coils["good_kg"].notna()
    rows = coils.assign(unweighed=(~known).astype("int64"), mountings=1)
    rows[["used_kg", "good_kg"]] = rows[["used_kg", "good_kg"]].where(known, 0.0)
    sums = rows.groupby(list(by), as_index=False)[["mountings", "unweighed", "used_kg", "good_kg"]].sum()
    sums["coil_yield"] = sums["good_kg"] / sums["used_kg"].where(sums["used_kg"] > 0)
    return sums


def differences(
    coils: pd.DataFrame,
    book: Mapping[str, Mapping[str, Any]],
    *,
    interval_kg: float = 1.0,
    thickness_tolerance: float = 0.02,
) -> pd.DataFrame:
    """Return the mountings of the `coils` figure whose difference is more than weighing and thickness explain.

    `book` holds the rows of `coils` by coil_id; `interval_kg` is the step of the scale, `thickness_tolerance` a part of
    one (2 %: common practice, no source).  `likeliest` is the one input that would mend it, with the value entered and
    the value it would need.
    """
    found = [_judged(row, book, interval_kg, thickness_tolerance) for row in coils.to_dict("records")]
    return pd.DataFrame([row for row in found if row is not None], columns=list(DIFFERENCES))


def _judged(
    row: Mapping[Any, Any], book: Mapping[str, Mapping[str, Any]], interval_kg: float, thickness_tolerance: float
) -> tuple[object, ...] | None:
    coil = book.get(row["coil_id"])
    known = coil and coil.get("width_mm") and coil.get("thickness_mm")
    if not coil or not known or any(pd.isna(row[name]) for name in ("start_kg", "remaining_kg", "used_kg")):
        return None
    strokes = int(row["strokes"])
    account = CoilAccount(
        float(row["start_kg"]),
        float(row["remaining_kg"]),
        float(row["used_kg"]),
        float(coil["width_mm"]),
        float(coil["thickness_mm"]),
        float(row["used_m"]) * MM_PER_M / max(1, strokes),
        strokes,
        interval_kg=interval_kg,
        thickness_tolerance_mm=thickness_tolerance * float(coil["thickness_mm"]),
    )
    found = judge(account)
    if found is None or not found.flagged:
        return None
    entered = getattr(account, found.likeliest) if found.likeliest else None
    named = (row["coil_id"], row["press_id"], row["mounted_at"])
    return (*named, found.difference_kg, found.explained_kg, found.likeliest, entered, found.value)
