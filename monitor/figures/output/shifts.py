"""The `shifts` table: output, time and the indices of ISO 22400-2 by shift."""

from __future__ import annotations

import numpy as np
import pandas as pd

from monitor.figures.columns import columns
from monitor.figures.output.totals import COUNTS, SHIFT, totals_of
from monitor.figures.question import Question
from monitor.plant.book import Book
from shared.durations import HOUR_S, SECOND_US
from shared.fields import count, number
from shared.figures import ClosingSum, Figure

FIGURE = Figure(
    "shifts",
    row_per="press, shift, die, part. Die empty: no die was in the press. Of a die with several parts only the first "
    "running out has strokes and time",
    columns=columns(
        "shift_date shift press_id die_id part_no",
        number("planned_s", "s", "time planned for the press, running outside the plan included", 0),
        "running_s",
        number("stopped_s", "s", "planned time in which it does not", 0),
        "unresolved_s",
        number("setup_s", "s", "part of running and stopped time between setting a die and its first-off", 0),
        number("extra_run_s", "s", "running time in a break or outside the plan", 0),
        "strokes",
        count("setup_strokes", "strokes", "strokes between setting a die and its first-off"),
        count("strokes_without_strip", "strokes", "strokes with no strip in the die"),
        "pieces setup_pieces rejected",
        count("reworked", "pieces", "rejected pieces made good by rework"),
        "good",
        number("parts_per_planned_hour", "1/h", "pieces in an hour of planned time", 0),
        number("parts_per_running_hour", "1/h", "pieces in an hour of running time", 0),
        number("availability", "1", "running time over planned time (ISO 22400-2)", 0, 1),
        number(
            "effectiveness",
            "1",
            "planned run time of the pieces over running time (ISO 22400-2); above 1 the rated speed is wrong",
            0,
            1,
        ),
        number("quality", "1", "good pieces over pieces (ISO 22400-2 quality ratio)", 0, 1),
        number("oee_index", "1", "availability times effectiveness times quality (ISO 22400-2)", 0, 1),
    ),
    closes=(
        ClosingSum("pieces", ("good", "reworked", "rejected", "setup_pieces")),
        ClosingSum("planned_s", ("running_s", "stopped_s", "unresolved_s")),
    ),
)

#: Above this share of unresolved time, or of strokes without a time, ratios to running time are not known.
MOST_UNRESOLVED = 0.01


def shifts(question: Question) -> pd.DataFrame:
    """Return the `shifts` table for the range and filters asked."""
    return shift_rows(totals_of(question, SHIFT), question.book)


def shift_rows(table: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Turn totals by shift into the `shifts` table: rates per hour and the indices of ISO 22400-2."""
    rated = _rated_pieces_per_s(table, book)
    planned_s, running_s = table["planned_us"] / SECOND_US, table["running_us"] / SECOND_US
    pieces = table["pieces"]
    shown = pd.DataFrame({name: table[name] for name in SHIFT})
    for name in ("planned", "running", "stopped", "unresolved", "setup"):
        shown[f"{name}_s"] = table[f"{name}_us"] / SECOND_US
    shown["extra_run_s"] = table["extra_us"] / SECOND_US
    for name in COUNTS:
        shown[name] = table[name]
    shown["good"] = table["good"]
    # Pieces whose time stands with another part would be measured against the rest of it.
    own = table["beside"] <= MOST_UNRESOLVED * pieces
    shown["parts_per_planned_hour"] = _ratio(pieces * HOUR_S, planned_s.where(own))
    seen = table["unresolved_us"] <= MOST_UNRESOLVED * table["planned_us"]
    # Strokes without a time would be measured against the running time of others.
    timed = seen & own & (table["untimed"] <= MOST_UNRESOLVED * table["strokes"])
    shown["parts_per_running_hour"] = _ratio(pieces * HOUR_S, running_s.where(timed))
    shown["availability"] = _ratio(running_s.where(seen), planned_s)
    shown["effectiveness"] = _possible(_ratio(pieces, rated * running_s.where(timed)))
    shown["quality"] = _ratio(table["good"], pieces)
    shown["oee_index"] = shown["availability"] * shown["effectiveness"] * shown["quality"]
    return shown


def _ratio(part: pd.Series, whole: pd.Series) -> pd.Series:
    """Return part / whole, missing where the whole is nothing."""
    return part.astype(float) / whole.astype(float).where(whole > 0)


def _possible(share: pd.Series) -> pd.Series:
    """Return shares without those above 1, for which the rated speed is too low; the last digit may be rounding."""
    return share.where(share <= 1 + 1e-9).clip(upper=1.0)


def _rated_pieces_per_s(table: pd.DataFrame, book: Book) -> pd.Series:
    """Return pieces per second at the rated speed: the lower of press and die, times the outs of the part [1/s]."""
    seen: dict[tuple[str, str, str, str], float] = {}
    rates = []
    for shift_date, press_id, die_id, part_no in zip(
        table["shift_date"], table["press_id"], table["die_id"], table["part_no"], strict=True
    ):
        name = (shift_date, press_id, die_id, part_no)
        if name not in seen:
            seen[name] = _rated(book, *name)
        rates.append(seen[name])
    return pd.Series(rates, index=table.index, dtype=float)


def _rated(book: Book, shift_date: str, press_id: str, die_id: str, part_no: str) -> float:
    page = book.page(shift_date)
    die = page.dies.get(die_id)
    if die is None:
        return float("nan")
    speed = min(die.rated_spm, page.presses.get(press_id, {}).get("rated_spm") or np.inf)
    outs = [out for out in die.outs if out.part_no in ("", part_no)]
    return speed / 60 * (len(outs) or len(die.outs))
