"""Reads what several presses made in spans of time of their own, with few looks into the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from monitor.ledger import Snapshot
from shared.durations import HOUR_US

HALF_DAY_US = 12 * HOUR_US

Span = tuple[int, int]


@dataclass
class SpanBatch:
    """Spans [us] of presses that are read at once: from the first begin to the last end, of all these presses."""

    wanted: dict[str, list[Span]] = field(default_factory=dict)
    first: int = 0
    last: int = 0
    useful_us: int = 0

    def has_room(self, span: Span, press_id: str) -> bool:
        """Whether no more than twice of what is wanted would be read with a span that begins no earlier."""
        whole_us = (max(self.last, span[1]) - self.first) * len({*self.wanted, press_id})
        return bool(self.wanted) and whole_us <= 2 * (self.useful_us + span[1] - span[0])

    def add(self, span: Span, press_id: str) -> None:
        """Add a span that begins no earlier than those before."""
        self.first = self.first if self.wanted else span[0]
        self.last = max(self.last, span[1])
        self.useful_us += span[1] - span[0]
        self.wanted.setdefault(press_id, []).append(span)


def joined_spans(spans: Iterable[Span]) -> list[Span]:
    """Join spans [us] that overlap or lie less than half a day apart, so that each is asked for once."""
    found: list[Span] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1] + HALF_DAY_US:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return found


def facts_in(snapshot: Snapshot, kind: str, asked: Mapping[str, Sequence[Span]]) -> pd.DataFrame:
    """Return the facts of one kind that begin in a span [us] of their press; those of a press lie apart, in order."""
    read = [
        _inside(snapshot.facts(kind, where=("press_id", batch.wanted), made_us=(batch.first, batch.last)), batch.wanted)
        for batch in batches(asked)
    ]
    return pd.concat(read, ignore_index=True) if read else snapshot.facts(kind, where=("press_id", ()))


def batches(asked: Mapping[str, Iterable[Span]]) -> list[SpanBatch]:
    """Share out spans [us] of presses into batches, of each of which at most twice what is asked is read."""
    found: list[SpanBatch] = []
    for span, press_id in sorted((span, press_id) for press_id, spans in asked.items() for span in spans):
        if not (found and found[-1].has_room(span, press_id)):
            found.append(SpanBatch())
        found[-1].add(span, press_id)
    return found


def _inside(facts: pd.DataFrame, spans: Mapping[str, Sequence[Span]]) -> pd.DataFrame:
    begins = facts["from_us"].to_numpy(np.int64)
    inside = np.zeros(len(facts), dtype=np.bool_)
    for press_id, rows in facts.groupby("press_id").indices.items():
        # What is in a span has passed an odd number of their ends.
        inside[rows] = np.searchsorted(np.ravel(spans[str(press_id)]), begins[rows], side="right") % 2 == 1
    return facts[inside]
