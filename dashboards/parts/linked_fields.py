"""Fields of a page kept in step with its address: whichever changed is taken, and the address never rewrites itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from dash import Dash, Input, Output, ctx, no_update

from dashboards.request.url import View, date_or_none

Filled = Callable[[View], View]
"""The view with what a page chooses by itself where the address says nothing."""


@dataclass(frozen=True)
class PageField:
    """A field: its id, what it shows of a view, the view once it holds something, and the property that holds it."""

    name: str
    shown: Callable[[View], Any]
    taken: Callable[[View, Any], View]
    part: str = "value"


def written(name: str, key: str) -> PageField:
    """A field of text that stands in the address under a key."""
    return PageField(
        name, lambda view: getattr(view, key), lambda view, value: view.but(**{key: (value or "").strip()})
    )


def picked(name: str, key: str, nothing: str) -> PageField:
    """A field to choose from; `nothing` stands in it for no choice, which the component takes for an empty field."""
    return PageField(
        name,
        lambda view: getattr(view, key) or nothing,
        lambda view, value: view.but(**{key: "" if value in (None, nothing) else str(value)}),
    )


def days(name: str, keeps_shift: bool = False) -> tuple[PageField, PageField]:
    """The first and the last day of a date field; other days end the choice of one shift, unless that has a field."""
    return _day(name, "since", "start_date", keeps_shift), _day(name, "until", "end_date", keeps_shift)


def _day(name: str, key: str, part: str, keeps_shift: bool) -> PageField:
    def shown(view: View) -> str | None:
        date = getattr(view, key)
        return date.isoformat() if date else None

    def taken(view: View, value: Any) -> View:
        date = date_or_none(value)
        shift = view.shift if keeps_shift or date == getattr(view, key) else ""
        return view.but(**{key: date, "shift": shift})

    return PageField(name, shown, taken, part)


def sync(url: str, fields: Sequence[PageField], filled: Filled, search: str | None, *values: Any) -> tuple[Any, ...]:
    """The address and the values of all fields after one of them, or the address, has changed."""
    view = filled(View.parse(search))
    if ctx.triggered_id == url:
        return no_update, *(field.shown(view) for field in fields)
    held = values[: len(fields)]
    for field, value in zip(fields, held, strict=True):
        view = field.taken(view, value)
    return view.search, *held


def keep(app: Dash, url: str, fields: Sequence[PageField], filled: Filled, *also: Input) -> None:
    """Add the callback that keeps fields and address in step; `also` are buttons that take what the fields hold."""
    linked = [(url, "search"), *((field.name, field.part) for field in fields)]
    app.callback(
        *[Output(*part) for part in linked], *[Input(*part) for part in linked], *also, prevent_initial_call=True
    )(partial(sync, url, fields, filled))
