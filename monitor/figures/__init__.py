"""The door to every figure: one name, one range, one table with the columns that the figure's own module names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib import import_module
from types import MappingProxyType, ModuleType
from typing import TYPE_CHECKING, TypedDict, Unpack, cast

from shared.errors import RequestError
from shared.figures import SHARPENING_PIECES, Figure

if TYPE_CHECKING:
    import pandas as pd

    from monitor.figures.question import Question
    from monitor.figures.scope import Bound
    from monitor.ledger import Ledger, Snapshot
    from monitor.plant.book import Book

__all__ = ["AVAILABLE", "FIGURES", "ask", "ask_all", "figure"]

#: Every figure by its name, with the module below this folder that holds what it is, `FIGURE`, and a function of its
#: name that makes it.  A command that only lists the names waits for none of these modules.
_MODULES: Mapping[str, str] = MappingProxyType(
    {
        "shifts": "output.shifts",
        "hours": "output.hours",
        "stops": "output.stops",
        "coils": "material.coils",
        "coil_ledger": "material.coil_ledger",
        "scrap": "output.scrap",
        "suspects": "judgement.suspects",
        "wear": "judgement.wear",
        "service": "judgement.service",
        "trace": "genealogy.trace",
        "capability": "judgement.capability",
        "exposure": "genealogy.exposure",
        "customer_week": "customer.customer_week",
        "contradictions": "contradictions.contradictions",
        "set_aside": "output.set_aside",
        "loads": "output.loads",
    }
)

#: Names of the figures that can be asked for.
AVAILABLE: tuple[str, ...] = tuple(_MODULES)


class _FigureList(Mapping[str, Figure]):
    """The figures by name; the module of one is imported when it is first asked for."""

    def __getitem__(self, name: str) -> Figure:
        return cast(Figure, _module(name).FIGURE)

    def __iter__(self) -> Iterator[str]:
        return iter(_MODULES)

    def __len__(self) -> int:
        return len(_MODULES)


#: What each figure is, by its name.
FIGURES: Mapping[str, Figure] = _FigureList()


class FigureQuery(TypedDict, total=False):
    """Range (as a person writes it, or in microseconds since 1970 UTC) and filters of a figure, None = all."""

    from_: Bound
    to: Bound
    press: str | None
    die: str | None
    part: str | None
    sharpening_pieces: float
    book: Book | None


def figure(ledger: Ledger, name: str, *, version: int | None = None, **asked: Unpack[FigureQuery]) -> pd.DataFrame:
    """Return one figure table of a ledger as `ask` does, times as text with the plant's offset, lists as tuples."""
    from monitor.figures.bounds import with_local_times
    from monitor.plant.book import Book, plant_of

    snapshot = ledger.snapshot(version)
    book = asked["book"] = asked.get("book") or Book.read(snapshot, plant_of(snapshot.plant_text()))
    return with_local_times(FIGURES[name], ask(snapshot, name, **asked), book.calendar)


def ask(snapshot: Snapshot, name: str, **asked: Unpack[FigureQuery]) -> pd.DataFrame:
    """Return one figure table of one version of a ledger.

    `book` is the plant book of that version where it has been read already.  `sharpening_pieces` is what one sharpening
    is worth, in rejected pieces, for `service`.  Counts are Int64 and add up, times Int64 [us since 1970 UTC],
    durations seconds; what is not known is missing.  Raises RequestError for a name or range that does not exist.
    """
    return ask_all(snapshot, [name], **asked)[name]


def ask_all(snapshot: Snapshot, names: Iterable[str], **asked: Unpack[FigureQuery]) -> dict[str, pd.DataFrame]:
    """Return figure tables of one range by their names, from facts that are read once for all; see `ask`."""
    from monitor.figures.bounds import typed
    from monitor.figures.question import question

    names, sharpening_pieces = list(names), asked.get("sharpening_pieces", SHARPENING_PIECES)
    for name in set(names) - set(_MODULES):
        raise RequestError("figures", repr(name), f"one of {', '.join(AVAILABLE)}", "choose one of these names")
    if not sharpening_pieces > 0:
        raise RequestError("--sharpening-pieces", str(sharpening_pieces), "a number above 0", "give a larger one")
    wanted = question(snapshot, **asked)
    return {name: typed(FIGURES[name], _made_by(name)(wanted)) for name in names}


def _made_by(name: str) -> Callable[[Question], pd.DataFrame]:
    return cast("Callable[[Question], pd.DataFrame]", getattr(_module(name), name))


def _module(name: str) -> ModuleType:
    return import_module(f"monitor.figures.{_MODULES[name]}")
