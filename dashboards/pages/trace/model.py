"""What the trace page shows: coils, containers and shipments of one thing, and the holds on it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import pandas as pd

from dashboards.holds.model import HoldInWords, hold_lines, names_in
from dashboards.holds.words import hold_place_words
from dashboards.ledger.version import LedgerVersion
from dashboards.parts.contradictions import DAYS_OF_ONE, Mark, mark
from dashboards.parts.numbers import Number
from dashboards.parts.picker import bounds, within
from dashboards.request.formats import count, date_of
from dashboards.request.locale import key, say
from dashboards.request.url import View
from monitor.charts.flow import NO_COIL, ON_THE_FLOOR
from monitor.figures.bounds import local_times
from monitor.figures.contradictions import AFFECTS
from monitor.figures.genealogy.holds_in_force import BOXED, MOUNTED, SHIPPED, HoldPlace
from monitor.figures.genealogy.trace import EACH, MOMENTS, Traced

SCOPES = (key("container"), key("shipment"), key("coil"), key("lot"), key("heat"), key("hold"))

#: Containers drawn one by one; more are drawn by where they went.
MOST_BOXES = 24

_LINK = ["source_kind", "source", "target_kind", "target", "is_known", "pieces", "sure"]


@dataclass(frozen=True)
class TraceView:
    """The page: `lack` says what is missing and what to do; else rows, links between stages and totals.

    `holds` are those that cover it, `hold_places` where, `narrower` the lots of a heat; `coils` those of a hold;
    `opened` is what is in the containers opened in a range, rows of the figure `trace`, where nothing is asked for.
    """

    view: View
    lack: str = ""
    note: str = ""
    totals: tuple[Number, ...] = ()
    rows: pd.DataFrame = field(default_factory=pd.DataFrame)
    links: pd.DataFrame = field(default_factory=pd.DataFrame)
    holds: tuple[HoldInWords, ...] = ()
    hold_places: tuple[str, ...] = ()
    narrower: tuple[str, ...] = ()
    coils: pd.DataFrame = field(default_factory=pd.DataFrame)
    opened: pd.DataFrame = field(default_factory=pd.DataFrame)
    contradicted: Mark | None = None


def load_trace(reading: LedgerVersion, view: View) -> TraceView:
    """What is known of the thing in the address."""
    if not view.value:
        told = say(
            "Type what stands on a label: a container, a shipment, a coil or reel, a lot or a heat. "
            "You get the coils it came from and where the rest of them went."
        )
        return TraceView(view, told, holds=tuple(hold_lines(reading)), opened=_opened(reading, view))
    known = _known(reading, view.value)
    scope = view.scope if view.scope in SCOPES else next(iter(known), "")
    if scope not in known:
        return TraceView(view, _unknown(view, known))
    view = view.but(scope=scope)
    others = [name for name in known if name != scope]
    told = key("{value} is also a {others}; choose above.")
    note = say(told, value=view.value, others=", ".join(say(name) for name in others)) if others else ""
    return _of_hold(reading, view, note) if scope == "hold" else _of_thing(reading, view, note)


def _opened(reading: LedgerVersion, view: View) -> pd.DataFrame:
    if not (view.since or view.until):
        return pd.DataFrame()
    return reading.figure("trace", *bounds(reading.calendar(), view))


def found(reading: LedgerVersion, view: View) -> Traced:
    """What is known of the thing in a view that says what it is, in the containers opened in its range."""
    traced = reading.traced_hold(view.value)[0] if view.scope == "hold" else reading.trace(view.scope, view.value)
    return replace(traced, table=within(traced.table, "opened_at", reading.calendar(), view))


def _narrowed(all_rows: pd.DataFrame, rows: pd.DataFrame, note: str) -> str:
    """The note with how many containers a range leaves out: nobody may take a part for all there is."""
    every, shown = all_rows["container_id"].nunique(), rows["container_id"].nunique()
    if every == shown:
        return note
    left = say("Only the {n} containers opened in these days, of {all}.", n=count(shown), all=count(every))
    return f"{note} {left}".strip()


def _known(reading: LedgerVersion, value: str) -> list[str]:
    holds = ["hold"] if value in set(reading.hold_history()["hold_id"]) else []
    return [*reading.scopes_of(value), *holds]


def _of_thing(reading: LedgerVersion, view: View, note: str) -> TraceView:
    everything = reading.trace(view.scope, view.value).table
    traced = found(reading, view)
    rows = traced.table
    lines = tuple(hold_lines(reading, names_in(view.scope, view.value, everything)))
    if everything.empty:
        return TraceView(view, _nothing(view.scope, view.value), holds=lines)
    note = _narrowed(everything, rows, note)
    if rows.empty:
        return TraceView(view, note, holds=lines)
    # A range narrows what is listed, never what a hold says.
    standing = {line.hold_id for line in lines if not line.ended}
    hold_places = tuple(
        hold_place_words(place)
        for place in reading.hold_places()
        if place.hold_id in standing and _is_here(place, view, everything)
    )
    lots = tuple(sorted({lot for lots in everything["lots"] for lot in lots})) if view.scope == "heat" else ()
    shown = TraceView(
        view,
        "",
        note=note,
        totals=_totals(traced),
        rows=rows,
        links=links(traced),
        holds=lines,
        hold_places=hold_places,
        narrower=lots,
    )
    return replace(shown, contradicted=_contradicted(reading, view, rows))


def _contradicted(reading: LedgerVersion, view: View, rows: pd.DataFrame) -> Mark | None:
    """The mark for rows that cannot all be true about the containers and coils shown."""
    calendar = reading.calendar()
    times = [us for name in MOMENTS for us in rows[name].dropna().tolist()]
    if calendar is None or not times:
        return None
    # Inspections and second shipments come after a container was filled.
    first, last = date_of(min(times), calendar), date_of(max(times), calendar) + dt.timedelta(days=DAYS_OF_ONE)
    boxes = set(rows["container_id"])
    coils = {view.value} if view.scope == "coil" else {coil for some in rows["coils"] for coil in some}
    presses = set(rows["press_id"])
    found = reading.contradictions(first.isoformat(), last.isoformat(), presses.pop() if len(presses) == 1 else "")
    of_strip = [one for one in found if "trace" in AFFECTS[one.code] and not coils.isdisjoint(one.coils)]
    mine = [one for one in found if one in of_strip or not boxes.isdisjoint(one.containers)]
    named = {"coil": [one.coils for one in mine], "container": [one.containers for one in mine]}.get(view.scope, [()])
    about = View(scope=view.scope, value=view.value) if all(view.value in names for names in named) else View()
    return mark(mine, calendar, about)


def _is_here(place: HoldPlace, view: View, rows: pd.DataFrame) -> bool:
    """Tell whether a hold applies to what is shown: its strip on a press, its shipments, the container itself."""
    if place.kind == SHIPPED:
        return place.name in {name for names in rows["shipments"] for name in names}
    return place.kind == MOUNTED or (place.kind == BOXED and place.name == view.value)


def _of_hold(reading: LedgerVersion, view: View, note: str) -> TraceView:
    """What a hold bears on, all of it, sent or here, with its coils."""
    everything, bearing = reading.traced_hold(view.value)
    lines = tuple(hold_lines(reading, hold_id=view.value))
    hold_places = tuple(
        hold_place_words(place)
        for place in reading.hold_places()
        if place.hold_id == view.value and place.kind != BOXED
    )
    traced = found(reading, view)
    rows = traced.table
    if everything.table.empty and bearing.coils.empty:
        told = say("Nothing in the ledger is of hold {hold} yet; what comes will be.", hold=view.value)
        return TraceView(view, told, holds=lines)
    note = _narrowed(everything.table, rows, note)
    if rows.empty:
        return TraceView(view, "", note, holds=lines, hold_places=hold_places, coils=bearing.coils)
    return TraceView(
        view,
        "",
        note=note,
        totals=_totals(traced),
        rows=rows,
        links=links(traced),
        holds=lines,
        hold_places=hold_places,
        narrower=(),
        coils=bearing.coils,
    )


def _unknown(view: View, known: list[str]) -> str:
    if known:
        told = key("There is no {what} {value}, but there is a {other} of that name: choose {other} above.")
        return say(told, what=say(view.scope), value=view.value, other=say(known[0]))
    what = say(view.scope) if view.scope in SCOPES else say("container, shipment, coil, lot or heat")
    return say(
        "There is no {what} {value} in the ledger. Check the label letter by letter; if it is right, its file "
        "is not loaded yet: strokeledger load FILE --ledger FOLDER.",
        what=what,
        value=view.value,
    )


def _nothing(scope: str, value: str) -> str:
    if scope in ("container", "shipment"):
        return say(
            "Nothing is known to be in {what} {value}: the press made no piece of its part while it stood open. "
            "Load the counter readings of that time, or correct when it was opened and closed.",
            what=say(scope),
            value=value,
        )
    return say(
        "No piece of {what} {value} is in a container yet: it was not fed, or no container was noted while it ran. "
        "A hold placed now shows as soon as one is.",
        what=say(scope),
        value=value,
    )


def _totals(traced: Traced) -> tuple[Number, ...]:
    rows = traced.table
    is_sent = rows["shipment_id"] != ""
    pieces, sure = _here(rows, traced), int(rows["sure_pieces"].sum())
    customers = sorted(set(rows.loc[is_sent, "customer"]) - {""})
    coils = {coil for coils in rows["coils"] for coil in coils} - {""}
    certain = sure if pieces is None else min(sure, pieces)
    return (
        Number(say("Pieces"), count(pieces), (say("{n} certain", n=count(certain)),)),
        Number(say("Coils"), count(len(coils)), (", ".join(sorted(set(rows["heat"]) - {""})[:3]),)),
        Number(say("Containers"), count(rows["container_id"].nunique()), ()),
        Number(say("Sent"), count(_here(rows[is_sent], traced)), (", ".join(customers[:3]),)),
        Number(say("On the floor"), count(_here(rows[~is_sent], traced)), ()),
    )


def _here(rows: pd.DataFrame, traced: Traced) -> int | None:
    """The pieces in some containers, None where nobody knows how many are in one of them.

    Where pieces may be in one container or in another, no more are counted than there are.
    """
    if not traced.unknown.isdisjoint(rows["container_id"]):
        return None
    pieces = int(rows["here"].sum())
    return pieces if traced.most is None else min(pieces, traced.most)


def links(traced: Traced) -> pd.DataFrame:
    """Bands from coil by reels to container and on to where it went; many containers are drawn by that alone."""
    rows = traced.table
    boxes = set(rows["container_id"])
    moves = [move for move in traced.repacks if {move.from_container, move.to_container} <= boxes]
    packed = {move.to_container for move in moves}
    found = [link for row in rows.to_dict("records") if row["pieces"] > 0 for link in _way(row, packed)]
    sums = rows.groupby("container_id")["pieces"].sum()
    for move in moves:
        pieces = int(min(move.quantity, sums[move.to_container]))
        found.append(("container", move.from_container, "container", move.to_container, True, pieces, pieces))
    places = rows.groupby("container_id").agg(here=("here", "sum"), sent=("shipment_id", "first"))
    for name, here, sent in places.itertuples(name=None):
        if here > 0:
            found.append(("container", name, "place", sent or ON_THE_FLOOR, True, int(here), int(here)))
    table = pd.DataFrame(found, columns=_LINK)
    if len(boxes) > MOST_BOXES:
        table = _by_place(table, {str(name): sent or ON_THE_FLOOR for name, sent in places["sent"].items()})
    return table.groupby(_LINK[:5], as_index=False, sort=False)[["pieces", "sure"]].sum()


def _way(row: dict[Any, Any], packed: set[str]) -> list[tuple[object, ...]]:
    if row["container_id"] in packed:
        return []
    stages = [("coil", row["coil_id"] or NO_COIL)]
    stages += [("reel", name) for name in row["came_by"]]
    stages.append(("container", row["container_id"]))
    counts, is_one = (row["pieces"], row["sure_pieces"]), len(row["coils"]) == 1 and row["coils"] != ("",)
    return [(*one, *after, is_one or one[0] != "coil", *counts) for one, after in pairwise(stages)]


def _by_place(table: pd.DataFrame, places: dict[str, str]) -> pd.DataFrame:
    sizes = pd.Series(list(places.values())).value_counts()
    told = {place: say(place) if place == ON_THE_FLOOR else place for place in sizes.index}
    group = {
        name: say("{n} containers: {place}", n=count(sizes[place]), place=told[place]) for name, place in places.items()
    }
    for end in ("source", "target"):
        is_box = table[f"{end}_kind"] == "container"
        table[end] = table[end].where(~is_box, table[end].map(group))
    return table[table["source"] != table["target"]]


# Rows to take away


def _trace(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """The rows shown: of the thing asked for, or of all containers opened in the range."""
    shown = load_trace(reading, view)
    rows = shown.rows if view.value else shown.opened
    return local_times(rows.drop(columns=list(EACH), errors="ignore"), MOMENTS, reading.clock)


def _hold_coils(reading: LedgerVersion, view: View) -> pd.DataFrame:
    return load_trace(reading, view).coils


def _holds(reading: LedgerVersion, view: View) -> pd.DataFrame:
    """All holds, with their moments as ISO 8601 text."""
    return local_times(reading.hold_history(), ("placed_at", "lifted_at", "from", "to"), reading.clock)


DOWNLOADS: Mapping[str, Callable[[LedgerVersion, View], pd.DataFrame]] = MappingProxyType(
    {"trace": _trace, "hold_coils": _hold_coils, "holds": _holds}
)
"""Name of what is taken away -> its rows for a view."""
