"""Reading what the folds left behind: facts, carries and the days on which pieces were looked at."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import AbstractContextManager
from functools import cached_property
from typing import Any

import pandas as pd
import pyarrow as pa
import sqlalchemy as sa

from monitor.ledger.bulk.files import PartFiles
from monitor.ledger.catalog.database import read_about
from monitor.ledger.catalog.schema import FACT_ROWS, FOLDS, KEYS_A_QUERY, ROWS, live
from shared.errors import LedgerError
from shared.facts import FACTS, RECKONING, FactKind
from shared.phrases import phrase
from shared.reasons.ledger import NAME_NEWER_VERSION, NEWER_VERSION, OLD_FACTS, OLD_FACTS_VERSION

_ARROW = {FactKind.TEXT: pa.string(), FactKind.INTEGER: pa.int64(), FactKind.REAL: pa.float64()}
_NULLABLE = {pa.int64(): pd.Int64Dtype()}.get

Connect = Callable[[], AbstractContextManager[sa.Connection]]


class FactReader:
    """A version of the ledger and the way to its catalogue and files."""

    def __init__(self, connect: Connect, files: PartFiles, version: int) -> None:
        self.version = version
        self._connect = connect
        self._files = files

    def _all(self, query: sa.Select[Any]) -> Sequence[Any]:
        with self._connect() as connection:
            return connection.execute(query).all()

    def _columns(self, query: sa.Select[Any]) -> list[Sequence[Any]]:
        rows = self._all(query)
        return list(zip(*rows, strict=True)) if rows else [() for _ in query.selected_columns]

    def _frame(self, query: sa.Select[Any], names: Sequence[str]) -> pd.DataFrame:
        return pd.DataFrame(dict(zip(names, self._columns(query), strict=True)))


class FoldReader(FactReader):
    """Facts and carries; the day of a fold is a plant day as ISO text, or a name that sorts behind all of them.

    Facts that were reckoned by the rules of an older release are never handed out: LedgerError.
    """

    @property
    def is_reckoned(self) -> bool:
        """Whether the facts of the newest version, if there are any, were reckoned by the rules of this release."""
        with self._connect() as connection:
            return not read_about(connection, "book") or read_about(connection, "reckoning") == str(RECKONING)

    @cached_property
    def _facts_hold(self) -> bool:
        """True; raises LedgerError where the facts of this version were reckoned by the rules of an older release."""
        with self._connect() as connection:
            since = int(read_about(connection, "reckoned since") or 0)
        if self.is_reckoned and self.version >= since:
            return True
        raise LedgerError(
            phrase(OLD_FACTS_VERSION, version=self.version),
            phrase(OLD_FACTS),
            phrase(NEWER_VERSION, version=since or self.version + 1),
            phrase(NAME_NEWER_VERSION),
        )

    def _live(self, made: sa.Table) -> sa.ColumnElement[bool]:
        """Facts or folds of this version, once it is sure that they may be handed out."""
        assert self._facts_hold
        return live(made, self.version)

    def facts(
        self,
        kind: str,
        from_date: dt.date | None = None,
        to_date: dt.date | None = None,
        press_id: str | None = None,
        die_id: str | None = None,
        day: str | None = None,
        folded: tuple[dt.date | None, dt.date | None] = (None, None),
        where: tuple[str, Collection[str]] | None = None,
        made_us: tuple[int, int] | None = None,
    ) -> pd.DataFrame:
        """Facts of one kind with their columns of `shared.facts`; whole numbers are int64, or Int64 where some lack.

        Dates in [from_date, to_date) are those of the shift, or the day of the fold where the kind has no shift.
        `day` narrows to one fold of each press, `folded` to folds of days [first, after), `where` to facts of which a
        column holds one of the values, `made_us` to stretches that begin in [from, to) [us]; no stretch of pieces,
        strokes or rejects is longer than an hour.
        """
        fact, made = FACTS[kind], FACT_ROWS[kind]
        date = made.c["shift_date" if "shift_date" in fact.names else "day"]
        conditions = [self._live(made), *_between(date, from_date, to_date), *_between(made.c.day, *folded)]
        if press_id is not None:
            conditions.append(made.c.press_id == press_id)
        if die_id is not None:
            conditions.append(made.c.die_id == die_id)
        if day is not None:
            conditions.append(made.c.day == day)
        if made_us is not None:
            conditions.append((made.c.from_us >= made_us[0]) & (made.c.from_us < made_us[1]))
        query = sa.select(*(made.c[name] for name in fact.names)).where(*conditions)
        columns = self._columns(query) if where is None else self._columns_where(query, made.c[where[0]], where[1])
        return pd.DataFrame(
            {name: _series(values, kind) for (name, kind), values in zip(fact.columns, columns, strict=True)}
        )

    def _columns_where(
        self, query: sa.Select[Any], column: sa.Column[Any], values: Collection[str]
    ) -> list[Sequence[Any]]:
        wanted = sorted(set(values))
        chunks = (wanted[at : at + KEYS_A_QUERY] for at in range(0, len(wanted), KEYS_A_QUERY))
        rows = [row for some in chunks for row in self._all(query.where(column.in_(some)))]
        return list(zip(*rows, strict=True)) if rows else [() for _ in query.selected_columns]

    def fed_since(self, die_id: str, moment_us: int) -> int:
        """Strokes with strip that a die has made since a moment [us], over all presses."""
        made = FACT_ROWS["strokes"]
        whole = sa.case((made.c.from_us >= moment_us, made.c.fed), else_=0)
        # Strokes of the stretch the moment lies in are taken to be evenly spread over it.
        cut = made.c.fed * (made.c.to_us - moment_us) / sa.cast(made.c.to_us - made.c.from_us, sa.Float)
        part = sa.case((made.c.from_us < moment_us, cut), else_=0.0)
        query = sa.select(sa.func.sum(whole), sa.func.sum(part))
        query = query.where(self._live(made), made.c.die_id == die_id, made.c.to_us > moment_us)
        whole_strokes, part_strokes = self._all(query)[0]
        return int(whole_strokes or 0) + round(part_strokes or 0.0)

    def fed_before(self, die_id: str, date: dt.date) -> int:
        """Strokes with strip that a die has made in shifts before a date, over all presses."""
        made = FACT_ROWS["strokes"]
        query = sa.select(sa.func.sum(made.c.fed)).where(self._live(made), made.c.die_id == die_id)
        return int(self._all(query.where(made.c.shift_date < date.isoformat()))[0][0] or 0)

    def strip_used(self) -> pd.DataFrame:
        """What each mounting used of its coil, summed where the rows lie: a coil may have been mounted long ago.

        Columns: coil_id, used_mm [mm], mounted_us and end_weighed_us [us], end_weighed_kg [kg].
        """
        made = FACT_ROWS["mounts"]
        weighed = made.c.end_weighed_kg.is_not(None)
        columns = (
            sa.func.max(made.c.coil_id).label("coil_id"),
            sa.func.sum(made.c.fed * sa.func.coalesce(made.c.pitch_mm, 0) + made.c.lost_mm).label("used_mm"),
            sa.func.max(made.c.mounted_us).label("mounted_us"),
            sa.func.max(sa.case((weighed, made.c.removed_us))).label("end_weighed_us"),
            sa.func.max(made.c.end_weighed_kg).label("end_weighed_kg"),
        )
        query = sa.select(*columns).where(self._live(made)).group_by(made.c.mounting_id)
        return self._frame(query, [str(column.name) for column in columns])

    def stops_by_reason(self, from_date: dt.date) -> pd.DataFrame:
        """How many stops of shifts since a date have each reason: press_id, reason, kind, stops."""
        made = FACT_ROWS["stops"]
        names = (made.c.press_id, made.c.reason, made.c.kind)
        query = sa.select(*names, sa.func.count(made.c.stop_id.distinct())).where(self._live(made))
        query = query.where(made.c.shift_date >= from_date.isoformat()).group_by(*names)
        return self._frame(query, ("press_id", "reason", "kind", "stops"))

    def last_carries(self) -> dict[str, str]:
        """Carry out of the last fold of each press, the pseudo-day of what is still open included."""
        last = sa.select(FOLDS.c.press_id, sa.func.max(FOLDS.c.day).label("day")).where(self._live(FOLDS))
        newest = last.group_by(FOLDS.c.press_id).subquery()
        query = sa.select(FOLDS.c.press_id, FOLDS.c.carry).where(self._live(FOLDS))
        query = query.join(newest, (FOLDS.c.press_id == newest.c.press_id) & (FOLDS.c.day == newest.c.day))
        return {str(press_id): str(carry) for press_id, carry in self._all(query)}

    def folds(self, press_id: str, day: str | None = None) -> list[tuple[str, str, bool]]:
        """Folds of a press (of one day) in order: day, carry out of it as JSON text, whether it is settled."""
        query = sa.select(FOLDS.c.day, FOLDS.c.carry, FOLDS.c.settled).order_by(FOLDS.c.day)
        query = query.where(FOLDS.c.press_id == press_id, self._live(FOLDS))
        if day is not None:
            query = query.where(FOLDS.c.day == day)
        return [(found, carry, bool(settled)) for found, carry, settled in self._all(query)]

    def fold_carry_before(self, press_id: str, day: str) -> str | None:
        """Carry out of the last fold of a press before a day."""
        query = sa.select(FOLDS.c.carry).order_by(FOLDS.c.day.desc()).limit(1)
        query = query.where(FOLDS.c.press_id == press_id, FOLDS.c.day < day, self._live(FOLDS))
        return next((str(row[0]) for row in self._all(query)), None)

    def reject_days(self, press_id: str, from_date: dt.date, to_date: dt.date) -> list[str]:
        """Days whose inspections rejected pieces of shifts from `from_date` to `to_date`, both included."""
        made = FACT_ROWS["rejects"]
        query = sa.select(made.c.day).distinct().order_by(made.c.day)
        query = query.where(made.c.press_id == press_id, self._live(made))
        between = made.c.shift_date.between(from_date.isoformat(), to_date.isoformat())
        return [str(row[0]) for row in self._all(query.where(between))]

    def tub_times(self, press_id: str, until_us: int) -> list[int]:
        """Times at which the reject tub of a press was counted, up to and with `until_us` [us since 1970 UTC]."""
        made = ROWS["inspections"]
        query = sa.select(made.c.time).distinct().order_by(made.c.time)
        query = query.where(made.c.press_id == press_id, made.c.kind == "tub", made.c.time <= until_us)
        return [int(row[0]) for row in self._all(query.where(self._live(made)))]


def _between(column: sa.Column[Any], first: dt.date | None, after: dt.date | None) -> Iterator[sa.ColumnElement[bool]]:
    if first is not None:
        yield column >= first.isoformat()
    if after is not None:
        yield column < after.isoformat()


def _series(values: Sequence[Any], kind: FactKind) -> pd.Series[Any]:
    array = pa.array(values, _ARROW[kind])
    if kind is FactKind.TEXT:
        array = array.fill_null("")
    nullable = _NULLABLE if kind is FactKind.INTEGER and array.null_count else None
    series: pd.Series[Any] = array.to_pandas(types_mapper=nullable)
    return series
