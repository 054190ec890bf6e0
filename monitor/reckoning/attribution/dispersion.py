"""How much more than chance the rejects scatter: between rows, coils, lots and stretches of time.

Rejects that come in clumps make rows of one coil, coils of one lot, or neighbours in time alike.  Each part is
estimated from products of residuals that belong together: they are 0 on average where nothing clumps, and can be
added up by hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitor.reckoning.attribution.quasi import Fit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Grouping:
    """Rows that belong together: code of the group a row, and of the smaller group within it whose rows do anyway.

    `outer_of_inner` leads from the smaller group to the group; codes count from 0 without holes.
    """

    outer: Ints
    inner: Ints
    outer_of_inner: Ints

    @staticmethod
    def of(outer: Ints, inner: Ints) -> Grouping:
        """Number the groups, and the smaller ones within each, from 0."""
        _, groups = np.unique(outer, return_inverse=True)
        pairs, smaller = np.unique(np.column_stack([groups, inner]), axis=0, return_inverse=True)
        return Grouping(groups, smaller.ravel(), pairs[:, 0])


@dataclass(frozen=True)
class Dispersion:
    """Extra variance and how well it is known.

    `rows` is the correlation of the pieces of one row (beta-binomial); `groups` the squared relative standard
    deviation of the rate between coils of a lot, between lots, and between stretches of time; `errors` are the
    standard errors of all, `rows` first.
    """

    rows: float
    groups: tuple[float, ...]
    errors: tuple[float, ...]

    def spread(self, inspected: Floats) -> Floats:
        """Variance of a row over that of chance alone."""
        factor: Floats = 1 + self.rows * np.maximum(inspected - 1, 0)
        return factor


CHANCE = Dispersion(0.0, (), (0.0,))


def estimate(fit: Fit, rejected: Floats, inspected: Floats, groupings: tuple[Grouping, ...]) -> Dispersion:
    """Estimate the parts from the residuals of a fit; `groupings` from coils outwards.

    A group's rows are alike for all the reasons its larger groups give too, which are taken off; a part that does
    not pass its own standard error counts as none, since allowing for it would hide single bad lots.
    Source: moment estimators as in Williams (1982), Applied Statistics 31, 144-148, for clustered counts.
    """
    residual = rejected - fit.expected
    chance = fit.expected * (1 - fit.share)
    alike = [_alike(residual, fit, chance, group) for group in groupings]
    shared = max(alike[0][0], 0.0) if alike else 0.0
    rows, error = _rows(residual, fit, chance, inspected, shared)
    spread = float(np.average(1 + max(rows, 0.0) * np.maximum(inspected - 1, 0), weights=fit.expected))
    parts: list[float] = []
    for similarity, wide in reversed(alike):
        own = similarity - sum(parts)
        parts.insert(0, own if own > spread * wide else 0.0)
    errors = (error, *(spread * wide for _, wide in alike))
    return Dispersion(max(rows, 0.0), tuple(parts), errors)


@dataclass(frozen=True)
class _Sums:
    """By group: residual, expected rejects, variance by chance, and the share of it that the fit has used up."""

    total: Floats
    mean: Floats
    chance: Floats
    used: Floats

    @staticmethod
    def of(residual: Floats, fit: Fit, chance: Floats, codes: Ints) -> _Sums:
        information = fit.weight * fit.expected
        size = np.bincount(codes, information)
        pull = np.column_stack([np.bincount(codes, information * column) for column in fit.design.T])
        used = np.sum((pull @ fit.cover) * pull, axis=1) / np.maximum(size, 1e-300)
        total, mean, by_chance = (
            np.asarray(np.bincount(codes, rows), float) for rows in (residual, fit.expected, chance)
        )
        return _Sums(total, mean, by_chance, np.minimum(used, 1.0))


def _alike(residual: Floats, fit: Fit, chance: Floats, group: Grouping) -> tuple[float, float]:
    """How alike the smaller groups of one group are (relative variance they share), and its standard error."""
    outer = _Sums.of(residual, fit, chance, group.outer)
    inner = _Sums.of(residual, fit, chance, group.inner)
    free = 1 - outer.used
    room = float(np.sum(outer.mean**2 * free) - np.sum(inner.mean**2 * free[group.outer_of_inner]))
    if room <= 1e-9:
        return 0.0, 0.0
    products = np.sum(outer.total**2 + outer.used * outer.chance) - np.sum(inner.total**2 + inner.used * inner.chance)
    return float(products) / room, float(np.sqrt(2 / room))


def _rows(residual: Floats, fit: Fit, chance: Floats, inspected: Floats, shared: float) -> tuple[float, float]:
    used = np.sum((fit.design @ fit.cover) * fit.design, axis=1) * fit.weight * fit.expected
    signal = np.maximum(inspected - 1, 0) * chance
    noise = chance + 2 * chance**2
    excess = residual**2 / np.maximum(1 - used, 0.05) - chance - shared * fit.expected**2
    whole = float(np.sum(signal**2 / noise))
    if whole <= 0:
        return 0.0, 0.0
    return float(np.sum(signal * excess / noise)) / whole, float(1 / np.sqrt(whole))
