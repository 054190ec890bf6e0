"""False alarms among many looks: adjusted p-values that say what a line is worth after everything looked at."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def benjamini_hochberg(p: ArrayLike, looks: int | None = None) -> Floats:
    """Adjusted p-values: calling all lines up to q keeps the false share among the lines called at q.

    `p` [1], any order; `looks` is the number of tests made when only the smaller p-values are passed in, the rest
    counting as 1.  Returns values in the order given, 0 to 1.  Raises ValueError for fewer looks than p-values.
    Source: Benjamini and Hochberg (1995), JRSS B 57, 289-300.
    """
    values = np.asarray(p, float)
    looks_made = values.size if looks is None else looks
    if looks_made < values.size:
        raise ValueError(f"{values.size} p-values from {looks} looks; expected at least as many looks")
    if not values.size:
        return values
    order = np.argsort(values)
    # What stands lower in the list may not count for more than what stands above it.
    stepped = np.minimum.accumulate((values[order] * looks_made / np.arange(1, values.size + 1))[::-1])[::-1]
    adjusted = np.empty_like(values)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


def holm(p: ArrayLike) -> Floats:
    """Adjusted p-values: calling all lines up to a keeps the chance of any false line at a.

    `p` [1], any order.  Returns values in the order given, 0 to 1.
    Source: Holm (1979), Scandinavian Journal of Statistics 6, 65-70.
    """
    values = np.asarray(p, float)
    order = np.argsort(values)
    stepped = np.maximum.accumulate(values[order] * np.arange(values.size, 0, -1))
    adjusted = np.empty_like(values)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted
