"""The `trace` table: which coils are in a container, and where the rest of those coils went."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from monitor.figures.buyers import buyers
from monitor.figures.columns import columns
from monitor.figures.genealogy.graph import Genealogy, genealogy_of, packed
from monitor.figures.genealogy.reader import STANDS_OPEN_US
from monitor.figures.question import Question
from monitor.ledger import Ledger, Snapshot
from monitor.plant.book import Book, Record, plant_of
from monitor.plant.records import records
from monitor.reckoning.pieces.boxes import Falls
from monitor.reckoning.pieces.containers import SORTED_OUT, ContainerAccount, EntryKind, Repack, reached
from monitor.reckoning.pieces.genealogy import EITHER, NOBODY, Origin
from shared.durations import FOREVER_US, HOUR_US
from shared.errors import RequestError
from shared.fields import Field, Kind
from shared.figures import Figure
from shared.identifiers import as_identifier

FIGURE = Figure(
    "trace",
    row_per="container, coil (all the way back through a reel)",
    columns=columns(
        "container_id part_no shipment_id customer coil_id lot heat supplier",
        Field(
            "pieces",
            Kind.COUNT,
            "pieces",
            "pieces that came in; in a row without a coil also the difference from the count, < 0 = more traced",
        ),
    ),
)

#: Columns of `trace_of` beyond those of the figure: reels on the way, pieces still in the container, pieces certain
#: whatever happened between two readings, press, and when the container was opened, closed and sent.
DETAILS = ("reels", "here", "sure_pieces", "press_id", "opened_at", "closed_at", "shipped_at")

#: Columns that hold in tuples what others show as `;`-lists: the coils it may be, their lots and heats, reels on the
#: way, shipments, customers.  An id may hold a `;`, so a list is never taken apart again.
EACH = ("coils", "lots", "heats", "came_by", "shipments", "customers")

COLUMNS = FIGURE.names


@dataclass(frozen=True)
class Traced:
    """What a search found: a row a container, coil and way through reels, and the repacks between the containers.

    `repacks` are in the order in which they were done.  Of containers that are `unknown` nobody knows how much is in
    them: they have a row without pieces.  `most` is how many pieces there are in all, where those of one row may be in
    another instead.
    """

    table: pd.DataFrame
    repacks: Sequence[Repack]
    unknown: frozenset[str] = frozenset()
    most: int | None = None


def trace(question: Question) -> pd.DataFrame:
    """Return the `trace` table of the containers opened in range, of a die those with its pieces."""
    asked = question.scope
    rows = records(question.snapshot.rows("containers", asked.press, asked.from_us, asked.to_us))
    rows = [row for row in rows if asked.part in (None, row["part_no"])]
    found = genealogy_of(question.snapshot, rows, question.book)
    names = {row["container_id"] for row in rows}
    if asked.die is not None:
        names &= _made_in(found, asked.die)
    chosen = {row["container_id"]: row for row in rows if row["container_id"] in names}
    return by_coil(_traced(question.book, found, chosen).table)


def by_coil(table: pd.DataFrame, counted: str = "pieces") -> pd.DataFrame:
    """Sum rows of `trace_of` over the ways through reels: a row a container and coil, as in the figure."""
    named = [name for name in COLUMNS if name != "pieces"]
    some = table[table[counted] != 0]
    return some.groupby([*named, "coils"], sort=False, as_index=False).agg({counted: "sum"})[[*named, counted]]


def trace_of(
    ledger: Ledger | Snapshot,
    *,
    container: str | None = None,
    shipment: str | None = None,
    coil: str | None = None,
    lot: str | None = None,
    heat: str | None = None,
    sure: bool = True,
) -> Traced:
    """Trace one container or shipment back to its coils, or a coil (or reel), lot or heat forward to its containers.

    Reads only what bears on it.  The table has the columns of the figure, of `DETAILS` and of `EACH`; a coil that is
    one of several is a `;`-list, pieces of no known coil and the difference from the count have none.  Times are text
    with the plant's offset.  Raises RequestError unless exactly one thing is asked for.
    """
    asked = {"container": container, "shipment": shipment, "coil": coil, "lot": lot, "heat": heat}
    given = {name: value for name, value in asked.items() if value}
    if len(given) != 1:
        raise RequestError("trace", f"{len(given)} things to look for", f"one of {', '.join(asked)}", "name one")
    ((scope, value),) = given.items()
    return trace_by(ledger, scope, value, sure=sure)


def trace_by(
    ledger: Ledger | Snapshot, scope: str, value: str, *, sure: bool = True, book: Book | None = None
) -> Traced:
    """Trace what is named by its scope (container, shipment, coil, lot, heat); see `trace_of`.

    `book` is the plant book of that version where it has been read already.
    """
    snapshot, value = ledger if isinstance(ledger, Snapshot) else ledger.snapshot(), as_identifier(value)
    book = book or small_book(snapshot)
    coils = coils_of(snapshot, scope, value)
    rows = _containers(snapshot, scope, value, coils)
    found = genealogy_of(snapshot, rows.values(), book, sure=sure)
    traced = _traced(book, found, rows)
    if scope in ("coil", "lot", "heat"):
        table = traced.table[_bears_on(traced.table, coils)]
        return replace(traced, table=table.reset_index(drop=True))
    return traced


def coils_of(snapshot: Snapshot, scope: str, value: str) -> set[str]:
    """Return the coils of a coil, lot or heat; a coil may also be a reel."""
    return coils_by(snapshot, [(scope, value)])[scope, value]


def coils_by(snapshot: Snapshot, named: Iterable[tuple[str, str]]) -> dict[tuple[str, str], set[str]]:
    """Return the same for several things, by scope and value."""
    found: dict[tuple[str, str], set[str]] = {(scope, v): {v} if scope == "coil" else set() for scope, v in named}
    for scope in ("lot", "heat"):
        for row in snapshot.lookup("coils", scope, [value for kind, value in found if kind == scope]):
            found[scope, row[scope]].add(row["coil_id"])
    return found


def scopes_of(snapshot: Snapshot, value: str) -> list[str]:
    """Return what a name is known as: container, shipment, coil (or reel), lot, heat."""
    columns = {
        "container": [("containers", "container_id")],
        "shipment": [("shipments", "shipment_id")],
        "coil": [("coils", "coil_id"), ("reels", "reel_id")],
        "lot": [("coils", "lot")],
        "heat": [("coils", "heat")],
    }
    return [scope for scope, where in columns.items() if any(snapshot.lookup(*at, [value]) for at in where)]


def small_book(snapshot: Snapshot) -> Book:
    """Read the book without coils and reels, which may be many."""
    return Book.read(snapshot, plant_of(snapshot.plant_text())).of_coils(())


def _containers(snapshot: Snapshot, scope: str, value: str, coils: Collection[str]) -> dict[str, Record]:
    if scope == "container":
        rows = snapshot.lookup("containers", "container_id", [value])
    elif scope == "shipment":
        names = [row["container_id"] for row in snapshot.lookup("shipments", "shipment_id", [value])]
        rows = snapshot.lookup("containers", "container_id", names)
    else:
        _, found = packed(snapshot, filled_from(snapshot, coils))
        return found
    return {row["container_id"]: row for row in rows}


def traced(snapshot: Snapshot, rows: Iterable[Record], book: Book) -> Traced:
    """Return what `trace_of` does for containers; `book` is the plant book of that version."""
    wanted = {row["container_id"]: row for row in rows}
    return _traced(book, genealogy_of(snapshot, wanted.values(), book), wanted)


def traced_from(
    snapshot: Snapshot, rows: Iterable[Record], book: Book, *, sure: bool = False, fallen_only: bool = False
) -> Traced:
    """Return, as `trace_of` does, all pieces that ever were in some containers, wherever they were packed over since.

    Of a container they were packed into only those count that may be of them, and never more than there were.
    `fallen_only` leaves out containers into which nothing fell.
    """
    named = {row["container_id"]: row for row in rows}

    def of(falls: Mapping[str, Falls]) -> set[str]:
        return {name for name in named if not fallen_only or falls[name].inside}

    found = genealogy_of(snapshot, named.values(), book, sure=sure, holds=of)
    whole = of(found.falls)
    came, here = reached(found.accounts, {}, whole)
    names = {name for name, count in came.items() if count or name in whole}
    known = {row["container_id"]: row for row in snapshot.lookup("containers", "container_id", names)}
    unknown = frozenset(name for name in whole if not found.accounts.by_container[name].is_known)
    traced = _traced(book, found, known, unknown)
    onwards = [name for name in known if name not in whole]
    for column, most in (("pieces", came), ("here", here)):
        _limit(traced.table, column, {name: most[name] for name in onwards})
    return replace(traced, most=sum(_own(found.accounts.by_container[name], whole) for name in whole))


def _own(account: ContainerAccount, whole: Collection[str]) -> int:
    """Return the pieces that came into a container from outside of some, less those found bad."""
    kinds = (EntryKind.FELL, EntryKind.DIFFERENCE, EntryKind.PACKED_IN, EntryKind.SORTED)
    return sum(entry.pieces for entry in account.entries if entry.kind in kinds and entry.other not in whole)


def _limit(table: pd.DataFrame, column: str, most: Mapping[str, int]) -> None:
    """Leave of the pieces of some containers no more than there can be of them, in the order of the rows."""
    some = table["container_id"].isin(list(most))
    if not some.any():
        return
    counts = table.loc[some, column].clip(lower=0)
    names = table.loc[some, "container_id"]
    room = names.map(most).astype("int64") - (counts.groupby(names).cumsum() - counts)
    table.loc[some, column] = counts.clip(upper=room.clip(lower=0))


def made_by(snapshot: Snapshot, scope: str, value: str, span: tuple[int | None, int | None]) -> dict[str, Record]:
    """Return the containers open while a die (scope `die`) or a press (`range`) made pieces in a span [us]."""
    die_id, press_id = (value, None) if scope == "die" else (None, value)
    begin, end = span[0] or 0, span[1] or FOREVER_US
    pieces = snapshot.facts("pieces", press_id=press_id, die_id=die_id, made_us=(begin - HOUR_US, end))
    pieces = pieces[pieces["to_us"] > begin]
    found: dict[str, Record] = {}
    for (press, part_no), some in pieces.groupby(["press_id", "part_no"]):
        spans = [(max(first, begin), min(last, end)) for first, last in _spans(some)]
        boxes = _standing(snapshot, "containers", str(press), spans)
        found |= {row["container_id"]: row for row in boxes if row["part_no"] == part_no}
    return found


def filled_from(snapshot: Snapshot, coils: Collection[str]) -> dict[str, Record]:
    """Return the containers that stood open while pieces of coils, or of reels, were made."""
    return followed(snapshot, coils)[0]


def followed(snapshot: Snapshot, coils: Collection[str]) -> tuple[dict[str, Record], set[str]]:
    """Return the containers open while pieces of coils, or of reels wound from them, were made, and those reels too."""
    found: dict[str, Record] = {}
    seen: set[str] = set()
    names = set(coils)
    while names:
        seen |= names
        mounts = snapshot.facts("mounts", where=("coil_id", names))
        pieces = snapshot.facts("pieces", where=("mounting_id", set(mounts["mounting_id"])))
        reels: set[str] = set()
        for (press_id, part_no), some in pieces.groupby(["press_id", "part_no"]):
            spans = _spans(some)
            boxes = _standing(snapshot, "containers", str(press_id), spans)
            found |= {row["container_id"]: row for row in boxes if row["part_no"] == part_no}
            reels |= {row["reel_id"] for row in _standing(snapshot, "reels", str(press_id), spans)}
        names = _with_cut(snapshot, reels | names) - seen
    return found, seen


def _with_cut(snapshot: Snapshot, reels: set[str]) -> set[str]:
    """Return reels with those cut from them, and from those."""
    found, names = set(reels), set(reels)
    while names:
        names = {row["reel_id"] for row in snapshot.lookup("reels", "from_reel", names)} - found
        found |= names
    return found


def _spans(pieces: pd.DataFrame) -> list[tuple[int, int]]:
    """Join stretches that follow one another within an hour."""
    ordered = pieces.sort_values("from_us")
    spans: list[tuple[int, int]] = []
    for begin, end in zip(ordered["from_us"].tolist(), ordered["to_us"].tolist(), strict=True):
        if spans and begin <= spans[-1][1] + HOUR_US:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((begin, end))
    return spans


_UNTIL = {"containers": ("opened_at", "closed_at"), "reels": ("started_at", "ended_at")}


def _standing(snapshot: Snapshot, table: str, press_id: str, spans: Sequence[tuple[int, int]]) -> list[Record]:
    """Return containers or reels of a press that stood open in one of some spans [us]."""
    if not spans:
        return []
    opened, closed = _UNTIL[table]
    rows = snapshot.spanning(
        table, press_id, end=closed, from_us=spans[0][0], to_us=spans[-1][1], open_us=STANDS_OPEN_US
    )
    lived = [(row, row[opened], row[closed] or row[opened] + STANDS_OPEN_US) for row in rows]
    return [row for row, begin, end in lived if any(begin < last and end > first for first, last in spans)]


def _made_in(found: Genealogy, die: str) -> set[str]:
    """Return the containers with pieces of a die, wherever they were packed over since."""
    made = {
        name: sum(fall.count for fall in falls.inside if fall.made.die_id == die) for name, falls in found.falls.items()
    }
    came, _ = reached(found.accounts, {name: count for name, count in made.items() if count})
    return {name for name, count in came.items() if count}


def _traced(book: Book, found: Genealogy, rows: Mapping[str, Record], unknown: frozenset[str] | None = None) -> Traced:
    """Return the rows of some containers, with `unknown` only of pieces under hold and of those containers."""
    sent = _sent(book, found.sent, rows)
    repacks = [one.repack for one in found.accounts.poured if one.repack.to_container != SORTED_OUT]
    return Traced(_table(book, found, rows, sent, unknown), repacks, unknown or frozenset())


def _table(
    book: Book,
    found: Genealogy,
    rows: Mapping[str, Record],
    sent: Mapping[str, _Sending],
    unknown: frozenset[str] | None,
) -> pd.DataFrame:
    table = []
    for name in sorted(rows):
        row, held = rows[name], found.held[name]
        opened, closed, *_ = book.calendar.local_iso([row["opened_at"], row["closed_at"]])
        sending = sent.get(name, _NOT_SENT)
        origins = {origin for some in (held.came, held.here) for origin in some if unknown is None or origin.is_held}
        for origin in sorted(origins or ({NOBODY} if name in (unknown or ()) else ()), key=_place):
            lots, heats, suppliers = _material(found, origin)
            pieces, here, sure = (some.get(origin, 0) for some in (held.came, held.here, held.sure))
            shown = (EITHER.join(sending.shipments), EITHER.join(sending.customers), origin.coil_id)
            known = (name, row["part_no"], *shown, *map(EITHER.join, (lots, heats, suppliers)), pieces)
            more = (EITHER.join(origin.reels), here, min(sure, max(pieces, 0)), row["press_id"], opened, closed)
            each = (origin.coils, lots, heats, origin.reels, sending.shipments, sending.customers)
            table.append((*known, *more, sending.at, *each))
    return pd.DataFrame(table, columns=[*COLUMNS, *DETAILS, *EACH])


def _place(origin: Origin) -> tuple[bool, str, tuple[str, ...]]:
    """Return what origins are sorted by: those of no known coil stand last."""
    return not (origin.coils or origin.reels), origin.coil_id, origin.reels


def _material(found: Genealogy, origin: Origin) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Return lots, heats and suppliers of a coil, or of all those that it may be."""
    rows = [found.coils.get(coil, {}) for coil in origin.coils]
    lots, heats, suppliers = (
        tuple(sorted({str(row.get(name) or "") for row in rows} - {""})) for name in ("lot", "heat", "supplier")
    )
    return lots, heats, suppliers


