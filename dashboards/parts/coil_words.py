"""A coil in words: weights, where it is, what its kilograms became, and what is to be said of a difference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dashboards.request.formats import UNKNOWN, decimal, known, share, size_unit, weight, weight_unit
from dashboards.request.locale import key, say
from monitor.figures.material.coil_ledger import UNEXPLAINED, UNWEIGHED
from shared.units import convert

Row = Mapping[Any, Any]

#: A difference is drawn from this part of the coil on.
_SEEN = 0.002

PARTS: Mapping[str, str] = {
    "good": key("Good pieces"),
    "skeleton": key("Skeleton and slugs"),
    "unfinished": key("Unfinished"),
    "setup": key("Setting"),
    "rejected": key("Rejects"),
    "left": key("Left"),
    "difference": key("Difference"),
}
"""What a coil's kilograms became, in the order in which they are drawn."""

STATES: Mapping[str, str] = {
    "on press": key("on press {press}"),
    "in store": key("in store"),
    "used up": key("used up"),
}

INPUTS: Mapping[str, str] = {
    "width_mm": key("width"),
    "thickness_mm": key("thickness"),
    "pitch_mm": key("pitch"),
    "count": key("stroke count"),
}


def heavy(kg: object) -> str:
    """A weight with its unit: tonnes from ten thousand kilograms on, no digits after the point from a hundred on."""
    if not known(kg):
        return UNKNOWN
    amount = float(kg)  # type: ignore[arg-type]
    if abs(amount) >= 10_000 and weight_unit() == "kg":
        return f"{decimal(amount / 1000)} t"
    return weight(amount, 0 if abs(amount) >= 100 else 1)


def mass(kg: object) -> float | None:
    """A weight in the unit that is shown; None where it is not known."""
    return convert(float(kg), "kg", weight_unit()) if known(kg) else None  # type: ignore[arg-type]


def difference_words(row: Row) -> str:
    """What is to be said of a coil's difference, "" where it was never weighed again."""
    if row["finding"] == UNWEIGHED:
        return ""
    if row["finding"] != UNEXPLAINED:
        return say("weighing and counting explain {kg}", kg=f"± {heavy(row['explained_kg'])}")
    if not row["likeliest"]:
        return say("no single input explains it: weigh again")
    counted = row["likeliest"] == "count"
    unit = "mm" if counted else size_unit()
    digits = 0 if counted else 3 if unit == "mm" else 4
    names = ("entered", "needed_low", "needed_high")
    entered, low, high = (decimal(convert(float(row[name]), "mm", unit), digits) for name in names)
    if not counted:
        high = f"{high} {unit}"
    return say(
        "likeliest {input}: {entered} entered, {low} to {high} would fit ({chance})",
        input=say(INPUTS[row["likeliest"]]),
        entered=entered,
        low=low,
        high=high,
        chance=share(row["chance"], 0),
    )


def where(row: Row) -> str:
    """Where a coil is, in words."""
    return say(STATES[row["state"]], press=", ".join(row["press_id"]))


def parts_of(row: Row) -> Sequence[tuple[str, float]]:
    """What the coil's kilograms became, by part, without what is nothing, or a difference too small to see."""
    least = _SEEN * float(row["received_kg"]) if known(row["received_kg"]) else 0.0
    found = [(part, float(row[f"{part}_kg"])) for part in PARTS if known(row[f"{part}_kg"])]
    return [(part, kg) for part, kg in found if kg and (part != "difference" or abs(kg) >= least)]
