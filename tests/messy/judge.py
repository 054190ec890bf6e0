"""Faults found, each with the table and row, what the page says, and what the product says."""

from __future__ import annotations

import datetime as dt
import traceback
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from monitor.figures import AVAILABLE, FIGURES, ask_all, figure
from monitor.figures.bounds import with_local_times
from monitor.ledger import Ledger
from monitor.plant.book import Book, plant_of
from shared.fields import Kind

#: Figures of files rather than of the plant.
OF_FILES = ("loads", "set_aside")
#: How far from their whole the parts of a sum in seconds or kilograms may be, by rounding alone.
ROUNDING = 1e-6


@dataclass
class Judge:
    """Figures of one ledger, each read once, and what was found wrong with them."""

    ledger: Ledger
    faults: list[str] = field(default_factory=list)
    _read: dict[str, pd.DataFrame] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Read all figures at once, which is quicker; where one fails, each is read when it is asked for."""
        with suppress(Exception):
            snapshot = self.ledger.snapshot()
            book = Book.read(snapshot, plant_of(snapshot.plant_text()))
            read = ask_all(snapshot, AVAILABLE, book=book)
            self._read = {name: with_local_times(FIGURES[name], read[name], book.calendar) for name in read}

    def table(self, name: str) -> pd.DataFrame:
        """A figure of everything; one that fails is a fault, and empty."""
        if name not in self._read:
            try:
                self._read[name] = figure(self.ledger, name)
            except Exception as error:
                last = traceback.extract_tb(error.__traceback__)[-1]
                self.fault(name, f"{Path(last.filename).name}:{last.lineno}", "it can be asked", "a table", repr(error))
                self._read[name] = pd.DataFrame(columns=list(FIGURES[name].names))
        return self._read[name]

    def fault(self, table: str, row: object, rule: str, expected: object, got: object) -> None:
        """Note something wrong."""
        self.faults.append(f"{table} | {row} | {rule} | expected {expected} | got {got}")

    def within(self, table: str, row: object, rule: str, low: float, high: float, got: object) -> None:
        """Note a figure that is not from `low` to `high`; what is empty there is wrong as well."""
        value = as_number(got)
        if not low - ROUNDING <= value <= high + ROUNDING:
            expected = f"{low:,.10g}" if low == high else f"{low:,.10g} to {high:,.10g}"
            self.fault(table, row, rule, expected, "empty" if np.isnan(value) else f"{value:,.10g}")

    def has(self, table: str, *columns: str) -> bool:
        """Whether a figure has these columns; those that are missing are a fault, said once."""
        missing = [name for name in columns if name not in self.table(table).columns]
        for name in missing:
            text = f"{table} | {name} | figures.md names the column | expected it | got none"
            if text not in self.faults:
                self.faults.append(text)
        return not missing


def as_number(value: object) -> float:
    """A value of a figure as a number, not a number where it is empty."""
    return np.nan if pd.isna(value) else float(value)


def seconds(text: object) -> int:
    """Seconds since 1970 UTC of a time as a figure writes it."""
    return int(dt.datetime.fromisoformat(str(text)).timestamp())


def whatever_happened(judge: Judge) -> None:
    """What holds of every figure of every plant: ranges of values, and sums that close where nothing is empty."""
    for name in AVAILABLE:
        table, contract = judge.table(name), FIGURES[name]
        if list(table.columns) != list(contract.names):
            judge.fault(name, "columns", "figures.md", contract.names, list(table.columns))
        for column in contract.columns:
            if column.kind in (Kind.COUNT, Kind.NUMBER) and column.name in table:
                _in_range(judge, name, column.name, column.low, column.high)
        for whole, parts in contract.closes:
            _closes(judge, name, whole, parts)
    _ratios(judge)


def _in_range(judge: Judge, name: str, column: str, low: float | None, high: float | None) -> None:
    values = pd.to_numeric(judge.table(name)[column]).astype(float)
    wrong = (values < (-np.inf if low is None else low)) | (values > (np.inf if high is None else high))
    for row in judge.table(name)[wrong.to_numpy()].head(3).to_dict("records"):
        judge.fault(name, _short(row), f"{column} lies in [{low}, {high}]", "that", row[column])


def _closes(judge: Judge, name: str, whole: str, parts: tuple[str, ...]) -> None:
    table = judge.table(name)
    numbers = table[[whole, *parts]].apply(pd.to_numeric).astype(float)
    gap = (numbers[whole] - numbers[list(parts)].sum(axis=1)).abs()
    wrong = numbers.notna().all(axis=1) & (gap > ROUNDING * (1 + numbers[whole].abs()))
    for row in table[wrong.to_numpy()].head(3).to_dict("records"):
        got = [row[part] for part in parts]
        judge.fault(name, _short(row), f"{whole} = {' + '.join(parts)}", row[whole], got)


def _ratios(judge: Judge) -> None:
    """Ratios of time are empty where more than 1 % of the planned time is not resolved."""
    if not judge.has("shifts", "unresolved_s"):
        return
    shifts = judge.table("shifts")
    unseen = pd.to_numeric(shifts["unresolved_s"]).astype(float)
    hidden = unseen > 0.01 * pd.to_numeric(shifts["planned_s"]).astype(float)
    for name in ("parts_per_running_hour", "availability", "effectiveness", "oee_index"):
        for row in shifts[(hidden & shifts[name].notna()).to_numpy()].head(3).to_dict("records"):
            judge.fault(
                "shifts", _short(row), f"3: {name} empty where unresolved_s > 1 % of planned_s", "empty", row[name]
            )


def _short(row: dict[str, object]) -> dict[str, object]:
    """The first columns of a row, which name it."""
    return dict(list(row.items())[:5])


def same_figures(one: Ledger, other: Ledger, names: tuple[str, ...], asked: dict[str, str]) -> list[str]:
    """Names of figures that differ between two ledgers, each with the first lines that do."""
    try:
        mine, its = (ask_all(ledger.snapshot(), names, **asked) for ledger in (one, other))
    except Exception as error:
        return [f"{len(names)} figures: {error!r}"]
    found = []
    for name in names:
        texts = [table.to_csv(index=False).splitlines() for table in (mine[name], its[name])]
        if texts[0] != texts[1]:
            only = [sorted(set(some) - set(rest))[:2] for some, rest in (texts, texts[::-1])]
            counts = f"{len(texts[0])} and {len(texts[1])} lines"
            found.append(f"{name}: {counts}; only one has {only[0]}, only the other {only[1]}")
    return found


def same_files(one: Ledger, other: Ledger, left_out: set[str]) -> list[str]:
    """What differs in `loads` and `set_aside` of two ledgers, without numbers, moments and the files left out."""
    found = []
    for name, dropped in (("loads", ["load_id", "loaded_at"]), ("set_aside", ["id", "set_aside_at"])):
        lines = []
        for ledger in (one, other):
            table = figure(ledger, name).drop(columns=dropped)
            kept = table[~table["file"].isin(left_out)]
            lines.append(sorted(kept.to_csv(index=False, header=False).splitlines()))
        if lines[0] != lines[1]:
            only = [[line for line in mine if line not in its][:2] for mine, its in (lines, lines[::-1])]
            found.append(f"{name}: only one has {only[0]}, only the other {only[1]}")
    return found
