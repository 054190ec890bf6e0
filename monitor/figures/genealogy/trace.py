"""The `trace` table: which coils are in a container, all the way back through reels, and where it was sent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from monitor.figures.buyers import buyers
from monitor.figures.columns import columns
from monitor.figures.genealogy.graph import Genealogy, genealogy_of
from monitor.figures.question import Question
from monitor.ledger import Snapshot
from monitor.plant.book import Book, Record
from monitor.plant.records import records
from monitor.reckoning.pieces.boxes import Falls
from monitor.reckoning.pieces.containers import SORTED_OUT, ContainerAccount, EntryKind, Repack, reached
from monitor.reckoning.pieces.genealogy import EITHER, NOBODY, Origin
from shared.fields import Field, Kind
from shared.figures import Figure

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

#: Those of `DETAILS` that are moments [us since 1970 UTC], missing where a container is open or was not sent.
MOMENTS = ("opened_at", "closed_at", "shipped_at")

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


def traced(snapshot: Snapshot, rows: Iterable[Record], book: Book, *, sure: bool = False) -> Traced:
    """Return what `trace_of` does for containers; `book` is the plant book of that version."""
    wanted = {row["container_id"]: row for row in rows}
    return _traced(book, genealogy_of(snapshot, wanted.values(), book, sure=sure), wanted)


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
    return Traced(_table(found, rows, sent, unknown), repacks, unknown or frozenset())


def _table(
    found: Genealogy,
    rows: Mapping[str, Record],
    sent: Mapping[str, _Sending],
    unknown: frozenset[str] | None,
) -> pd.DataFrame:
    table = []
    for name in sorted(rows):
        row, held = rows[name], found.held[name]
        sending = sent.get(name, _NOT_SENT)
        origins = {origin for some in (held.came, held.here) for origin in some if unknown is None or origin.is_held}
        for origin in sorted(origins or ({NOBODY} if name in (unknown or ()) else ()), key=_place):
            lots, heats, suppliers = _material(found, origin)
            pieces, here, sure = (some.get(origin, 0) for some in (held.came, held.here, held.sure))
            shown = (EITHER.join(sending.shipments), EITHER.join(sending.customers), origin.coil_id)
            known = (name, row["part_no"], *shown, *map(EITHER.join, (lots, heats, suppliers)), pieces)
            more = (EITHER.join(origin.reels), here, min(sure, max(pieces, 0)), row["press_id"])
            each = (origin.coils, lots, heats, origin.reels, sending.shipments, sending.customers)
            table.append((*known, *more, row["opened_at"], row["closed_at"], sending.at_us, *each))
    return pd.DataFrame(table, columns=[*COLUMNS, *DETAILS, *EACH]).astype(dict.fromkeys(MOMENTS, "Int64"))


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
    at_us: int | None


_NOT_SENT = _Sending((), (), None)


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
        found[name] = _Sending(tuple(ids), tuple(customers), some[-1]["shipped_at"])
    return found
