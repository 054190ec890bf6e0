"""Numbers as screens show them: with a label above and what they rest on below."""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.parts.totals import ScrapTotal
from dashboards.request.formats import count
from dashboards.request.locale import say


@dataclass(frozen=True)
class Number:
    """One number of a row: its value, what stands below it, and whether it needs somebody now."""

    label: str
    value: str
    below: tuple[str, ...] = ()
    loud: bool = False


def looked_at(total: ScrapTotal) -> str:
    """Rejected of inspected pieces, and whether that was a sample."""
    counts = {"n": count(total.rejected), "all": count(total.inspected)}
    return say("{n} of {all} sampled", **counts) if total.estimate else say("{n} of {all}", **counts)
