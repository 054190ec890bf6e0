"""Whole strokes split at boundaries, so that every split adds up to the counter."""

from __future__ import annotations

import numpy as np

from monitor.reckoning.press.counters import Ints


def largest_remainder(total: int, weights: Ints) -> Ints:
    """Share a whole number over weights in whole numbers that add up to it.

    `total` >= 0, `weights` >= 0 with a positive sum; equal remainders go to the earlier share.  Exact integers.
    Source: the method of largest remainders (Hamilton), as in public apportionment.
    """
    if len(weights) == 1:
        return np.array([total], dtype=np.int64)
    parts = [int(w) for w in weights]
    whole = sum(parts)
    if whole == 0:
        parts, whole = [1] * len(parts), len(parts)
    shares = np.array([total * w // whole for w in parts], dtype=np.int64)
    remainders = [total * w % whole for w in parts]
    left = total - int(shares.sum())
    for index in sorted(range(len(parts)), key=lambda i: (-remainders[i], i))[:left]:
        shares[index] += 1
    return shares


def before_cuts(cuts_us: Ints, start_us: Ints, end_us: Ints, counts: Ints) -> Ints:
    """Return how many of the counts in contiguous intervals (start, end] lie before each cut.

    `cuts_us` ascending [us]; counts are spread evenly inside an interval and rounded by largest remainder over all
    cuts that fall into it, so that the differences between cuts add up to the counts exactly.  Counts of an interval
    without length lie before a cut at its moment, but for a cut at the very start, which has nothing before it.
    """
    if len(counts) == 0:
        return np.zeros(len(cuts_us), dtype=np.int64)
    running = np.concatenate(([0], np.cumsum(counts)))
    at = np.searchsorted(end_us, cuts_us, side="right")
    slot = np.minimum(at, len(end_us) - 1)
    inside = (at < len(end_us)) & (cuts_us > start_us[slot])
    result = np.where(cuts_us > start_us[0], running[at], 0)
    for interval in np.unique(slot[inside & (counts[slot] > 0)]):
        chosen = np.flatnonzero(inside & (slot == interval))
        edges = np.concatenate(([start_us[interval]], cuts_us[chosen], [end_us[interval]]))
        shares = largest_remainder(int(counts[interval]), np.diff(edges))
        result[chosen] = running[interval] + np.cumsum(shares)[:-1]
    return result
