"""Holds as lines to read: what is held and why, who placed it and when, and how it ended."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from dashboards.holds.words import named
from dashboards.ledger.version import LedgerVersion
from dashboards.request.formats import known, moment, text
from dashboards.request.locale import say
from shared.calendar import Calendar


@dataclass(frozen=True)
class HoldInWords:
    """One hold in words; `ended` is empty while it stands."""

    hold_id: str
    what: str
    reason: str
    placed: str
    ended: str = ""


def hold_lines(
    reading: LedgerVersion, names: Iterable[tuple[str, str]] | None = None, hold_id: str = ""
) -> list[HoldInWords]:
    """The holds on things of these (scope, value), or one hold, or all that stand; those that stand first."""
    calendar = reading.calendar()
    if calendar is None:
        return []
    rows = reading.hold_history().to_dict("records")
    if hold_id:
        rows = [row for row in rows if row["hold_id"] == hold_id]
    elif names is not None:
        wanted = set(names)
        rows = [row for row in rows if (row["scope"], row["value"]) in wanted]
    else:
        rows = [row for row in rows if not known(row["lifted_at"])]
    lines = [_line(row, calendar) for row in rows]
    return sorted(lines, key=lambda line: bool(line.ended))


def _line(row: Mapping[Hashable, Any], calendar: Calendar) -> HoldInWords:
    placed = _by(row["placed_by"], row["placed_at"], calendar)
    ended = ""
    if known(row["lifted_at"]):
        by = _by(row["lifted_by"], row["lifted_at"], calendar)
        ended = say("lifted {by}: {outcome}", by=by, outcome=text(row["outcome"]) or say("nothing said"))
    what = named(row["scope"], row["value"])
    begin, end = (moment(row[name], calendar) for name in ("from", "to"))
    if begin or end:
        what = say("{what}, made {begin} to {end}", what=what, begin=begin or "…", end=end or "…")
    return HoldInWords(row["hold_id"], what, text(row["reason"]), say("placed {by}", by=placed), ended)


def _by(who: str, us: object, calendar: Calendar) -> str:
    return say("{when} by {who}", when=moment(us, calendar), who=who or say("nobody named"))


def names_in(scope: str, value: str, rows: pd.DataFrame) -> set[tuple[str, str]]:
    """What a hold may be on that bears on what is shown: the thing itself, or a coil, lot, heat or container in it."""
    names = {(scope, value)}
    for name, column in (("lot", "lots"), ("heat", "heats"), ("coil", "coils")):
        if column in rows:
            names |= {(name, part) for cell in rows[column] for part in cell}
    if "container_id" in rows:
        names |= {("container", name) for name in rows["container_id"]}
    return names
