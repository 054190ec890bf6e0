"""What the presses of a shift stood for, reason by reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dashboards.ledger.records import Records
from dashboards.parts.ribbon import NOT_SEEN, Span
from dashboards.parts.totals import running_time, standstill_by_reason
from dashboards.request.formats import duration, text
from dashboards.request.locale import say, say_n

_NAMED_REASONS = 3


@dataclass(frozen=True)
class ReasonTime:
    """Standing time of one reason in the shift."""

    look: str
    reason: str
    minutes: str
    count: int


def reason_times(stops: Records, names: Mapping[str, str]) -> tuple[ReasonTime, ...]:
    """The longest reasons and the rest in one; time without a reason never hides in the rest."""
    rows = standstill_by_reason(stops, names)
    given, none = ([row for row in rows if (row["kind"] == "") is bare] for bare in (False, True))
    rest = given[_NAMED_REASONS:]
    named = given[:_NAMED_REASONS] if len(rest) > 1 else given
    shown = sorted([*named, *none], key=lambda row: -float(row["minutes"]))
    times = [ReasonTime(text(row["kind"]), row["reason"], duration(row["minutes"] * 60), row["count"]) for row in shown]
    if len(rest) > 1:
        rest_s = sum(float(row["minutes"]) for row in rest) * 60
        others = say_n(len(rest), "{n} other reason", "{n} other reasons")
        times.append(ReasonTime("other", others, duration(rest_s), sum(int(row["count"]) for row in rest)))
    return tuple(times)


def unseen_time(shifts: Records, track: Sequence[Span]) -> list[ReasonTime]:
    """The planned time in which nobody saw whether the press ran, as a line beside the reasons."""
    unseen_s = running_time(shifts).unresolved_s
    stretches = sum(span.look == "unseen" for span in track)
    return [ReasonTime("unseen", say(NOT_SEEN), duration(unseen_s), stretches)] if unseen_s else []
