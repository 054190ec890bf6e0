"""`LedgerReader`: the figures of a ledger as data frames, for notebooks and programs of other people."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, Self

import pandas as pd

from monitor.export import written
from monitor.figures import FIGURES, ask
from monitor.figures.scope import moment_us
from monitor.ledger import Ledger
from monitor.plant.book import Book, plant_of
from shared.calendar import Calendar
from shared.errors import LedgerError, RequestError
from shared.fields import Field, Kind

#: How a person may write a moment: text such as 2026-11-02 or 2026-11-02T14:00, a date, or a date with a time.
Moment = str | dt.date


class LedgerReader:
    """A ledger opened to be read: `figures` returns its tables, `names` what they are called.

    These stay as they are, or are announced a release before they change: the names and arguments of what is public
    here, the names, order, units and types of the columns in docs/tables.md (new ones may come at the end), and that
    whatever goes wrong is a `shared.errors.StrokeledgerError`.  Nothing here writes rows or figures; the ledger's
    folder must be writable all the same, since readers and writers of its catalogue tell each other by a file.
    """

    def __init__(self, path: Path | str) -> None:
        """Open the ledger in a folder; raises LedgerError where this release cannot read it as it is."""
        self._ledger = Ledger.open_as_it_is(path)
        try:
            self._check_reckoned()
        except BaseException:
            self.close()
            raise

    @property
    def version(self) -> int:
        """The newest version, 0 before the first load; each load that changes anything makes one."""
        return self._ledger.version

    def names(self) -> tuple[str, ...]:
        """Return the names of the figure tables; docs/tables.md says what a row of each is, and its columns."""
        return tuple(FIGURES)

    def figures(
        self,
        name: str,
        *,
        start: Moment | None = None,
        end: Moment | None = None,
        press: str | None = None,
        die: str | None = None,
        part: str | None = None,
        version: int | None = None,
    ) -> pd.DataFrame:
        """Return one figure table from `start`, included, to `end`, not included, None = no limit.

        A bare date is the start of that plant day, a time without offset is plant time.  `press`, `die` and `part`
        leave only rows of these.  The newest version answers, or the one named.  Counts are Int64, other numbers
        float64 in the unit of docs/tables.md, flags boolean, text str; times are timestamps in the plant's time zone
        [1 us], dates midnights without a zone; what is not known is missing.  Raises RequestError for a name, range
        or identifier there is not, LedgerError for a version that is not kept.
        """
        snapshot = self._ledger.snapshot(version)
        book = Book.read(snapshot, plant_of(snapshot.plant_text()))
        from_, to = _range(book.calendar, start, end)
        table = ask(snapshot, name, from_=from_, to=to, press=press, die=die, part=part, book=book)
        table = written(table)
        return table.assign(**{field.name: _typed(table[field.name], field, book) for field in FIGURES[name].columns})

    def close(self) -> None:
        """Let go of every file."""
        self._ledger.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _check_reckoned(self) -> None:
        if not self._ledger.snapshot().is_reckoned:
            raise LedgerError(
                str(self._ledger.root),
                "figures reckoned by the rules of an older release",
                "those of this release",
                "run strokeledger upkeep once, which reckons them anew",
            )


def _range(calendar: Calendar, start: Moment | None, end: Moment | None) -> tuple[str | None, str | None]:
    """Return a range as a person would write it; raises RequestError, in the words used here, where it is none."""
    low, high = _written("start", start), _written("end", end)
    low_us, high_us = (text and moment_us(calendar, name, text) for name, text in (("start", low), ("end", high)))
    if low_us and high_us and high_us <= low_us:
        raise RequestError("end", f"{high}, not after {low}", "an end after the start", "give a later one")
    return low, high


def _written(name: str, moment: Moment | None) -> str | None:
    """Return a moment as a person would write it; raises RequestError for what is none."""
    if moment is None or isinstance(moment, str):
        return moment
    if isinstance(moment, dt.date) and not pd.isna(moment):
        return moment.isoformat()
    raise RequestError(name, repr(moment), "text, a date or a datetime", "write 2026-11-02 or 2026-11-02T14:00")


def _typed(column: pd.Series, field: Field, book: Book) -> pd.Series:
    """Return a column in the type that `LedgerReader.figures` promises for its kind."""
    if field.kind is Kind.TIME:
        moments = pd.to_datetime(column, unit="us", utc=True)
        return moments.astype("datetime64[us, UTC]").dt.tz_convert(book.plant.timezone)
    if field.kind is Kind.DATE:
        return pd.to_datetime(column, format="ISO8601").astype("datetime64[us]")
    typed: pd.Series = column.astype(_TYPES[field.kind])
    return typed


_TYPES: Mapping[Kind, Any] = MappingProxyType(
    {Kind.COUNT: "Int64", Kind.NUMBER: "float64", Kind.FLAG: "boolean", Kind.TEXT: "str"}
)
