"""Rules between rows and columns: what must be known, what must lie in order, what an inspection must add up to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Set
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake.batch import Mask, Mention, Ref
from monitor.intake.chunk import Chunk
from monitor.intake.values import mask_of
from shared.fields import Kind
from shared.phrases import Phrase, phrase
from shared.reasons.expected import EITHER, listed
from shared.reasons.rows import (
    CAUSE_MISSING,
    END_BEFORE_START,
    INSPECTED_DIFFERS,
    INSPECTED_MISSING,
    LIMITS_REVERSED,
    MORE_REJECTED_THAN_INSPECTED,
    TUB_INSPECTED,
    UNKNOWN_NAME,
)
from shared.table import Table
from shared.tables import TABLES

_MOST_NOTES = 20
_OF_TUB = phrase(TUB_INSPECTED)
_UNCOUNTED = phrase(INSPECTED_MISSING)
_NO_CAUSE = phrase(CAUSE_MISSING)
DIFFERS = phrase(INSPECTED_DIFFERS)


class Known:
    """The identifiers known so far, as Arrow arrays, each built once."""

    def __init__(self, known: Mapping[str, frozenset[str]]) -> None:
        self._known = known
        self._arrays: dict[tuple[str, ...], pa.Array] = {}

    def unknown(self, column: pa.Array, tables: tuple[str, ...]) -> Mask:
        """Rows that name something none of the tables has."""
        if tables not in self._arrays:
            names = sorted(set().union(*(self._known.get(table, frozenset()) for table in tables)))
            self._arrays[tables] = pa.array(names, pa.string())
        return ~mask_of(pc.is_in(column, value_set=self._arrays[tables])) & mask_of(pc.is_valid(column))


def check_references(chunk: Chunk, table: Table, known: Known) -> None:
    """Let rows wait that name a press, die, coil and so on that is not known yet."""
    for name, tables in table.refers.items():
        column = chunk.values[name]
        unknown = known.unknown(column, tables)

        def say(place: int, name: str = name, column: pa.Array = column, tables: tuple[str, ...] = tables) -> Phrase:
            return phrase(UNKNOWN_NAME, column=name, seen=column[place].as_py(), tables=listed(tables, EITHER))

        def refs(place: int, column: pa.Array = column, tables: tuple[str, ...] = tables) -> tuple[Ref, ...]:
            return tuple((table, column[place].as_py()) for table in tables)

        chunk.faults.wait(unknown, say, refs)


def mentions_of(chunk: Chunk, table: Table, known: Known) -> list[Mention]:
    """What the rows name that is not known so far; they are taken, and it may come with a later file of the load."""
    found = []
    for name, tables in table.mentions.items():
        if name not in chunk.values:
            continue
        key_of = TABLES[tables[0]].names
        names = key_of[: key_of.index(name) + 1] if name in key_of else key_of[:1]
        columns = [*(chunk.values[column] for column in names[:-1]), chunk.values[name]]
        # Ids are kept for the first column of a key alone; where it takes more to name a thing all are looked up later.
        unknown = known.unknown(columns[-1], tables) if len(names) == 1 else mask_of(pc.is_valid(columns[-1]))
        rows = pa.table(columns, list(names)).filter(pa.array(unknown)).group_by(list(names)).aggregate([])
        values = zip(*(rows.column(column).to_pylist() for column in names), strict=True)
        found += [Mention(name, tables, names, tuple(map(str, value))) for value in values]
    return found


def unknown_notes(
    mentions: Iterable[Mention], ids: Callable[[str, tuple[str, ...]], Set[tuple[str, ...]]]
) -> list[str]:
    """Remarks on what is named and not known; `ids` gives the values of some columns of a table."""
    by_column: dict[str, list[str]] = {}
    for mention in mentions:
        if not any(mention.value in ids(table, _named_by(table, mention)) for table in mention.tables):
            told = f"{mention.column} {mention.value[-1]!r} is not in {' or '.join(mention.tables)}"
            by_column.setdefault(mention.column, []).append(told)
    return [note for notes in by_column.values() for note in list(dict.fromkeys(notes))[:_MOST_NOTES]]


def _named_by(table: str, mention: Mention) -> tuple[str, ...]:
    return TABLES[table].names[: len(mention.names)]


def check_rows(chunk: Chunk, table: Table, zone: str, sums: bool = True) -> None:
    """Hold faults against sound rows that break a rule between columns or, with `sums`, between rows.

    What is only unlikely breaks no rule.  Reasons quote times in plant time.
    """
    for first, last in table.ordered:
        _check_order(chunk, table, zone, first, last)
    if table.name == "inspections":
        _check_inspections(chunk, sums)


def _check_order(chunk: Chunk, table: Table, zone: str, first: str, last: str) -> None:
    start, end = chunk.column(first), chunk.column(last)
    if start is None or end is None:
        return
    wrong = END_BEFORE_START if table.field(first).kind is Kind.TIME else LIMITS_REVERSED

    def say(place: int) -> Phrase:
        low, high = (_quoted(value.as_py(), zone) for value in (start[place], end[place]))
        return phrase(wrong, first=first, low=low, last=last, high=high)

    chunk.faults.add(mask_of(pc.greater(start, end)) & chunk.sound(), say)


def _quoted(value: object, zone: str) -> object:
    """Return a value as a reason quotes it: a time in plant time with its offset."""
    return value.astimezone(ZoneInfo(zone)).isoformat() if isinstance(value, dt.datetime) else value


def _check_inspections(chunk: Chunk, sums: bool) -> None:
    """One inspection has one count of pieces looked at, and no more pieces rejected than that."""
    rows = pd.DataFrame(
        {
            "id": chunk.values["inspection_id"].to_pylist(),
            "cause": _or_nothing(chunk, "cause"),
            "tub": [kind == "tub" for kind in chunk.values["kind"].to_pylist()],
            "rejected": _counts(chunk, "rejected"),
            "inspected": _counts(chunk, "inspected"),
        }
    )[chunk.sound()]
    counted = rows["inspected"].notna()
    _hold(chunk, rows.index[rows["tub"] & counted], lambda _p: _OF_TUB)
    _hold(chunk, rows.index[~rows["tub"] & ~counted], lambda _p: _UNCOUNTED)
    nameless = rows["cause"].isna() & (rows["rejected"] > 0)
    _hold(chunk, rows.index[nameless], lambda _p: _NO_CAUSE)
    if sums:
        _check_sums(chunk, rows[~rows["tub"] & counted & ~nameless])


def too_many(rejected: int, inspected: int) -> Phrase:
    """Why an inspection does not add up in which more pieces were rejected than looked at."""
    return phrase(MORE_REJECTED_THAN_INSPECTED, rejected=rejected, inspected=inspected)


def _check_sums(chunk: Chunk, rows: pd.DataFrame) -> None:
    by_id = rows.groupby("id", sort=False)
    several = rows.index[by_id["inspected"].transform("nunique") > 1]
    _wait(chunk, several, lambda _p: DIFFERS)
    # A row written twice, or corrected further down, counts once.
    last = rows.drop(several).drop_duplicates(["id", "cause"], keep="last")
    sums = last.groupby("id", sort=False).agg(rejected=("rejected", "sum"), inspected=("inspected", "first"))
    over = sums[sums["rejected"] > sums["inspected"]]
    told = {str(name): too_many(rejected, inspected) for name, rejected, inspected in over.itertuples()}
    ids = rows["id"].astype(str)
    faulty = rows.index[ids.isin(list(told)) & ~rows.index.isin(several)]
    _wait(chunk, faulty, lambda place: told[str(chunk.values["inspection_id"][place])])


def _hold(chunk: Chunk, places: pd.Index, say: Callable[[int], Phrase]) -> None:
    chunk.faults.add(_at(chunk, places), say)


def _wait(chunk: Chunk, places: pd.Index, say: Callable[[int], Phrase]) -> None:
    """Let rows wait for more of their inspection, in another file: a correction may let all of them add up."""
    chunk.faults.wait(
        _at(chunk, places), say, lambda place: (("inspections", str(chunk.values["inspection_id"][place])),)
    )


def _at(chunk: Chunk, places: pd.Index) -> Mask:
    mask = np.zeros(len(chunk.line), dtype=bool)
    mask[places.to_numpy()] = True
    return mask


def _counts(chunk: Chunk, name: str) -> pd.Series:
    return pd.Series(_or_nothing(chunk, name), dtype="Int64")


def _or_nothing(chunk: Chunk, name: str) -> list[object]:
    column = chunk.values.get(name)
    return [None] * len(chunk.line) if column is None else column.to_pylist()
