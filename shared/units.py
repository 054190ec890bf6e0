"""Units that loggers write, and the SI units the tables are kept in."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from shared.errors import RequestError

METRIC: Final = "metric"
INCH: Final = "inch"
"""What amounts are shown in: as they are kept, or in the units of INCH_UNITS."""

INCH_UNITS: Mapping[str, str] = MappingProxyType({"m": "ft", "kg": "lb", "mm": "in", "MPa": "ksi"})
"""Unit an amount is kept in -> unit it is shown in where inch and pound are spoken."""

Amount = TypeVar("Amount", float, NDArray[np.float64])

# Inch and pound are exact by the international yard and pound agreement of 1959; the rest follows from them.
_INCH_M = 0.0254
_POUND_KG = 0.453_592_37
_GRAVITY = 9.806_65
_POUND_FORCE_N = _POUND_KG * _GRAVITY
_PSI_PA = _POUND_FORCE_N / _INCH_M**2

# Unit: (what it measures, size in the base unit of that quantity).
UNITS: dict[str, tuple[str, float]] = {
    "um": ("length", 1e-6),
    "mm": ("length", 1e-3),
    "cm": ("length", 1e-2),
    "m": ("length", 1.0),
    "in": ("length", _INCH_M),
    "ft": ("length", 12 * _INCH_M),
    "g": ("weight", 1e-3),
    "kg": ("weight", 1.0),
    "t": ("weight", 1e3),
    "oz": ("weight", _POUND_KG / 16),
    "lb": ("weight", _POUND_KG),
    "s": ("time", 1.0),
    "min": ("time", 60.0),
    "h": ("time", 3600.0),
    "1/s": ("rate", 60.0),
    "1/min": ("rate", 1.0),
    "spm": ("rate", 1.0),
    "1/h": ("rate", 1 / 60),
    "m/min": ("speed", 1.0),
    "ft/min": ("speed", 12 * _INCH_M),
    "fpm": ("speed", 12 * _INCH_M),
    "N": ("force", 1e-3),
    "kN": ("force", 1.0),
    "tonf": ("force", 2000 * _POUND_FORCE_N / 1e3),
    "MPa": ("stress", 1.0),
    "N/mm2": ("stress", 1.0),
    "psi": ("stress", _PSI_PA / 1e6),
    "ksi": ("stress", _PSI_PA / 1e3),
    "kg/m3": ("density", 1.0),
    "g/cm3": ("density", 1e3),
    "lb/in3": ("density", _POUND_KG / _INCH_M**3),
    "%": ("share", 0.01),
    "1": ("share", 1.0),
}


def convert(amount: Amount, unit: str, into: str) -> Amount:
    """The amount [unit] in another unit of the same quantity; RequestError where there is none."""
    quantity, size = _unit(unit)
    wanted, base = _unit(into)
    if quantity != wanted:
        raise RequestError("units", f"{unit} for {into}", f"a unit of {wanted}", "Name the unit the file holds")
    return amount if unit == into else amount * (size / base)


def _unit(name: str) -> tuple[str, float]:
    try:
        return UNITS[name]
    except KeyError:
        raise RequestError("units", f"unit {name!r}", "one of " + ", ".join(UNITS), "Write it so") from None
