"""Observed against expected for every candidate at once, and the chance of such an excess without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, special, stats

from monitor.reckoning.attribution.columns import Candidates
from monitor.reckoning.attribution.dispersion import Dispersion, Grouping
from monitor.reckoning.attribution.quasi import Fit

Floats = NDArray[np.float64]


def adder(codes: NDArray[np.int64]) -> sparse.csr_matrix:
    """Matrix that adds up rows by group."""
    rows = np.arange(codes.size)
    return sparse.csr_matrix((np.ones(codes.size), (codes, rows)), shape=(int(codes.max()) + 1, codes.size))


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


def scan(
    candidates: Candidates,
    fit: Fit,
    rejected: Floats,
    dispersion: Dispersion,
    adders: tuple[sparse.csr_matrix, ...],
) -> Scan:
    """Standardise the excess of rejects for every question; `adders` belong to the groups of the dispersion."""
    information = fit.weight * fit.expected
    alone = candidates.dot_square(information)
    with_terms = candidates.dot(information[:, None] * fit.design)
    pull = with_terms @ fit.cover
    own = alone - np.sum(pull * with_terms, axis=1)
    told = own > 1e-6 * alone
    whole = own
    for share, groups in zip(dispersion.groups, adders, strict=False):
        if share > 0:
            weighted = sparse.csr_matrix(groups.multiply(information))
            terms = weighted @ fit.design
            cross = candidates.dot(information[:, None] * (groups.T @ terms))
            square = candidates.square_of_sums(weighted) - 2 * np.sum(pull * cross, axis=1)
            whole = whole + share * (square + np.sum((pull @ (terms.T @ terms)) * pull, axis=1))
    over = candidates.dot(fit.weight * (rejected - fit.expected))
    z = np.where(told, over / np.sqrt(np.where(told, whole, 1.0)), 0.0)
    return Scan(candidates.sign * z[candidates.of_question], own, whole, told)


def overlap(
    candidates: Candidates,
    column: Floats,
    fit: Fit,
    dispersion: Dispersion,
    adders: tuple[sparse.csr_matrix, ...],
    seen: Scan,
) -> Floats:
    """Correlation of the score of one column with that of every question in `seen`, a scan over the same fit."""
    information = fit.weight * fit.expected
    clean = column - fit.design @ (fit.cover @ (fit.design.T @ (information * column)))
    reach = information * clean
    cross, own = candidates.dot(reach), float(reach @ column)
    pull = candidates.dot(information[:, None] * fit.design) @ fit.cover
    for share, groups in zip(dispersion.groups, adders, strict=False):
        if share > 0:
            sums = groups @ reach
            spread_out = information * (groups.T @ sums)
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
    says) and that the dispersion is estimated.  `fit` is without the candidate, `dispersion` as estimated with it.
    """
    information = fit.weight * fit.expected
    pull = fit.cover @ (fit.design.T @ (information * column))
    reach = fit.weight * (column - fit.design @ pull)
    spread = dispersion.spread(inspected)
    chance = fit.expected * (1 - fit.share)
    within = reach**2 * chance * spread
    scatter = float(within.sum())
    skewness = float(np.sum(reach**3 * chance * spread * (2 * spread - 1)))
    doubt = (dispersion.errors[0] * float(np.sum(reach**2 * chance * np.maximum(inspected - 1, 0)))) ** 2
    for share, error, group in zip(dispersion.groups, dispersion.errors[1:], groupings, strict=False):
        if share > 0:
            pulled = np.bincount(group.outer, reach * fit.expected)
            skewness += 3 * share * float(pulled @ np.bincount(group.outer, within))
            skewness += 2 * share**2 * float(np.sum(pulled**3))
            scatter += share * float(np.sum(pulled**2))
            doubt += (error * float(np.sum(pulled**2))) ** 2
    if scatter <= 1e-6 * float(np.sum((fit.weight * column) ** 2 * chance)):
        return Excess(0.0, 0.5, np.inf)
    z = float(np.sum(reach * (rejected - fit.expected))) / np.sqrt(scatter)
    freedom = 2 * scatter**2 / doubt if doubt > 0 else np.inf
    return Excess(z, tail(z, skewness / scatter**1.5, freedom), freedom)


def tail(z: float, skew: float, freedom: float) -> float:
    """Chance of exceeding `z` under a skew curve (Pearson III) with a standard deviation known to `freedom`."""
    normal = _skew_tail(z, skew)
    if freedom > 1e4:
        return normal
    return float(stats.t.sf(-special.ndtri(max(normal, 1e-300)), max(freedom, 3.0)))


def _skew_tail(z: float, skew: float) -> float:
    if abs(skew) < 1e-3:
        return float(special.ndtr(-z))
    shape = 4 / skew**2
    at = shape + np.sign(skew) * z * np.sqrt(shape)
    upper, lower = special.gammaincc(shape, max(at, 0.0)), special.gammainc(shape, max(at, 0.0))
    return float(upper if skew > 0 else lower)
