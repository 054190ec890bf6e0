"""How far back to sort: from the last check that found a feature good to the check that found it bad."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from monitor.reckoning.statistics.changepoint import binomial_change

#: Chance of seeing such a step without any below which it counts as clear; common practice, no source.
CLEAR = 0.01


@dataclass(frozen=True)
class Check:
    """A check of pieces made in (from, to] [us], or at the moment both name; `bad` holds the features it found bad.

    It speaks of one part and out, "" and None of all; `found_us` is when somebody looked.  Where every piece was looked
    at (`is_sort`), the bad ones are out, and what is left is good.  `counts` are the pieces found with each feature
    among `inspected`.
    """

    press_id: str
    die_id: str
    part_no: str
    out: int | None
    from_us: int
    to_us: int
    found_us: int
    bad: frozenset[str]
    is_sort: bool = False
    counts: Mapping[str, int] = field(default_factory=dict)
    inspected: int = 0


@dataclass(frozen=True)
class Exposure:
    """Pieces made in (since, until] [us] may have the feature; `since_us` None = no good check before is known.

    Where the share found bad rose in one clear step, most of them were made in (likely_since, until]; else None.
    """

    check: Check
    feature: str
    since_us: int | None
    until_us: int
    likely_since_us: int | None = None


def exposures(checks: Sequence[Check], features: Iterable[str]) -> list[Exposure]:
    """Return, for one press and die, how far each feature's latest bad check reaches; features never bad are left out.

    A check that looked at the same part and out speaks it good if it did not find the feature or sorted every piece.
    Sorting ends at the moment it was found, or where a later piece was found good before that.
    """
    found = (_exposure(checks, feature) for feature in sorted(set(features)))
    return [exposure for exposure in found if exposure is not None]


def _exposure(checks: Sequence[Check], feature: str) -> Exposure | None:
    bad = [check for check in checks if feature in check.bad]
    if not bad:
        return None
    last = max(bad, key=lambda check: (check.to_us, check.found_us))
    good = [c for c in checks if c is not last and (c.is_sort or feature not in c.bad) and _speaks_of(c, last)]
    since = max((check.to_us for check in good if check.to_us <= last.from_us), default=None)
    until = min((check.from_us for check in good if check.from_us >= last.to_us), default=last.found_us)
    step = _step_us([check for check in checks if check.to_us <= last.to_us and _speaks_of(check, last)], feature)
    likely = step if step is not None and (since is None or step > since) else None
    return Exposure(last, feature, since, max(last.to_us, min(until, last.found_us)), likely)


def _step_us(checks: Sequence[Check], feature: str) -> int | None:
    """Return when the last pieces before a clear rise of the share found bad were made, at the earliest, or None."""
    looks = sorted((check for check in checks if check.inspected > 0), key=lambda check: (check.to_us, check.found_us))
    if len(looks) < 2:
        return None
    rejected = [min(look.counts.get(feature, 0), look.inspected) for look in looks]
    step = binomial_change(rejected, [look.inspected for look in looks])
    is_clear = step.after > step.before and step.false_alarm <= CLEAR
    return looks[step.earliest - 1].to_us if is_clear else None


def _speaks_of(good: Check, bad: Check) -> bool:
    same_part = not good.part_no or not bad.part_no or good.part_no == bad.part_no
    return same_part and (good.out is None or good.out == bad.out)


def in_die(fed: int, stations: int, outs: int) -> int:
    """Return the pieces that lie unfinished in a die into which a strip was fed so many progressions."""
    return min(max(0, fed), stations - 1) * outs
