"""Output and time as sums over facts, by shift, hour or whatever else is asked."""

from __future__ import annotations

import pandas as pd

from monitor.figures.bounds import with_known_counts
from monitor.figures.question import Question

#: What the totals of a shift, and of a clock hour, are summed by.
SHIFT = ["shift_date", "shift", "press_id", "die_id", "part_no"]
HOUR = ["hour_us", "press_id", "die_id", "part_no"]

_TIMES = ["planned_us", "running_us", "stopped_us", "unresolved_us", "setup_us", "extra_us", "untimed"]
_STROKES = ["strokes", "setup_strokes", "strokes_without_strip"]

#: Columns of totals that count.
COUNTS = [*_STROKES, "pieces", "setup_pieces", "rejected", "reworked"]


def totals_of(question: Question, key: list[str]) -> pd.DataFrame:
    """Return the totals of all facts in range and filters."""
    time, strokes, pieces, rejects = (question.facts(kind) for kind in ("time", "strokes", "pieces", "rejects"))
    return totals(time, strokes, pieces, rejects, key)


def totals(
    time: pd.DataFrame, strokes: pd.DataFrame, pieces: pd.DataFrame, rejects: pd.DataFrame, key: list[str]
) -> pd.DataFrame:
    """Sum facts by `key`: times [us] and counts; pieces = good + reworked + rejected + setup_pieces in every row.

    Strokes and times are missing where none are noted: they stand with the first running out of a die, once.
    Where more was rejected than made, `good` is missing: the rows it is made of cannot all be true.
    """
    sums = [
        _sum(time.assign(setup_us=(time["running_us"] + time["stopped_us"]) * time["setup"]), key, _TIMES),
        _sum(_stroke_columns(strokes), key, _STROKES),
        _sum(pieces.assign(setup_pieces=pieces["pieces"] * pieces["setup"]), key, ["pieces", "setup_pieces"]),
        _sum(_reject_columns(rejects), key, ["rejected", "reworked", "released"]),
        _sum(_made_beside(pieces, strokes, key).rename(columns={"pieces": "beside"}), key, ["beside"]),
    ]
    table = pd.concat(sums, axis=1).fillna(0).astype("int64").sort_index()
    # Released setting pieces are good; pieces used up by tests count as setting pieces, as no cause explains them.
    table["setup_pieces"] -= table["released"]
    table["good"] = table["pieces"] - table["setup_pieces"] - table["rejected"] - table["reworked"]
    with_strokes = table.index.isin(sums[0].index) | table.index.isin(sums[1].index)
    known = with_known_counts(table[(table != 0).any(axis=1)].drop(columns="released"))
    return _without_strokes(known, ~pd.Series(with_strokes, table.index)[known.index]).reset_index()


def _without_strokes(table: pd.DataFrame, others: pd.Series) -> pd.DataFrame:
    """Return totals with strokes and times missing in the rows of the other outs."""
    counts, times = _STROKES, [name for name in _TIMES if name in table]
    return table.assign(
        **{name: table[name].astype("Int64").mask(others) for name in counts},
        **{name: table[name].astype("float64").mask(others) for name in times},
    )


def _sum(facts: pd.DataFrame, key: list[str], columns: list[str]) -> pd.DataFrame:
    return facts.groupby(key, sort=False)[columns].sum()


def _stroke_columns(strokes: pd.DataFrame) -> pd.DataFrame:
    return strokes.assign(
        setup_strokes=strokes["strokes"] * strokes["setup"], strokes_without_strip=strokes["strokes"] - strokes["fed"]
    )


def _made_beside(pieces: pd.DataFrame, strokes: pd.DataFrame, key: list[str]) -> pd.DataFrame:
    """Return the pieces of rows with strokes of their own whose strokes stand with another part of the die.

    So it is where the first running out changes within a row: outs are blanked off, or run again.
    """
    where, stretch = key[:-1], ["press_id", "from_us", "part_no"]
    carrying = strokes[key].drop_duplicates()
    several = carrying.loc[carrying.duplicated(where, keep=False), where].drop_duplicates()
    if several.empty:
        return pieces.iloc[:0]
    mine = pieces.merge(several, on=where)
    return mine[~pd.MultiIndex.from_frame(mine[stretch]).isin(pd.MultiIndex.from_frame(strokes[stretch]))]


def _reject_columns(rejects: pd.DataFrame) -> pd.DataFrame:
    # Setting pieces are scrap as a whole; rejects found among them are not taken off a second time.
    running = 1 - rejects["setup"]
    return rejects.assign(rejected=rejects["rejected"] * running, reworked=rejects["reworked"] * running)
