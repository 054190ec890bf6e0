"""What a screen shows, kept in the address: a link is a saved view, and two users never mix."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from typing import Self
from urllib.parse import parse_qs, urlencode

from shared.identifiers import as_identifier

_LONGEST = 200
_TEXTS = ("shift", "press", "die", "cause", "scope", "value", "customer", "week", "wall")


@dataclass(frozen=True)
class View:
    """One view of the plant; an empty field means the page's own choice.

    `date` and `shift` choose one shift; `since` and `until` are plant days, both included;
    `value` is what is traced, `scope` what it is (container, shipment, coil, lot, heat); at the bench `value` is the
    level and `scope` the factor of the line whose rows are shown; `customer` and `week` (2026-W45) name a report;
    `wall` is set where the board hangs on a wall.
    """

    date: dt.date | None = None
    shift: str = ""
    press: str = ""
    die: str = ""
    cause: str = ""
    since: dt.date | None = None
    until: dt.date | None = None
    scope: str = ""
    value: str = ""
    customer: str = ""
    week: str = ""
    wall: str = ""

    @classmethod
    def parse(cls, search: str | None) -> Self:
        """Read a query string; unknown keys and values that cannot be read are left out."""
        given = parse_qs((search or "").removeprefix("?"))
        last = {key: as_identifier(values[-1])[:_LONGEST] for key, values in given.items()}
        texts = {key: last.get(key, "") for key in _TEXTS}
        date, since, until = (date_or_none(last.get(key)) for key in ("date", "since", "until"))
        return cls(date=date, since=since, until=until, **texts)

    @property
    def search(self) -> str:
        """The query string of this view, "" for the plain page; `parse` reads it back."""
        given = {field.name: str(value) for field in fields(self) if (value := getattr(self, field.name))}
        return f"?{urlencode(given)}" if given else ""

    def but(self, **changes: dt.date | str | None) -> Self:
        """The same view with some fields changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


def date_or_none(text: str | None) -> dt.date | None:
    """Date of an ISO text ("2026-11-02", a time behind it is cut off), None where it is not one."""
    try:
        return dt.date.fromisoformat((text or "")[:10])
    except ValueError:
        return None
