"""The test of Shapiro and Wilk: whether values may come of a normal distribution.

scipy.stats has it too; but loading that takes longer than everything else a week's report needs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

Floats = NDArray[np.float64]

LEAST, MOST = 8, 5000

# Coefficients of the published approximation, highest power last.
_LAST = (0.0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056)
_LAST_BUT_ONE = (0.0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633)
_MEAN = (-1.5861, -0.31082, -0.083751, 0.0038915)
_LOG_SD = (-0.4803, -0.082676, 0.0030302)
# Up to eleven values follow another curve.
_FEW = 11
_FEW_REACH, _FEW_MEAN = (-2.273, 0.459), (0.544, -0.39978, 0.025054, -6.714e-4)
_FEW_LOG_SD = (1.3822, -0.77857, 0.062767, -0.0020322)


def shapiro_wilk(values: ArrayLike) -> tuple[float, float]:
    """Return W and the chance of one as small from normal values.

    `values`: 8 to 5000 of them, not all the same.  Raises ValueError outside that.  Source: Royston (1995), algorithm
    AS R94, Applied Statistics 44, 547-551.
    """
    x = np.sort(np.asarray(values, float))
    if not LEAST <= x.size <= MOST or not x[-1] > x[0]:
        raise ValueError(f"{x.size} values; expected {LEAST} to {MOST}, not all the same")
    weights = _weights(x.size)
    w = float((weights @ x) ** 2 / np.sum((x - x.mean()) ** 2))
    return w, float(special.ndtr(-_normal_score(np.log1p(-min(w, 1 - 1e-15)), x.size)))


def _normal_score(beyond: float, n: int) -> float:
    """Return how many standard deviations the logarithm of 1 - W lies above its mean."""
    if n > _FEW:
        return (beyond - _at(_MEAN, np.log(n))) / float(np.exp(_at(_LOG_SD, np.log(n))))
    left = _at(_FEW_REACH, n) - beyond
    if left <= 0:
        return np.inf
    return (-float(np.log(left)) - _at(_FEW_MEAN, n)) / float(np.exp(_at(_FEW_LOG_SD, n)))


def _weights(n: int) -> Floats:
    expected = special.ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    square, root = float(expected @ expected), 1 / np.sqrt(n)
    ends = np.array([_at(_LAST, root), _at(_LAST_BUT_ONE, root)]) + expected[[-1, -2]] / np.sqrt(square)
    rest = np.sqrt((square - 2 * np.sum(expected[-2:] ** 2)) / (1 - 2 * np.sum(ends**2)))
    weights: Floats = expected / rest
    weights[[-1, -2]], weights[[0, 1]] = ends, -ends
    return weights


def _at(coefficients: tuple[float, ...], x: float) -> float:
    return float(np.polynomial.polynomial.polyval(x, coefficients))
