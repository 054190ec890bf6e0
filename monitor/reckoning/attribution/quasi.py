"""A rate model that can be checked by hand: expected rejects = pieces x base rate x ratios of what acts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Prior standard deviation of a log ratio: shrinks a ratio seen on few rejects, leaves a well-seen one alone.
PRIOR_SD = 1.5
_LARGEST_SHARE = 0.98
_STEPS = 25


@dataclass(frozen=True)
class Fit:
    """Expected rejects a row, the coefficients [log ratio], and the pieces the tests need.

    `design` has a column of ones first; `expected` [pieces]; `weight` is what one expected reject counts for;
    `cover` is the inverse of the information about the coefficients.
    """

    design: Floats
    coefficients: Floats
    expected: Floats
    share: Floats
    weight: Floats
    cover: Floats


def fit_rates(
    design: Floats,
    rejected: Floats,
    inspected: Floats,
    spread: Floats,
    start: Floats | None = None,
    prior_sd: float = PRIOR_SD,
) -> Fit:
    """Fit log rates by quasi-likelihood with variance pieces x share x (1 - share) x spread.

    `design` (rows x terms) with ones first; `rejected`, `inspected` [pieces]; `spread` [1] a row, 1 = chance alone;
    `start` coefficients to begin from, fewer than terms are filled with 0; `prior_sd` of a log ratio between the ends
    of a column, infinite for no shrinkage.
    Source: McCullagh and Nelder (1989), Generalized Linear Models, chapter 9.
    """
    terms = design.shape[1]
    beta = np.zeros(terms)
    if start is None:
        beta[0] = np.log(max(rejected.sum(), 0.5) / inspected.sum())
    else:
        beta[: start.size] = start
    penalty = np.full(terms, 1 / prior_sd**2)
    penalty[0] = 0.0
    scale = _column_scale(design, inspected)
    penalty = penalty * scale**2
    for _ in range(_STEPS):
        share, weight, expected = _state(design, beta, inspected, spread)
        gradient = design.T @ (weight * (rejected - expected)) - penalty * beta
        information = (design.T * (weight * expected)) @ design + np.diag(penalty)
        step = np.linalg.solve(information, gradient)
        beta = beta + np.clip(step, -1.5, 1.5)
        if np.max(np.abs(step)) < 1e-5:
            break
    share, weight, expected = _state(design, beta, inspected, spread)
    information = (design.T * (weight * expected)) @ design + np.diag(penalty)
    return Fit(
        design, beta, expected=expected, share=share, weight=weight, cover=np.asarray(np.linalg.inv(information), float)
    )


def _state(design: Floats, beta: Floats, inspected: Floats, spread: Floats) -> tuple[Floats, Floats, Floats]:
    share = np.exp(np.minimum(design @ beta, np.log(_LARGEST_SHARE)))
    return share, 1 / ((1 - share) * spread), inspected * share


def _column_scale(design: Floats, inspected: Floats) -> Floats:
    """Span of each column, so that the prior speaks of the ratio between its ends whatever its unit."""
    span: Floats = np.ptp(design, axis=0)
    span[0] = 1.0
    return np.where(span > 0, span, 1.0)
