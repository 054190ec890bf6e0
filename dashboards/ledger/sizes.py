"""How much memory an answer takes, measured for frames, arrays and text and estimated for everything else."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable
from dataclasses import is_dataclass
from itertools import islice
from types import MappingProxyType

import numpy as np
import pandas as pd

from monitor.plant.book import Book
from shared.calendar import Calendar

DEEPEST = 8
"""Containers looked into below one another; what lies deeper counts as its own object only."""

MOST_LOOKED_AT = 200
"""Members of a container that are measured; the others are taken to be like them."""

_SHARED = (Book, Calendar)
"""What all answers of a version share, so that no single one is charged for it."""


def bytes_of(value: object) -> int:
    """Memory that a value takes [bytes], what it refers to included and counted only where it first occurs."""
    return _bytes_of(value, DEEPEST, set())


def _bytes_of(value: object, deepest: int, seen: set[int]) -> int:
    if isinstance(value, _SHARED) or id(value) in seen:
        return 0
    seen.add(id(value))
    if isinstance(value, pd.DataFrame):
        return int(value.memory_usage(deep=True).sum())
    if isinstance(value, pd.Series | pd.Index):
        return int(value.memory_usage(deep=True))
    if isinstance(value, np.ndarray):
        return int(value.nbytes)
    own = sys.getsizeof(value)
    return own + _members(value, deepest - 1, seen) if deepest else own


def _members(value: object, deepest: int, seen: set[int]) -> int:
    if isinstance(value, dict | MappingProxyType):
        return _sampled(value.keys(), deepest, seen) + _sampled(value.values(), deepest, seen)
    if isinstance(value, list | tuple | set | frozenset):
        return _sampled(value, deepest, seen)
    if is_dataclass(value) and hasattr(value, "__dict__") and not isinstance(value, type):
        # What a property has remembered stands in the dictionary too.
        return _sampled(vars(value).values(), deepest, seen)
    return 0


def _sampled(members: Collection[object], deepest: int, seen: set[int]) -> int:
    step = max(1, len(members) // MOST_LOOKED_AT)
    looked: Iterable[object] = islice(members, 0, None, step)
    return step * sum(_bytes_of(one, deepest, seen) for one in looked)