@dataclass(frozen=True)
class _Sending:
    """The shipments and customers of a container, each once, and the last moment of sending."""

    shipments: tuple[str, ...]
    customers: tuple[str, ...]
    at: str


_NOT_SENT = _Sending((), (), "")


def _sent(book: Book, sent: Iterable[Record], rows: Mapping[str, Record]) -> dict[str, _Sending]:
    """Return how containers were sent, by container."""
    by_box: dict[str, list[Record]] = defaultdict(list)
    for row in sent:
        if row["container_id"] in rows:
            by_box[row["container_id"]].append(row)
    found = {}
    for name, some in by_box.items():
        some.sort(key=lambda row: (row["shipped_at"], row["shipment_id"]))
        ids = dict.fromkeys(row["shipment_id"] for row in some)
        days = [book.day_of(row["shipped_at"]) for row in some]
        bought = buyers(book, days, [rows[name]["part_no"]] * len(days))
        customers = dict.fromkeys(row["customer"] or own for row, own in zip(some, bought, strict=True))
        (shipped_at,) = book.calendar.local_iso([some[-1]["shipped_at"]])
        found[name] = _Sending(tuple(ids), tuple(customers), shipped_at)
    return found


def _bears_on(table: pd.DataFrame, coils: set[str]) -> npt.NDArray[np.bool_]:
    """Tell which rows name one of the coils, or came by one of them as a reel."""
    both = zip(table["coils"], table["came_by"], strict=True)
    return np.array([not coils.isdisjoint((*c, *r)) for c, r in both], dtype=np.bool_)
