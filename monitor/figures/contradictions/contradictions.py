"""The `contradictions` table: sets of rows that cannot all be true, which figures they affect, and what to correct."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.contradictions.counts import counted
from monitor.figures.contradictions.decided import decided
from monitor.figures.contradictions.found import AFFECTS, KINDS, Contradiction
from monitor.figures.contradictions.notes import other_dies
from monitor.figures.contradictions.running_stops import while_running
from monitor.figures.contradictions.sent import sent_twice
from monitor.figures.contradictions.stays import on_two_presses
from monitor.figures.question import Question
from monitor.figures.question import question as asked_of
from monitor.figures.scope import Bound
from monitor.ledger import Snapshot
from shared.fields import text, time
from shared.figures import Figure
from shared.identifiers import joined

FIGURE = Figure(
    "contradictions",
    row_per="set of rows that cannot all be true",
    columns=columns(
        text("code", "what cannot be", tuple(KINDS)),
        text("press_id", "the presses", listed=True),
        text("die_id", "the dies", listed=True),
        text("part_no", "the parts", listed=True),
        text("coil_id", "the coils", listed=True),
        text("container_id", "the containers", listed=True),
        text("inspection_id", "the inspections", listed=True),
        time("at", "when the row was noted that cannot be true beside the others"),
        text("rows", "file and line of each row", listed=True),
        text("affects", "figures that it makes wrong or leaves empty", listed=True),
        text("remedy", "what is wrong, and what to do"),
    ),
)


def contradictions(question: Question) -> pd.DataFrame:
    """Return a row for each set of rows in range and filters that cannot all be true."""
    return table_of(found_in(question))


def found_in(question: Question) -> list[Contradiction]:
    """Return the contradictions in range and filters, in order of time."""
    checks = (counted, decided, sent_twice, on_two_presses, other_dies, while_running)
    found = {one for check in checks for one in check(question) if one.is_in(question.scope)}
    return sorted(found, key=lambda one: (one.at_us, one.code, one.presses, one.rows))


def contradicting(
    snapshot: Snapshot,
    *,
    from_: Bound = None,
    to: Bound = None,
    press: str | None = None,
    die: str | None = None,
) -> list[Contradiction]:
    """Return the sets of rows in range that cannot all be true; RequestError for a range there is not."""
    return found_in(asked_of(snapshot, from_, to=to, press=press, die=die))


def table_of(found: Iterable[Contradiction]) -> pd.DataFrame:
    """Return contradictions as rows of the figure."""
    some = list(found)
    lists = {
        "press_id": [one.presses for one in some],
        "die_id": [one.dies for one in some],
        "part_no": [one.parts for one in some],
        "coil_id": [one.coils for one in some],
        "container_id": [one.containers for one in some],
        "inspection_id": [one.inspections for one in some],
        "rows": [one.rows for one in some],
        "affects": [AFFECTS[one.code] for one in some],
    }
    table = {name: [joined(names) for names in cells] for name, cells in lists.items()}
    told = {"code": [one.code for one in some], "remedy": [str(one.remedy) for one in some]}
    return pd.DataFrame({**told, **table, "at": [one.at_us for one in some]}, dtype=object)
