"""The `contradictions` table: sets of rows that cannot all be true, which figures they affect, and what to correct.

What nobody can know, such as what happened before the first reading of a press, is no contradiction.
"""

from __future__ import annotations

import pandas as pd

from monitor.figures.contradictions.counts import counted
from monitor.figures.contradictions.decided import decided
from monitor.figures.contradictions.found import AFFECTS, KINDS, Contradiction, table_of
from monitor.figures.contradictions.notes import other_dies
from monitor.figures.contradictions.sent import sent_twice
from monitor.figures.contradictions.standing import while_running
from monitor.figures.contradictions.stays import on_two_presses
from monitor.figures.question import Question

__all__ = ["AFFECTS", "KINDS", "Contradiction", "contradictions", "found_in"]


def contradictions(question: Question) -> pd.DataFrame:
    """Return a row for each set of rows in range and filters that cannot all be true."""
    return table_of(found_in(question), question.book.calendar)


def found_in(question: Question) -> list[Contradiction]:
    """Return the contradictions in range and filters, in order of time."""
    checks = (counted, decided, sent_twice, on_two_presses, other_dies, while_running)
    found = {one for check in checks for one in check(question) if one.is_in(question.scope)}
    return sorted(found, key=lambda one: (one.at_us, one.code, one.presses, one.rows))
