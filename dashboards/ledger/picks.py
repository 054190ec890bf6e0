"""Stretches of standing time picked on a screen, and how a browser keeps them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.enter.floor import StandstillSpan

MOST_PICKS = 200
"""Stops given a reason at once; more is no choice but an accident."""


_LAST_US = 1 << 52
"""No stop begins later: in the year 2112 [us]."""


@dataclass(frozen=True)
class Pick:
    """A stretch of standing time picked on a screen: press, start and end [us], None while it lasts."""

    press: str
    start_us: int
    end_us: int | None = None

    @property
    def stretch(self) -> StandstillSpan:
        """The stretch as it is entered."""
        return StandstillSpan(self.press, self.start_us, self.end_us)


def pack(picks: Iterable[Pick]) -> str:
    """Picks as text for an attribute; `unpack` reads it back."""
    return json.dumps([[pick.press, pick.start_us, pick.end_us] for pick in picks], ensure_ascii=False)


def unpack(packed: object) -> tuple[Pick, ...]:
    """Picks of a text that a browser sent; what cannot be read is left out."""
    try:
        rows = json.loads(packed) if isinstance(packed, str) else None
    except ValueError:
        rows = None
    if not isinstance(rows, list):
        return ()
    picks = (_pick(row) for row in rows[:MOST_PICKS])
    return tuple(pick for pick in picks if pick is not None)


def _pick(row: object) -> Pick | None:
    if not isinstance(row, list) or len(row) != 3:
        return None
    press, start_us, end_us = row
    if not isinstance(press, str) or not _is_moment(start_us) or not (end_us is None or _is_moment(end_us)):
        return None
    return None if end_us is not None and end_us <= start_us else Pick(press, start_us, end_us)


def _is_moment(us: object) -> bool:
    return type(us) is int and 0 <= us < _LAST_US
