"""What to run next, and the pieces it takes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypeAlias

from scipy import special

from shared.factors import Explanation

_MOST_PIECES = 10_000_000

AdviceCode: TypeAlias = Literal[
    "another_lot", "another_coil", "another_heat", "another_supplier", "both_ends_of_value", "that_stretch",
    "around_sharpening", "another_press", "both_shifts", "set_again", "first_after_setting", "both_speeds",
    "change_one_back", "sharp_die", "one_without_other", "too_few_rejects", "more_pieces", "nothing",
]  # fmt: skip

_CONFIRM: Mapping[str, AdviceCode] = MappingProxyType(
    {
        "lot": "another_lot",
        "coil": "another_coil",
        "heat": "another_heat",
        "supplier": "another_supplier",
        "cert": "both_ends_of_value",
        "coil_position": "that_stretch",
        "wear": "around_sharpening",
        "press": "another_press",
        "shift": "both_shifts",
        "setup": "set_again",
        "since_set": "first_after_setting",
        "speed": "both_speeds",
        "drift": "change_one_back",
    }
)
_AT_THE_DIE = frozenset({"wear", "setup", "since_set"})


@dataclass(frozen=True)
class Contrast:
    """Two shares [1] that a test is to tell apart, and the pieces on either side it takes; None = as many as can be."""

    usual: float
    bad: float
    pieces: int | None


@dataclass(frozen=True)
class Advice:
    """What to run next: a code and the values that its sentence needs.

    `about`: the explanations that it tests.  `pieces` to inspect in each level, to see a rate `times` the usual.
    `lock_out` is set wherever it sends a person to the die.
    """

    code: AdviceCode
    about: tuple[Explanation, ...] = ()
    contrast: Contrast | None = None
    pieces: int | None = None
    times: float | None = None
    lock_out: bool = False


def pieces_needed(usual: float, bad: float, confidence: float = 0.95, power: float = 0.8) -> int | None:
    """Pieces to inspect on either side to tell two shares apart, rounded up to two digits; None where it cannot be.

    `usual`, `bad`: shares [1].  Two-sided, normal approximation.
    Source: Fleiss (1981), Statistical Methods for Rates and Proportions, chapter 3.
    """
    if not 0 <= usual < bad < 1:
        return None
    quantiles = special.ndtri((1 + confidence) / 2) + special.ndtri(power)
    pieces = quantiles**2 * (usual * (1 - usual) + bad * (1 - bad)) / (bad - usual) ** 2
    if pieces > _MOST_PIECES:
        return None
    unit = 10 ** max(math.floor(math.log10(pieces)) - 1, 0)
    return int(math.ceil(pieces / unit) * unit)


def confirm(factor: str, tested: Explanation, usual: float, bad: float) -> Advice:
    """Advice for a line that acts; `factor` as it is looked at, `tested` as it is named in the answer."""
    return Advice(_CONFIRM[factor], (tested,), contrast=_contrast(usual, bad), lock_out=factor in _AT_THE_DIE)


def part(one: Explanation, other: Explanation, usual: float, bad: float) -> Advice:
    """Advice for two explanations that cannot be told apart; of a lot and the wear the lot comes first."""
    factors = {one.factor, other.factor}
    of_a_lot = factors == {"lot", "wear"}
    about = (other, one) if of_a_lot and other.factor == "lot" else (one, other)
    return Advice(
        "sharp_die" if of_a_lot else "one_without_other",
        about,
        contrast=_contrast(usual, bad),
        lock_out=bool(factors & _AT_THE_DIE),
    )


def more(usual: float, ratio: float) -> Advice:
    """Advice where too few pieces were looked at."""
    pieces = pieces_needed(usual, min(usual * ratio, 0.99))
    return Advice("too_few_rejects") if pieces is None else Advice("more_pieces", pieces=pieces, times=ratio)


def ruled_out(ratio: float) -> Advice:
    """Advice for a factor that is clear."""
    return Advice("nothing", times=ratio)


def _contrast(usual: float, bad: float) -> Contrast:
    return Contrast(usual, bad, pieces_needed(usual, bad))
