"""The difference left in a coil's ledger: whether weighing, thickness and counting explain it, and what would mend it.

Received = good + skeleton + unfinished + setting + rejected + remaining + difference.  Everything taken off is strip
used times the weight of a metre, so one wrong input scales the whole of it; a wrong scale does not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

#: Error limits of scales by accuracy class, in verification intervals: (load up to, limit) pairs in intervals.
#: Maximum permissible errors on initial verification after OIML R 76-1, from memory.
SCALE_LIMITS: Mapping[str, Sequence[tuple[float, float]]] = {
    "III": ((500, 0.5), (2_000, 1.0), (10_000, 1.5)),
    "IIII": ((50, 0.5), (200, 1.0), (1_000, 1.5)),
}
#: In use the limits are twice those on verification (OIML R 76-1, from memory).
IN_USE = 2.0

#: Kilograms that everyday rounding leaves; smaller differences are not worth a word.  Common practice, no source.
TRIFLE_KG = 0.5

INPUTS = ("width_mm", "thickness_mm", "pitch_mm", "count")


@dataclass(frozen=True)
class CoilAccount:
    """What is known of one mounting of a coil: weights [kg], strip [mm] and progressions used.

    `left_kg` is what was weighed at the end; None where it was not, and then there is no difference to judge.
    `expected` is what the die or the part wants of an input [mm]: one that was entered otherwise is the likelier wrong.
    """

    start_kg: float
    left_kg: float | None
    used_kg: float
    width_mm: float
    thickness_mm: float
    pitch_mm: float
    count: int
    interval_kg: float = 1.0
    scale: str = "III"
    thickness_tolerance_mm: float = 0.0
    width_tolerance_mm: float = 0.0
    count_doubt: int = 0
    expected: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Judged:
    """A difference [kg], how much is explained [kg], and the one input that would mend it with the value it would need.

    `likeliest` is "" where the difference is explained or no single input can mend it.  `chance` is that it is this
    input, if it is one of the four alone; `low` and `high` is the value it would need as far as the scales tell.
    """

    difference_kg: float
    explained_kg: float
    flagged: bool
    likeliest: str
    value: float
    chance: float = math.nan
    low: float = math.nan
    high: float = math.nan


def judge(account: CoilAccount) -> Judged | None:
    """Judge the difference of a coil that was weighed at the end; None where it was not, or nothing was used.

    Errors that do not know of each other add as squares.
    """
    if account.left_kg is None or account.used_kg <= 0:
        return None
    difference = account.start_kg - account.left_kg - account.used_kg
    explained = max(TRIFLE_KG, explained_kg(account))
    if abs(difference) <= explained:
        return Judged(difference, explained, False, "", math.nan)
    factor = 1 + difference / account.used_kg
    if factor <= 0:
        return Judged(difference, explained, True, "", math.nan)
    chance, likeliest = max((chance, name) for name, chance in chances(account, factor).items())
    doubt = math.hypot(*weighing_errors_kg(account)) / account.used_kg
    low, value, high = (_needed(account, likeliest, f) for f in (factor - doubt, factor, factor + doubt))
    return Judged(
        difference, explained, flagged=True, likeliest=likeliest, value=value, chance=chance, low=low, high=high
    )


def chances(account: CoilAccount, factor: float) -> dict[str, float]:
    """Return, by input, the chance that it is the wrong one if one of them alone is off by a factor; they add to 1.

    A wrong entry is far off more often than a bell curve allows, so each input is given the curve s / (s^2 + r^2) for
    being off by a part r, with s the part by which it usually is.  Common practice, no source.
    """
    off = abs(factor - 1)
    usual = {name: _usual(account, name) / float(getattr(account, name)) for name in INPUTS}
    weights = {name: s / (s * s + off * off) for name, s in usual.items()}
    whole = sum(weights.values())
    return {name: weight / whole for name, weight in weights.items()}


def explained_kg(account: CoilAccount) -> float:
    """Return how far a right ledger may be out: two weighings, the tolerances of the strip, and the count [kg]."""
    weighings = weighing_errors_kg(account)
    shares = (
        account.thickness_tolerance_mm / account.thickness_mm,
        account.width_tolerance_mm / account.width_mm,
        account.count_doubt / max(1, account.count),
    )
    return math.hypot(*weighings, *(account.used_kg * share for share in shares))


def weighing_errors_kg(account: CoilAccount) -> tuple[float, float]:
    """Return by how much the first and the last weighing may be out [kg]."""
    first, last = (scale_error_kg(kg, account.interval_kg, account.scale) for kg in _weighed(account))
    return first, last


def _weighed(account: CoilAccount) -> tuple[float, float]:
    return account.start_kg, account.left_kg or 0.0


def scale_error_kg(load_kg: float, interval_kg: float, scale: str = "III") -> float:
    """Return the largest error a verified scale in use may show at a load [kg]; `interval_kg` is its smallest step.

    Above the range of its class the last limit holds.  Raises KeyError for a class other than III and IIII.
    """
    steps = load_kg / interval_kg
    limits = SCALE_LIMITS[scale]
    limit = next((error for upto, error in limits if steps <= upto), limits[-1][1])
    return IN_USE * limit * interval_kg


def _needed(account: CoilAccount, name: str, factor: float) -> float:
    value = float(getattr(account, name)) * factor
    return round(value) if name == "count" else value


def _usual(account: CoilAccount, name: str) -> float:
    """Return by how much an input may be off; pitch and a count without gaps hardly ever are."""
    usual = {
        "width_mm": account.width_tolerance_mm or 0.01 * account.width_mm,
        "thickness_mm": account.thickness_tolerance_mm or 0.05 * account.thickness_mm,
        "pitch_mm": 0.002 * account.pitch_mm,
        "count": account.count_doubt or 0.002 * account.count,
    }
    entered = float(getattr(account, name))
    return max(usual[name], abs(entered - account.expected.get(name, entered)))


@dataclass(frozen=True)
class CoilEnd:
    """When a coil runs out: progressions and pieces left, and minutes with the interval in which the end must fall.

    The interval comes from how well the weight left is known and from the slowest and quickest rate given.
    """

    progressions: int
    pieces: int
    minutes: float
    minutes_low: float
    minutes_high: float


def coil_end(
    left_kg: float,
    kg_per_m: float,
    pitch_mm: float,
    outs: int,
    spm: float,
    *,
    left_doubt_kg: float = 0.0,
    spm_range: tuple[float, float] | None = None,
) -> CoilEnd | None:
    """Forecast the end of a coil; None where weight, pitch or rate [spm] is not known or is nothing."""
    if not all(value > 0 for value in (kg_per_m, pitch_mm, spm)) or not left_kg >= 0:
        return None
    slow, quick = spm_range or (spm, spm)

    def strokes(kg: float) -> float:
        return max(0.0, kg) / kg_per_m * 1000 / pitch_mm

    whole = math.floor(strokes(left_kg) + 1e-9)
    low, high = strokes(left_kg - left_doubt_kg) / quick, strokes(left_kg + left_doubt_kg) / slow
    return CoilEnd(whole, whole * outs, strokes(left_kg) / spm, low, high)
