"""The door to every figure: one name, one range, one table with the columns of `shared.figures`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, TypedDict, Unpack

import pandas as pd

from monitor.figures.bounds import in_range
from monitor.figures.customer import week as customer
from monitor.figures.genealogy import exposure as sorting
from monitor.figures.genealogy import trace as genealogy
from monitor.figures.genealogy.mountings import described, mountings, weighed, with_earlier
from monitor.figures.judgement import capability as measured
from monitor.figures.material import coil_ledger as accounts
from monitor.figures.material import coils as strip
from monitor.figures.material.coil_place import on_press
from monitor.figures.material.mount_facts import mounts_of
from monitor.figures.material.unscanned import Missing, unscanned
from monitor.figures.output import files, production
from monitor.figures.output import scrap as scrap_table
from monitor.figures.output import stops as standstill
from monitor.figures.question import Question
from monitor.figures.scope import Scope, scope
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, plant_of
from monitor.plant.records import records
from monitor.reckoning.press.carry import from_json
from monitor.reckoning.press.stops import stop_name
from shared.durations import FOREVER_US
from shared.errors import RequestError
from shared.fields import Kind
from shared.figures import FIGURES, SHARPENING_PIECES

if TYPE_CHECKING:
    from monitor.figures.contradictions import Contradiction
    from monitor.figures.judgement.bench import PlantLook
    from monitor.reckoning.attribution.suspects import Remembered

# Statistics take a second to import: what judges is imported where it is asked for, so that what counts need not wait.

__all__ = [
    "AVAILABLE",
    "Missing",
    "Question",
    "ask",
    "ask_all",
    "contradicting",
    "evidence",
    "figure",
    "look",
    "missing_scans",
    "station_service",
    "unspent_coils",
]


class FigureQuery(TypedDict, total=False):
    """Range and filters of a figure as a person writes them, None = all; see `figure`."""

    from_: str | None
    to: str | None
    press: str | None
    die: str | None
    part: str | None
    sharpening_pieces: float
    book: Book | None


def figure(ledger: Ledger, name: str, *, version: int | None = None, **asked: Unpack[FigureQuery]) -> pd.DataFrame:
    """Return one figure table of a ledger.

    `book` is the plant book of that version where it has been read already.  `sharpening_pieces` is what one sharpening
    is worth, in rejected pieces, for `service`.  Counts are Int64 and add up, times of day ISO 8601 text with the
    plant's offset, durations seconds; what is not known is missing.  Raises RequestError for a name or range that does
    not exist.
    """
    return ask(ledger.snapshot(version), name, **asked)


def ask(snapshot: Snapshot, name: str, **asked: Unpack[FigureQuery]) -> pd.DataFrame:
    """Return one figure table of one version of a ledger; see `figure`."""
    return ask_all(snapshot, [name], **asked)[name]


def ask_all(snapshot: Snapshot, names: Iterable[str], **asked: Unpack[FigureQuery]) -> dict[str, pd.DataFrame]:
    """Return figure tables of one range by their names, from facts that are read once for all; see `figure`."""
    names, sharpening_pieces = list(names), asked.get("sharpening_pieces", SHARPENING_PIECES)
    for name in set(names) - set(_MADE_BY):
        raise RequestError("figures", repr(name), f"one of {', '.join(_MADE_BY)}", "choose one of these names")
    if not sharpening_pieces > 0:
        raise RequestError("--sharpening-pieces", str(sharpening_pieces), "a number above 0", "give a larger one")
    book = asked.get("book") or Book.read(snapshot, plant_of(snapshot.plant_text()))
    wanted = scope(
        book.calendar,
        asked.get("from_"),
        to=asked.get("to"),
        press=asked.get("press"),
        die=asked.get("die"),
        part=asked.get("part"),
    )
    question = Question(snapshot, book, wanted, sharpening_pieces)
    return {name: _typed(name, _MADE_BY[name](question)) for name in names}


def evidence(
    snapshot: Snapshot, die: str, *, from_: str | None = None, to: str | None = None
) -> tuple[pd.DataFrame, Book]:
    """Return the inspections of a die with all that could have moved its scrap (see `series`), and the plant book.

    Raises RequestError for a range that does not exist.
    """
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    question = Question(snapshot, book, scope(book.calendar, from_, to=to, press=None, die=die, part=None))
    return _evidence(question).get(die, pd.DataFrame()), question.standing


def look(
    snapshot: Snapshot, *, from_: str | None = None, to: str | None = None, remembered: Remembered | None = None
) -> PlantLook:
    """Return what moves the scrap of every die and cause, with the inspections it was worked out from.

    With what was `remembered` of earlier looks only dies and causes with new inspections are worked out.
    Raises RequestError for a range that does not exist.
    """
    from monitor.figures.judgement import analysis
    from monitor.figures.judgement.bench import PlantLook

    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    question = Question(snapshot, book, scope(book.calendar, from_, to))
    rows = _evidence(question)
    suspects = _typed("suspects", analysis.suspects(rows, question.standing, remembered))
    services = tuple(records(snapshot.rows("die_service")))
    return PlantLook(
        snapshot.version,
        from_ or "",
        to=to or "",
        book=question.standing,
        rows=rows,
        suspects=suspects,
        services=services,
    )


def station_service(snapshot: Snapshot, seen: PlantLook, die: str) -> pd.DataFrame:
    """Return the `service` table of one die from inspections that were looked at already."""
    from monitor.figures.judgement import service as sharpening

    until_us = scope(seen.book.calendar, None, seen.to or None).to_us
    return _typed("service", sharpening.service(snapshot, seen.book, dict(seen.rows), [die], until_us))


def missing_scans(
    snapshot: Snapshot, *, from_: str | None = None, to: str | None = None, press: str | None = None
) -> list[Missing]:
    """Return the coil changes in range that seem not to have been noted; RequestError for a range there is not."""
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    question = Question(snapshot, book, scope(book.calendar, from_, to=to, press=press, die=None, part=None))
    return unscanned(snapshot, mountings(question), question.facts("strokes"))


def contradicting(
    snapshot: Snapshot,
    *,
    from_: str | None = None,
    to: str | None = None,
    press: str | None = None,
    die: str | None = None,
) -> list[Contradiction]:
    """Return the sets of rows in range that cannot all be true; RequestError for a range there is not."""
    from monitor.figures.contradictions import found_in

    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    return found_in(Question(snapshot, book, scope(book.calendar, from_, to=to, press=press, die=die, part=None)))


def _typed(name: str, table: pd.DataFrame) -> pd.DataFrame:
    columns = FIGURES[name].columns
    table = table.reindex(columns=[column.name for column in columns])
    kinds = {Kind.COUNT: "Int64", Kind.NUMBER: "float64"}
    table = table.astype({c.name: kinds[c.kind] for c in columns if c.kind in kinds}).reset_index(drop=True)
    return table.assign(**{c.name: in_range(table[c.name], c) for c in columns if c.kind in kinds})


def _totals(question: Question, key: list[str]) -> pd.DataFrame:
    time, strokes, pieces, rejects = (question.facts(kind) for kind in ("time", "strokes", "pieces", "rejects"))
    return production.totals(time, strokes, pieces, rejects, key)


def _shifts(question: Question) -> pd.DataFrame:
    return production.shifts(_totals(question, production.SHIFT), question.book)


def _hours(question: Question) -> pd.DataFrame:
    return production.hours(_totals(question, production.HOUR), question.book)


def _stops(question: Question) -> pd.DataFrame:
    return standstill.stops(question.facts("stops"), question.book, _standing(question))


def _standing(question: Question) -> dict[str, int]:
    """Return the stops that the last carry of each press is still in, and up to when they were seen [us]."""
    seen = {}
    for press_id, text in question.snapshot.last_carries().items():
        carry = from_json(text)
        if carry.last is not None and carry.idle is not None and carry.idle.is_stop:
            seen[stop_name(press_id, carry.idle.since_us)] = carry.last.time_us
    return seen


def _coils(question: Question) -> pd.DataFrame:
    return weighed(question, mountings(question))


def _coil_ledger(question: Question) -> pd.DataFrame:
    """Return the coils used in range with all their mountings; without range and filters those never used too."""
    table, names = with_earlier(question)
    used = set(table.loc[table["mounting_id"].isin(names), "coil_id"])
    table = table[table["coil_id"].isin(used)].reset_index(drop=True)
    asked = question.scope
    if all(value is None for value in (asked.from_us, asked.to_us, asked.press, asked.die, asked.part)):
        return _accounts(question, table, set(question.book.coils) - used)
    book = question.book.of_coils(question.snapshot.lookup("coils", "coil_id", used))
    return _accounts(replace(question, book=book), table, set())


def _accounts(question: Question, table: pd.DataFrame, idle: set[str]) -> pd.DataFrame:
    """Return the accounts of the coils of some mountings, and of those that were never mounted."""
    rows = [row for row in question.book.tables["coils"] if row["coil_id"] in idle]
    lying = on_press(question.snapshot)
    return accounts.coil_ledger(
        table, weighed(question, table), book=question.book, on=lying, idle=rows, today=question.last_day
    )


def unspent_coils(snapshot: Snapshot) -> pd.DataFrame:
    """Return the `coil_ledger` rows of the coils that are not used up, whenever they were used last, if ever."""
    book = Book.read(snapshot, plant_of(snapshot.plant_text()))
    wanted = accounts.unspent(snapshot.strip_used(), book)
    question = Question(snapshot, book.of_coils(snapshot.lookup("coils", "coil_id", wanted)), Scope())
    chain = mounts_of(snapshot, wanted)
    table = strip.with_start(strip.with_material(strip.mountings(chain), question.book, {}))
    return _typed("coil_ledger", _accounts(question, table, wanted - set(table["coil_id"])))


def _scrap(question: Question) -> pd.DataFrame:
    rejects = question.facts("rejects")
    named = ("mounting_id", set(rejects["mounting_id"]) - {""})
    known = described(question, question.snapshot.facts("mounts", where=named)).set_index("mounting_id")
    for column in ("coil_id", "lot"):
        rejects[column] = rejects["mounting_id"].map(known[column]).astype("object").fillna("").astype("str")
    return scrap_table.scrap(rejects)


def _trace(question: Question) -> pd.DataFrame:
    asked = question.scope
    rows = genealogy.in_range(question.snapshot, asked.from_us, asked.to_us, asked.press)
    rows = [row for row in rows if asked.part in (None, row["part_no"])]
    return genealogy.trace(question.snapshot, question.book, rows, asked.die)


def _exposure(question: Question) -> pd.DataFrame:
    return sorting.exposure(question.snapshot, question.book, question.facts("rejects"), question.scope)


def _customer_week(question: Question) -> pd.DataFrame:
    asked, book = question.scope, question.book
    rows = customer.made(question.facts("pieces"), question.facts("rejects"), book)
    until = dt.date.max if asked.to_us is None else question.last_day
    if asked.press or asked.die:
        return customer.customer_week(rows, None, book, until)
    sent = customer.deliveries(question.snapshot, book, asked.from_us, asked.to_us)
    told = customer.complaints(question.snapshot)
    told = told[told["delivered_us"].between(asked.from_us or -FOREVER_US, (asked.to_us or FOREVER_US) - 1)]
    given = customer.delivered(asked.keep_part(sent), asked.keep_part(told), book)
    return customer.customer_week(rows, given, book, until)


def _dies(question: Question) -> list[str]:
    dies = sorted({row["die_id"] for row in question.standing.tables["dies"]})
    return [die for die in dies if question.scope.die in (None, die)]


def _evidence(question: Question) -> dict[str, pd.DataFrame]:
    from monitor.figures.judgement import analysis

    return analysis.evidence(question.snapshot, question.standing, question.scope, mountings(question), _dies(question))


def _suspects(question: Question) -> pd.DataFrame:
    """All dies are looked at together, whichever is asked for, or a filter would change what counts as chance."""
    from monitor.figures.judgement import analysis

    whole = replace(question, scope=replace(question.scope, die=None))
    table = analysis.suspects(_evidence(whole), question.standing)
    return table[table["die_id"].isin(_dies(question))]


def _wear(question: Question) -> pd.DataFrame:
    from monitor.figures.judgement import analysis

    return analysis.wear(_evidence(question), question.standing)


def _service(question: Question) -> pd.DataFrame:
    from monitor.figures.judgement import service as sharpening

    return sharpening.service(
        question.snapshot,
        question.standing,
        rows_by_die=_evidence(question),
        dies=_dies(question),
        until_us=question.scope.to_us,
        sharpening_pieces=question.sharpening_pieces,
    )


def _capability(question: Question) -> pd.DataFrame:
    return measured.capability(question.snapshot, question.book, question.scope)


def _contradictions(question: Question) -> pd.DataFrame:
    from monitor.figures.contradictions import contradictions

    return contradictions(question)


def _set_aside(question: Question) -> pd.DataFrame:
    return files.set_aside(question.snapshot, question.book)


def _loads(question: Question) -> pd.DataFrame:
    return files.loads(question.snapshot, question.book)


_MADE_BY: dict[str, Callable[[Question], pd.DataFrame]] = {
    "shifts": _shifts,
    "hours": _hours,
    "stops": _stops,
    "coils": _coils,
    "coil_ledger": _coil_ledger,
    "scrap": _scrap,
    "suspects": _suspects,
    "wear": _wear,
    "service": _service,
    "trace": _trace,
    "capability": _capability,
    "exposure": _exposure,
    "customer_week": _customer_week,
    "contradictions": _contradictions,
    "set_aside": _set_aside,
    "loads": _loads,
}

#: Names of the figures that can be asked for.
AVAILABLE: tuple[str, ...] = tuple(_MADE_BY)
