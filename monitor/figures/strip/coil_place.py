"""Where a coil is: on a press, in store, or used up."""

from __future__ import annotations

import pandas as pd

STORE, PRESS, USED = "in store", "on press", "used up"

#: What is left of a used-up coil at most, as a part of what was received; common practice, no source.
_CRUMB = 0.02


def state(left_kg: float | None, received_kg: float | None, press_id: str) -> str:
    """Return where a coil is, by what is left of it [kg]; without a weight it is taken to be in store."""
    if press_id:
        return PRESS
    if left_kg is None or received_kg is None or not left_kg <= _CRUMB * received_kg:
        return STORE
    return USED


def used_up(left_kg: pd.Series[float], received_kg: pd.Series[float]) -> pd.Series[bool]:
    """Tell of many coils whether `state` calls them used up."""
    return left_kg <= _CRUMB * received_kg
