"""Writing rows that are set aside, and letting them go when they are let in."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

import sqlalchemy as sa

from monitor.ledger.catalog.schema import KEYS_A_QUERY, SET_ASIDE, live
from monitor.ledger.merge.deliveries import chunks
from monitor.ledger.row_writer import RowWriter
from shared.phrases import Phrase
from shared.reasons.kept import kept


class Refused(Protocol):
    """A row that is not taken: where it stood, why, the row as it came and the ids it waits for."""

    @property
    def line(self) -> int:
        """Line of the file."""

    @property
    def reason(self) -> Phrase:
        """What was found and what was expected."""

    @property
    def row(self) -> str:
        """The row as it came, as JSON."""

    @property
    def waits_for(self) -> tuple[tuple[str, str], ...]:
        """What it refers to and waits for, as table and identifier; empty where waiting does not help."""


@dataclass(frozen=True)
class SetAside:
    """A row set aside, as it is kept; `code` and `code_values` are its reason, `waits_for` as `refs_text` writes it."""

    id: int
    load_id: int
    table: str
    file: str
    line: int
    code: str
    code_values: str
    row: str
    waits_for: str


_COLUMNS = tuple(SET_ASIDE.c[name] for name in SetAside.__dataclass_fields__)

_REASON: Mapping[str, sa.BindParameter[str]] = {
    "code": sa.bindparam("given_code"),
    "code_values": sa.bindparam("given_values"),
}


def _given(row: int, reason: Phrase) -> dict[str, object]:
    code, values = kept(reason)
    return {"given_id": row, "given_code": code, "given_values": values}


class AsideWriter(RowWriter):
    """The part of a version that is rows set aside."""

    def set_aside(self, load_id: int, table: str, file: str, rejected: Iterable[Refused]) -> None:
        """Keep rows that are not taken."""
        names = ("load_id", "table", "file", "line", "code", "code_values", "row", "waits_for", "set_aside_at", "added")
        known, since = (load_id, table, file), (self._now_us(), self.version)
        rows = [(*known, row.line, *kept(row.reason), row.row, refs_text(row.waits_for), *since) for row in rejected]
        self._insert(SET_ASIDE, names, rows)

    def waiting(self, refs: Collection[tuple[str, str]]) -> list[SetAside]:
        """Rows set aside that wait for one of the identifiers, given with their table, in the order they came."""
        lists = self._all(sa.select(SET_ASIDE.c.waits_for).where(live(SET_ASIDE, self.version)).distinct())
        wanted = set(refs)
        arrived = [text for (text,) in lists if text and _waits(text, wanted)]
        query = sa.select(*_COLUMNS).where(live(SET_ASIDE, self.version)).order_by(SET_ASIDE.c.id)
        chunks = (arrived[at : at + KEYS_A_QUERY] for at in range(0, len(arrived), KEYS_A_QUERY))
        rows = [row for some in chunks for row in self._all(query.where(SET_ASIDE.c.waits_for.in_(some)))]
        return sorted((SetAside(**row._mapping) for row in rows), key=lambda row: row.id)

    def set_aside_by(self, loads: Collection[int]) -> tuple[list[SetAside], list[SetAside]]:
        """Rows that loads have set aside: those that still are, and those let in since."""
        query = sa.select(*_COLUMNS).where(SET_ASIDE.c.load_id.in_(sorted(loads))).order_by(SET_ASIDE.c.id)
        still = self._all(query.where(SET_ASIDE.c.removed.is_(None)))
        let_in = self._all(query.where(SET_ASIDE.c.removed.is_not(None)))
        return [SetAside(**row._mapping) for row in still], [SetAside(**row._mapping) for row in let_in]

    def set_aside_of(self, ids: Collection[int]) -> list[SetAside]:
        """Rows set aside with these ids, in the order they came; those released since are left out."""
        query = sa.select(*_COLUMNS).where(live(SET_ASIDE, self.version)).order_by(SET_ASIDE.c.id)
        wanted = sorted(set(ids))
        chunks = (wanted[at : at + KEYS_A_QUERY] for at in range(0, len(wanted), KEYS_A_QUERY))
        return [SetAside(**row._mapping) for some in chunks for row in self._all(query.where(SET_ASIDE.c.id.in_(some)))]

    def all_set_aside(self) -> list[SetAside]:
        """All rows set aside, in the order they came."""
        query = sa.select(*_COLUMNS).where(live(SET_ASIDE, self.version)).order_by(SET_ASIDE.c.id)
        return [SetAside(**row._mapping) for row in self._all(query)]

    def restate(self, reasons: Mapping[int, Phrase]) -> None:
        """Give rows set aside, by id, the reason that holds now."""
        if reasons:
            query = sa.update(SET_ASIDE).where(SET_ASIDE.c.id == sa.bindparam("given_id"))
            self._execute(query.values(_REASON), [_given(row, reason) for row, reason in reasons.items()])

    def let_back(self, load_id: int, table: str, line: int) -> None:
        """Let a row of a line be set aside no more: another delivery of it was taken."""
        self.release([row.id for row in self._of_line(load_id, table, line)][:1])

    def set_reason(self, load_id: int, table: str, line: int, reason: Phrase) -> None:
        """Give a row of a line that contradicts another the reason that holds now."""
        ids = [row.id for row in self._of_line(load_id, table, line)[:1]]
        code, values = kept(reason)
        query = sa.update(SET_ASIDE).where(SET_ASIDE.c.id.in_(ids))
        self._execute(query.values(code=code, code_values=values))

    def contradict(self, rows: Mapping[int, Refused]) -> None:
        """Let rows set aside, by id, wait for nothing any more: they contradict others, which is their reason now."""
        query = sa.update(SET_ASIDE).where(SET_ASIDE.c.id == sa.bindparam("given_id"))
        query = query.values({**_REASON, "row": sa.bindparam("given_row"), "waits_for": ""})
        told = [_given(at, row.reason) | {"given_row": row.row} for at, row in rows.items()]
        if told:
            self._execute(query, told)

    def wait_on(self, rows: Mapping[int, Refused]) -> None:
        """Give rows set aside, by id, the reason that holds now, and what they wait for."""
        query = sa.update(SET_ASIDE).where(SET_ASIDE.c.id == sa.bindparam("given_id"))
        query = query.values({**_REASON, "waits_for": sa.bindparam("given_waits")})
        told = [_given(at, row.reason) | {"given_waits": refs_text(row.waits_for)} for at, row in rows.items()]
        if told:
            self._execute(query, told)

    def move_aside(self, rows: Collection[int], load_id: int) -> None:
        """Let rows set aside, by id, be those of another load of the same file."""
        for some in chunks(rows):
            self._execute(sa.update(SET_ASIDE).where(SET_ASIDE.c.id.in_(some)).values(load_id=load_id))

    def _of_line(self, load_id: int, table: str, line: int) -> list[SetAside]:
        """Rows of a line that are set aside and wait for nothing."""
        of_line = (SET_ASIDE.c.load_id == load_id) & (SET_ASIDE.c.table == table) & (SET_ASIDE.c.line == line)
        query = sa.select(*_COLUMNS).where(live(SET_ASIDE, self.version), of_line, SET_ASIDE.c.waits_for == "")
        return [SetAside(**row._mapping) for row in self._all(query.order_by(SET_ASIDE.c.id))]

    def release(self, rows: Mapping[int, str] | Collection[int], by: str = "") -> None:
        """Let rows be set aside no more from this version on; by id, with the row as it was mended where it was.

        `by` is the person who let them in, empty where what they waited for has arrived.
        """
        mended = rows if isinstance(rows, Mapping) else dict.fromkeys(rows, "")
        values = {"removed": self.version, "released_at": self._now_us(), "released_by": by}
        query = sa.update(SET_ASIDE).where(SET_ASIDE.c.id == sa.bindparam("given_id"))
        query = query.values(**values, released_row=sa.bindparam("given_row"))
        if mended:
            self._execute(query, [{"given_id": row, "given_row": text} for row, text in mended.items()])


def refs_text(refs: Collection[tuple[str, str]]) -> str:
    """What a row waits for as it is kept: a list of [table, identifier] in JSON, "" where it waits for nothing."""
    return json.dumps([list(ref) for ref in refs], ensure_ascii=False) if refs else ""


def _waits(text: str, refs: Collection[tuple[str, str]]) -> bool:
    """Whether what a row waits for, as it is kept, names one of the identifiers."""
    if text.startswith("["):
        return not {(table, name) for table, name in json.loads(text)}.isdisjoint(refs)
    # Until December 2026 it was kept as `presses:P07;dies:D1`, and an identifier may hold a `;` itself.
    return any(f";{table}:{name};" in f";{text};" for table, name in refs)
