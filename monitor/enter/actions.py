"""What was done about the causes of a customer's rejects: written for one report, with who wrote it and when."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.enter.entry import Receipt, enter_rows
from monitor.ledger import Ledger, Snapshot
from shared.errors import RequestError
from shared.phrases import phrase

#: Part and cause.
Key = tuple[str, str]


@dataclass(frozen=True)
class Action:
    """What was done about a cause of a part; `by` is empty where a file brought it."""

    part_no: str
    cause: str
    done: str
    by: str
    at_us: int


def actions(snapshot: Snapshot, customer: str, week: str) -> dict[Key, Action]:
    """Return what stands about each part and cause in a customer's report of a week; an emptied text is not there."""
    rows = [row for row in snapshot.lookup("actions", "week", [week]) if row["customer"] == customer and row["done"]]
    moments = [row["written_at"] for row in rows]
    stays = snapshot.stays("actions", min(moments), max(moments) + 1) if rows else []
    loads = {_names(stay.row): stay.load_id for stay in stays if stay.removed is None}
    by = {entered.load_id: entered.by for entered in snapshot.entries()} if rows else {}
    return {
        (row["part_no"], row["cause"]): Action(
            row["part_no"], row["cause"], row["done"], by.get(loads[_names(row)], ""), row["written_at"]
        )
        for row in rows
    }


def _names(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in ("customer", "part_no", "cause", "week"))


def _overtaken(key: Key, there: Action | None) -> RequestError:
    seen = phrase("it was emptied meanwhile")
    if there:
        who = there.by or phrase("a file")
        seen = phrase("{who} wrote {text!r} meanwhile", who=who, text=there.done)
    return RequestError(", ".join(key), seen, phrase("the text you saw"), phrase("look at it anew"))


def write(ledger: Ledger, customer: str, week: str, texts: Mapping[Key, tuple[str, str]], by: str) -> Receipt:
    """Enter texts, given as (what stood there when the writer looked, what shall stand there now).

    Raises RequestError where nothing is new, where nobody says who writes, and where somebody else has
    written meanwhile.
    """
    new = {key: (was, now.strip()) for key, (was, now) in texts.items() if was.strip() != now.strip()}
    if not new:
        seen, expected = phrase("no text that is new"), phrase("a changed text")
        raise RequestError(phrase("what was done"), seen, expected, phrase("write it, then save"))
    if not by.strip():
        seen, expected = phrase("no name"), phrase("who writes")
        raise RequestError(phrase("what was done"), seen, expected, phrase("enter your name"))
    now_us = time.time_ns() // 1_000

    def rows(snapshot: Snapshot) -> list[Mapping[str, Any]]:
        stands = actions(snapshot, customer, week)
        for key, (was, _) in new.items():
            there = stands.get(key)
            if (there.done if there else "") != was.strip():
                raise _overtaken(key, there)
        return [
            {"customer": customer, "part_no": part_no, "cause": cause, "week": week, "done": now, "written_at": now_us}
            for (part_no, cause), (_, now) in new.items()
        ]

    return enter_rows(ledger, "actions", rows, by=by, now_us=now_us)
