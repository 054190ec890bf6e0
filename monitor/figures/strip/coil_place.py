"""Where a coil is: on a press, in store, or used up."""

from __future__ import annotations

import pandas as pd

from monitor.ledger import Snapshot
from monitor.reckoning.press.carry import from_json

STORE, PRESS, USED = "in store", "on press", "used up"

#: What is left of a used-up coil at most, as a part of what was received; common practice, no source.
_CRUMB = 0.02


def on_press(snapshot: Snapshot) -> dict[str, str]:
    """Return, by coil or reel, the press it lies on now."""
    carries = {press_id: from_json(text) for press_id, text in snapshot.last_carries().items()}
    on = {
        carry.coils.get(carry.strip.mounting_id, ""): press_id
        for press_id, carry in carries.items()
        if carry.strip.on_press
    }
    return {coil: press_id for coil, press_id in on.items() if coil}


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
