"""Yields of strip by lot, supplier or die, from the `coils` table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy import special


def yields(coils: pd.DataFrame, by: Sequence[str], confidence: float = 0.95) -> pd.DataFrame:
    """Sum the `coils` table by some of its columns: mountings, coils, used_kg, good_kg, yield with its interval.

    `coil_yield` is good over strip used; `of_possible` is good over what the dies can give of that strip, which is
    the one to compare dies by.  The interval is that of a ratio over mountings taken as drawn at random (from memory of
    survey sampling); one mounting has none.  Those of which a weight is not known, or whose strip waits for another
    die, are counted in `unweighed` alone.
    """
    known = coils["used_kg"].notna() & coils["coil_yield"].notna()
    rows = coils.assign(unweighed=(~known).astype("int64"), mountings=1)
    rows["possible_kg"] = rows["used_kg"] - rows["skeleton_kg"]
    for name in ("used_kg", "good_kg", "possible_kg"):
        rows[name] = rows[name].where(known, 0.0)
    grouped = rows.groupby(list(by), sort=True)
    sums = grouped[["mountings", "unweighed", "used_kg", "good_kg", "possible_kg"]].sum()
    sums["coils"] = grouped["coil_id"].nunique()
    for name, whole in (("coil_yield", "used_kg"), ("of_possible", "possible_kg")):
        sums[name] = sums["good_kg"] / sums[whole].where(sums[whole] > 0)
        doubt = _doubt(rows[known], list(by), sums[name], whole, confidence).reindex(sums.index)
        sums[f"{name}_low"], sums[f"{name}_high"] = (
            (sums[name] - doubt).clip(lower=0),
            (sums[name] + doubt).clip(upper=1),
        )
    return sums.reset_index()


def _doubt(rows: pd.DataFrame, by: list[str], ratio: pd.Series, whole: str, confidence: float) -> pd.Series:
    """Return half the width of the interval of good over `whole`, missing where fewer than two mountings tell."""
    expected = (
        rows[whole] * ratio.reindex(pd.MultiIndex.from_frame(rows[by]) if len(by) > 1 else rows[by[0]]).to_numpy()
    )
    squares = rows.assign(square=(rows["good_kg"] - expected) ** 2).groupby(by)
    n = squares.size()
    spread: pd.Series = np.sqrt(squares["square"].sum() * n / (n - 1).where(n > 1)) / squares[whole].sum()
    return spread.mul(special.stdtrit((n - 1).where(n > 1), (1 + confidence) / 2))
