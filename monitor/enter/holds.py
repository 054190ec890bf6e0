"""Holds placed, lifted and put on paper, in one way for the command line and the screens."""

from __future__ import annotations

import time
from itertools import count

import pandas as pd

from monitor.enter.entry import Row, enter_rows
from monitor.enter.tags import Tag
from monitor.figures.genealogy.holds import FLOOR, HeldPieces, held_pieces, hold_of, holds
from monitor.figures.genealogy.holds_in_force import hold_places, sentence
from monitor.figures.genealogy.trace import Traced
from monitor.figures.strip.coil_place import USED
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import plant_of
from shared.calendar import Calendar
from shared.errors import RequestError
from shared.phrases import phrase
from shared.words import ENGLISH, Words

#: Lines said after a load at most.
MOST_LINES = 12


def place(
    ledger: Ledger,
    scope: str,
    value: str,
    reason: str,
    span: tuple[int | None, int | None] = (None, None),
    by: str = "",
) -> str:
    """Place a hold and return its number; the next free one of H-0001, H-0002 and so on."""
    now_us = time.time_ns() // 1_000
    about = {"placed_at": now_us, "scope": scope, "value": value, "reason": reason, "from": span[0], "to": span[1]}
    rows: list[Row] = []

    def numbered(snapshot: Snapshot) -> list[Row]:
        # Nobody else writes meanwhile, so nobody else takes the number.
        taken = set(holds(snapshot, everything=True)["hold_id"])
        rows.append({"hold_id": next(name for n in count(1) if (name := f"H-{n:04d}") not in taken), **about})
        return rows

    enter_rows(ledger, "holds", numbered, by=by, now_us=now_us)
    return str(rows[0]["hold_id"])


def lift(ledger: Ledger, hold_id: str, outcome: str, by: str = "") -> None:
    """Lift a hold; raises RequestError where there is none or it has been lifted."""
    now_us = time.time_ns() // 1_000

    def lifted(snapshot: Snapshot) -> list[Row]:
        row = hold_of(snapshot, hold_id)
        if row["lifted_at"] is not None:
            seen, expected = phrase("lifted already"), phrase("a hold that stands")
            raise RequestError(phrase("hold {hold}", hold=hold_id), seen, expected, phrase("place a new one"))
        return [{**row, "lifted_at": now_us, "outcome": outcome}]

    enter_rows(ledger, "holds", lifted, by=by, now_us=now_us)


def tags_of(ledger: Ledger, hold_id: str, words: Words = ENGLISH) -> list[Tag]:
    """Return a tag for each container that still holds pieces and was not sent, and each coil that is not used up.

    What its lines are called, and amounts, are in the language and units of `words`.
    """
    hold, say = hold_of(ledger.snapshot(), hold_id), words.say
    (since,) = calendar_of(ledger).local_iso([hold["placed_at"]])
    held = f"{say(hold['scope'])} {hold['value']}"
    why = ((say("Reason"), hold["reason"]), (say("Held"), held), (say("Since"), since[:16]))
    found = held_pieces_of(ledger, hold_id)
    boxes = found.boxes[found.boxes["state"] == FLOOR]
    tags = [
        Tag(
            hold_id,
            row["container_id"],
            (
                (say("Part"), row["part_no"]),
                (say("Pieces held"), "" if pd.isna(row["here"]) else words.number(row["here"])),
                *why,
            ),
        )
        for row in boxes.to_dict("records")
    ]
    coils = found.coils[found.coils["state"] != USED]
    for row in coils.to_dict("records"):
        left = "" if pd.isna(row["kg"]) else words.amount(row["kg"], "kg")
        lot = (say("Lot, heat"), f"{row['lot']}, {row['heat']}")
        tags.append(Tag(hold_id, row["coil_id"], (lot, (say("Left"), left), *why)))
    return tags


def _pieces(count: float | None, words: Words) -> str:
    """Return a count as a tag shows it; a line to write on where nobody knows it."""
    return "" if pd.isna(count) else words.number(int(count or 0))


def new_hold_places(ledger: Ledger, before: int) -> list[str]:
    """Say where holds apply at the newest version and did not at an earlier one (0 = none), the most urgent first."""
    snapshot = ledger.snapshot()
    if holds(snapshot).empty:
        return []
    earlier = {place.key for place in hold_places(ledger.snapshot(before))} if before else set()
    new = [sentence(place) for place in hold_places(snapshot) if place.key not in earlier]
    rest = len(new) - MOST_LINES
    return new if rest <= 0 else [*new[:MOST_LINES], f"{rest:,} more: strokeledger hold list"]


def traced_of(snapshot: Snapshot, hold_id: str) -> tuple[Traced, HeldPieces]:
    """Return the containers and coils that a hold covers, with the ways of the pieces; how sure these are too."""
    hold = hold_of(snapshot, hold_id)
    found = held_pieces(snapshot, hold["scope"], hold["value"], (hold["from"], hold["to"]), sure=True)
    return found.traced, found


def held_pieces_of(ledger: Ledger, hold_id: str) -> HeldPieces:
    """Return the pieces and coils that a hold covers."""
    hold = hold_of(ledger.snapshot(), hold_id)
    return held_pieces(ledger, hold["scope"], hold["value"], (hold["from"], hold["to"]))


def calendar_of(ledger: Ledger) -> Calendar:
    """Return the calendar of a ledger's plant."""
    return Calendar(plant_of(ledger.snapshot().plant_text()))
