"""What scrap may come from: factors, the levels at which one of them is held to be bad, and what explains a trouble.

A level is a code with values; `monitor.verdict` has its sentence for each code, in every language.  A new kind of level
is a code more here and a sentence more there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

FACTORS = (
    "lot", "heat", "supplier", "cert", "coil_position", "wear", "press", "shift", "setup", "speed", "drift",
)  # fmt: skip

#: Factors whose levels are names from files.
BY_NAME = frozenset({"lot", "heat", "supplier", "press", "shift"})

LevelCode: TypeAlias = Literal[
    "is", "all_but", "coil", "coil_of_lot",
    "sharpening_rising", "sharpening_rising_faster", "sharpening_rising_late", "sharpening_falling",
    "sharpening_first", "sharpening_from", "before_sharpening_rising",
    "setting_rising", "setting_falling", "setting_first", "setting_from",
    "time_rising", "time_falling", "time_since", "time_before",
    "coil_first", "coil_last", "coil_ends", "coil_towards_end", "coil_towards_start",
    "value_high", "value_low", "value_from", "value_under",
]  # fmt: skip


@dataclass(frozen=True)
class Setting:
    """One setting of a die: the press it was set on, and the minute [plant time, ISO 8601]; as text both of them."""

    press_id: str
    set_at: str

    def __str__(self) -> str:
        return f"{self.press_id} set {self.set_at}"


@dataclass(frozen=True)
class Level:
    """A level of a factor: a code and the values that its sentence needs.

    `name`: the lot, heat, supplier, press, shift, coil or setting, or the value that was measured; `lot`: that of a
    coil.  `number`: where a step lies [strokes, m, days since 1970, or the unit of the value], rounded as it is
    written.  `stations`: those whose edge it is, none = all.
    """

    code: LevelCode
    name: str | Setting = ""
    lot: str = ""
    number: float | None = None
    stations: tuple[int, ...] = ()


@dataclass(frozen=True)
class Explanation:
    """What may explain a trouble: a factor and its level, or the curves that tell it together, the best one first."""

    factor: str
    levels: tuple[Level, ...]
