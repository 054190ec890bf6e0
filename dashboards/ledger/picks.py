"""Stretches of standing time picked on a screen, and how a browser keeps them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

from dashboards.request.formats import us
from monitor.enter.floor import StandstillSpan

MOST_PICKS = 200
"""Stops given a reason at once; more is no choice but an accident."""


@dataclass(frozen=True)
class Pick:
    """A stretch of standing time picked on a screen: press, start and end as ISO 8601 text, "" while it lasts."""

    press: str
    start: str
    end: str = ""

    @property
    def stretch(self) -> StandstillSpan | None:
        """The stretch in microseconds, None where a time cannot be read."""
        try:
            from_us, to_us = us(self.start), us(self.end) if self.end else None
        except ValueError:
            return None
        if from_us is None or (self.end and (to_us is None or to_us <= from_us)):
            return None
        return StandstillSpan(self.press, from_us, to_us)


def pack(picks: Iterable[Pick]) -> str:
    """Picks as text for an attribute; `unpack` reads it back."""
    return json.dumps([[pick.press, pick.start, pick.end] for pick in picks], ensure_ascii=False)


def unpack(packed: object) -> tuple[Pick, ...]:
    """Picks of a text that a browser sent; what cannot be read is left out."""
    try:
        rows = json.loads(packed) if isinstance(packed, str) else None
    except ValueError:
        rows = None
    if not isinstance(rows, list):
        return ()
    picks = (_pick(row) for row in rows[:MOST_PICKS])
    return tuple(pick for pick in picks if pick is not None and pick.stretch is not None)


def _pick(row: object) -> Pick | None:
    fits = isinstance(row, list) and len(row) == 3 and all(isinstance(cell, str) for cell in row)
    return Pick(*row) if fits and isinstance(row, list) else None
