"""Lines of the verdict as the figure table `suspects` has them, for files and for other programs."""

from __future__ import annotations

from monitor.reckoning.attribution.suspects import Suspect
from monitor.verdict.advice import table_advice
from monitor.verdict.names import level_text
from monitor.verdict.writers import TableWriter
from shared.factors import Explanation


def table_row(line: Suspect) -> dict[str, object]:
    """Return a line by column of the table, all that is no number written out."""
    texts = {
        "factor": line.explanation.factor,
        "level": table_level(line.explanation),
        "tied_with": "; ".join(f"{one.factor}: {table_level(one)}" for one in line.tied_with),
        "stations": ";".join(map(str, line.stations)),
        "next_test": table_advice(line.next_test),
    }
    return {**vars(line), **texts}


def table_level(explanation: Explanation) -> str:
    """Return the level of an explanation as the table says it: what an address or a command names it by."""
    return level_text(explanation.levels, TableWriter())
