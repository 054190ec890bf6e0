"""Observed against expected for every candidate at once, and the chance of such an excess without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitor.reckoning.attribution.columns import Candidates
from monitor.reckoning.attribution.dispersion import Dispersion, Grouping
from monitor.reckoning.attribution.quasi import Fit

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Scan:
    """Every question at once, the terms of a fit held still.

    `z` [standard deviations] is the excess of rejects a question, positive where its rows reject more than expected
    and 0 where nothing can be told; `own` and `whole` are the variances of the score of every column from rows alone
    and in all; `told` is False for columns that the terms already hold.
    """

    z: Floats
    own: Floats
    whole: Floats
    told: NDArray[np.bool_]

    @property
    def alone(self) -> Floats:
        """How many times larger the excess of a column is when held against the scatter of rows alone."""
        return np.sqrt(np.where(self.told, self.whole / np.where(self.told, self.own, 1.0), 1.0))


def scan(
    candidates: Candidates,
    fit: Fit,
    rejected: Floats,
    dispersion: Dispersion,
    groupings: tuple[Grouping, ...],
) -> Scan:
    """Standardise the excess of rejects for every question; `groupings` are those of the dispersion."""
    information = fit.weight * fit.expected
    alone = candidates.dot_square(information)
    with_terms = candidates.dot(information[:, None] * fit.design)
    pull = with_terms @ fit.cover
    own = alone - np.einsum("ij,ij->i", pull, with_terms)
    told = own > 1e-6 * alone
    whole = own
    for share, group in zip(dispersion.groups, groupings, strict=False):
        if share > 0:
            terms = group.adder @ (information[:, None] * fit.design)
            cross = candidates.dot(information[:, None] * terms[group.outer])
            square = candidates.square_of_sums(group.outer, information) - 2 * np.einsum("ij,ij->i", pull, cross)
            whole = whole + share * (square + np.einsum("ij,ij->i", pull @ (terms.T @ terms), pull))
    over = candidates.dot(fit.weight * (rejected - fit.expected))
    z = np.where(told, over / np.sqrt(np.where(told, whole, 1.0)), 0.0)
    return Scan(candidates.sign * z[candidates.of_question], own, whole, told)


def overlap(
    candidates: Candidates,
    column: Floats,
    fit: Fit,
    dispersion: Dispersion,
    groupings: tuple[Grouping, ...],
    seen: Scan,
) -> Floats:
    """Correlation of the score of one column with that of every question in `seen`, a scan over the same fit."""
    information = fit.weight * fit.expected
    clean = column - fit.design @ (fit.cover @ (fit.design.T @ (information * column)))
    reach = information * clean
    cross, own = candidates.dot(reach), float(reach @ column)
    pull = candidates.dot(information[:, None] * fit.design) @ fit.cover
    for share, group in zip(dispersion.groups, groupings, strict=False):
        if share > 0:
            sums = group.adder @ reach
            spread_out = information * sums[group.outer]
            cross = cross + share * (candidates.dot(spread_out) - pull @ (fit.design.T @ spread_out))
            own += share * float(sums @ sums)
    told = seen.told & (own > 0)
    shared = np.where(told, cross / np.sqrt(np.where(told, seen.whole, 1.0) * max(own, 1e-300)), 0.0)
    return candidates.sign * shared[candidates.of_question]


@dataclass(frozen=True)
class Excess:
    """One candidate against a fit without it: standardised excess, the one-sided chance of it, its freedom."""

    z: float
    p: float
    freedom: float


def excess(
    column: Floats,
    fit: Fit,
    rejected: Floats,
    dispersion: Dispersion,
    groupings: tuple[Grouping, ...],
    inspected: Floats,
) -> Excess:
    """Chance of at least this excess in a candidate's rows when it does nothing.

    The tail takes in that counts are skew (few expected rejects make large excesses commoner than a normal curve
    says), that rates of coils, lots and weeks are (log-normal, since effects multiply) and that the dispersion is
    estimated.  `fit` is without the candidate, `dispersion` as estimated with it.
    """
    pull = fit.cover @ (fit.design.T @ (fit.weight * fit.expected * column))
    reach = fit.weight * (column - fit.design @ pull)
    chance = fit.expected * (1 - fit.share)
    spread = dispersion.spread(inspected)
    alone = reach * reach * chance
    within = alone * spread
    scatter = float(within.sum())
    skewness = float((reach * within) @ (2 * spread - 1))
    doubt = (dispersion.errors[0] * float(alone @ np.maximum(inspected - 1, 0))) ** 2
    for share, error, group in zip(dispersion.groups, dispersion.errors[1:], groupings, strict=False):
        if share > 0:
            pulled, each = (group.adder @ np.column_stack([reach * fit.expected, within])).T
            square = pulled * pulled
            skewness += 3 * share * float(pulled @ each) + share**2 * (3 + share) * float(pulled @ square)
            scatter += share * float(square.sum())
            doubt += (error * float(square.sum())) ** 2
    if scatter <= 1e-6 * float(np.square(fit.weight * column) @ chance):
        return Excess(0.0, 0.5, np.inf)
    z = float(reach @ (rejected - fit.expected)) / np.sqrt(scatter)
    freedom = 2 * scatter**2 / doubt if doubt > 0 else np.inf
    return Excess(z, tail(z, skewness / scatter**1.5, freedom), freedom)


def tail(z: float, skew: float, freedom: float) -> float:
    """Chance of exceeding `z` under a skew curve (Pearson III) with a standard deviation known to `freedom`."""
    normal = _skew_tail(z, skew)
    if freedom > 1e4:
        return normal
    return float(special.stdtr(max(freedom, 3.0), float(special.ndtri(max(normal, 1e-300)))))


def _skew_tail(z: float, skew: float) -> float:
    if abs(skew) < 1e-3:
        return float(special.ndtr(-z))
    shape = 4 / skew**2
    at = shape + np.sign(skew) * z * np.sqrt(shape)
    upper, lower = special.gammaincc(shape, max(at, 0.0)), special.gammainc(shape, max(at, 0.0))
    return float(upper if skew > 0 else lower)
