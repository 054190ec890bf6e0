"""How much more than chance the rejects scatter: between rows, coils, lots and stretches of time.

Rejects that come in clumps make rows of one coil, coils of one lot, or neighbours in time alike.  Each part is
estimated from products of residuals that belong together: they are 0 on average where nothing clumps, and can be
added up by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from monitor.reckoning.attribution.quasi import Fit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


# Groups of like scatter that count as known before any is seen: without them two or three groups could mean any
# scatter, and no lot would ever show.  Common practice, no source.
_GROUPS_BEFORE = 3.0


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

    @cached_property
    def adder(self) -> sparse.csr_matrix:
        """Matrix that adds up rows by group."""
        return _adder(self.outer)

    @cached_property
    def inner_adder(self) -> sparse.csr_matrix:
        """Matrix that adds up rows by smaller group."""
        return _adder(self.inner)


def _adder(codes: Ints) -> sparse.csr_matrix:
    rows = np.arange(codes.size)
    return sparse.csr_matrix((np.ones(codes.size), (codes, rows)), shape=(int(codes.max()) + 1, codes.size))


@dataclass(frozen=True)
class Dispersion:
    """Extra variance and how well it is known.

    `rows` is the correlation of the pieces of one row (beta-binomial); `groups` the squared relative standard
    deviation of the rate between coils of a lot, between lots, between short and between long stretches of time;
    `errors` are the standard errors of all, `rows` first.
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
    information = fit.weight * fit.expected
    # Laid out row by row, since a sparse product would copy it into that order each time.
    rows_of = np.ascontiguousarray(np.column_stack([residual, fit.expected, chance, information[:, None] * fit.design]))
    alike = [_alike(rows_of, fit, group) for group in groupings]
    shared = max(alike[0].share, 0.0) if alike else 0.0
    rows, error = _rows(residual, fit, chance, inspected, shared)
    spread = float(np.average(1 + max(rows, 0.0) * np.maximum(inspected - 1, 0), weights=fit.expected))
    parts: list[float] = []
    for one in reversed(alike):
        own = one.share - sum(parts)
        parts.insert(0, own if own > spread * one.error else 0.0)
    wide = [float(np.hypot(spread * one.error, part * one.few)) for one, part in zip(alike, parts, strict=True)]
    return Dispersion(max(rows, 0.0), tuple(parts), (error, *wide))


@dataclass(frozen=True)
class _Sums:
    """By group: residual, expected rejects, variance by chance, and the share of it that the fit has used up."""

    total: Floats
    mean: Floats
    chance: Floats
    used: Floats

    @staticmethod
    def of(rows: Floats, fit: Fit, adder: sparse.csr_matrix) -> _Sums:
        """Add up the columns residual, expected, chance and pull on each term (the first of which is the level)."""
        sums = adder @ rows
        pull = sums[:, 3:]
        used = np.einsum("ij,ij->i", pull @ fit.cover, pull) / np.maximum(pull[:, 0], 1e-300)
        return _Sums(sums[:, 0], sums[:, 1], sums[:, 2], np.minimum(used, 1.0))


@dataclass(frozen=True)
class _Alike:
    """Relative variance that rows of one group share, its standard error where they share none, and the further one,
    as a part of the share, that comes of there being few groups.
    """

    share: float
    error: float
    few: float


def _alike(rows: Floats, fit: Fit, group: Grouping) -> _Alike:
    """How alike the smaller groups of one group are."""
    outer, inner = _Sums.of(rows, fit, group.adder), _Sums.of(rows, fit, group.inner_adder)
    free = 1 - outer.used
    rooms = outer.mean**2 * free - np.bincount(group.outer_of_inner, inner.mean**2) * free
    room = float(rooms.sum())
    if room <= 1e-9:
        return _Alike(0.0, 0.0, 0.0)
    products = np.sum(outer.total**2 + outer.used * outer.chance) - np.sum(inner.total**2 + inner.used * inner.chance)
    groups = room**2 / float(np.sum(rooms**2))
    return _Alike(float(products) / room, float(np.sqrt(2 / room)), float(np.sqrt(2 / (groups + _GROUPS_BEFORE))))


def _rows(residual: Floats, fit: Fit, chance: Floats, inspected: Floats, shared: float) -> tuple[float, float]:
    """Correlation of the pieces of one row and its standard error, rows weighted by how much each can tell."""
    used = np.einsum("ij,ij->i", fit.design @ fit.cover, fit.design) * fit.weight * fit.expected
    signal = np.maximum(inspected - 1, 0) * chance
    together = shared * fit.expected**2
    excess = residual**2 / np.maximum(1 - used, 0.05) - chance - together
    rows, error = 0.0, 0.0
    for _ in range(2):
        variance = chance + max(rows, 0.0) * signal + together
        weight = signal / (variance + 2 * variance**2)
        whole = float(np.sum(weight * signal))
        if whole <= 0:
            return 0.0, 0.0
        rows, error = float(np.sum(weight * excess)) / whole, float(1 / np.sqrt(whole))
    return rows, error
