"""Answers kept for everybody who looks, within one budget of bytes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from cachetools import LRUCache, cached

from dashboards.ledger.sizes import bytes_of

Answer = TypeVar("Answer")

MOST_BYTES = 128 * 1024 * 1024
"""Memory for all answers together; those not asked for the longest make room."""

_Question = tuple[int, tuple[Hashable, ...]]


@dataclass(frozen=True)
class _SizedAnswer:
    """An answer and the memory it takes [bytes]."""

    value: object
    size: int


class AnswerCache:
    """Answers by version and question; never more than `most_bytes` of them, as `bytes_of` measures."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._changed = threading.Condition()
        self._entries: LRUCache[_Question, _SizedAnswer] = LRUCache(most_bytes, getsizeof=_size)
        self._oldest = 0
        # Fifty viewers ask at once for what has just changed: one of them works it out, the others wait for it.
        self._entry = cached(self._entries, key=_question, condition=self._changed)(_work_out)

    @property
    def size(self) -> int:
        """Memory of the answers kept now [bytes]."""
        return int(self._entries.currsize)

    def __len__(self) -> int:
        return len(self._entries)

    def answer(self, version: int, question: tuple[Hashable, ...], load: Callable[[], Answer]) -> Answer:
        """What `load` gives, worked out by one thread while others wait; what it raises is raised and not kept."""
        entry = self._entry(version, question, load)
        if version < self._oldest:
            self._drop()
        return cast(Answer, entry.value)

    def drop_before(self, version: int) -> None:
        """Forget the answers of older versions, those still being worked out too."""
        self._oldest = max(self._oldest, version)
        self._drop()

    def _drop(self) -> None:
        with self._changed:
            for stale in [name for name in self._entries if name[0] < self._oldest]:
                del self._entries[stale]


def _question(version: int, question: tuple[Hashable, ...], _load: Callable[[], Any]) -> _Question:
    return version, question


def _work_out(_version: int, _asked: tuple[Hashable, ...], load: Callable[[], object]) -> _SizedAnswer:
    value = load()
    return _SizedAnswer(value, bytes_of(value))


def _size(entry: _SizedAnswer) -> int:
    return entry.size
