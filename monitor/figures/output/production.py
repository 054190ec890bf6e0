"""Output and time: the `shifts` and `hours` tables, as sums over facts."""

from __future__ import annotations

import numpy as np
import pandas as pd

from monitor.figures.bounds import with_known_counts
from monitor.plant.book import Book
from shared.durations import HOUR_S, SECOND_US

SHIFT = ["shift_date", "shift", "press_id", "die_id", "part_no"]
HOUR = ["hour_us", "press_id", "die_id", "part_no"]

_TIMES = ["planned_us", "running_us", "stopped_us", "unresolved_us", "setup_us", "extra_us", "untimed"]

#: Above this share of unresolved time, or of strokes without a time, ratios to running time are not known.
MOST_UNRESOLVED = 0.01
_STROKES = ["strokes", "setup_strokes", "strokes_without_strip"]
_COUNTS = [*_STROKES, "pieces", "setup_pieces", "rejected", "reworked"]


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


def shifts(table: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Turn totals by shift into the `shifts` table: rates per hour and the indices of ISO 22400-2."""
    rated = _rated_pieces_per_s(table, book)
    planned_s, running_s = table["planned_us"] / SECOND_US, table["running_us"] / SECOND_US
    pieces = table["pieces"]
    shown = pd.DataFrame({name: table[name] for name in SHIFT})
    for name in ("planned", "running", "stopped", "unresolved", "setup"):
        shown[f"{name}_s"] = table[f"{name}_us"] / SECOND_US
    shown["extra_run_s"] = table["extra_us"] / SECOND_US
    for name in _COUNTS:
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


def hours(table: pd.DataFrame, book: Book) -> pd.DataFrame:
    """Turn totals by clock hour into the `hours` table."""
    shown = pd.DataFrame({"hour_start": book.calendar.local_iso(table["hour_us"])})
    for name in HOUR[1:]:
        shown[name] = table[name]
    for name in ("running", "unresolved"):
        shown[f"{name}_s"] = table[f"{name}_us"] / SECOND_US
    for name in ("strokes", "pieces", "rejected", "good"):
        shown[name] = table[name]
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
