"""Where a hold applies, in the language of the request."""

from __future__ import annotations

from collections.abc import Mapping

from dashboards.request.locale import key, say, say_n
from monitor.figures.genealogy.holds_in_force import BOXED, MOUNTED, NEXT, SHIPPED, HoldPlace

_SENTENCES: Mapping[tuple[str, bool], str] = {
    (MOUNTED, False): key("{name} lies on press {press}, yet {held} is held."),
    (NEXT, False): key("{name} in store would fit press {press}: do not mount it, {held} is held."),
    (BOXED, False): key("Container {name} is filling with {pieces} under hold: {held} is held."),
    (BOXED, True): key("Container {name} was closed with {pieces} under hold: {held} is held."),
    (SHIPPED, False): key("Shipment {name} had gone out with {pieces} before {held} was held."),
    (SHIPPED, True): key("Shipment {name} went out with {pieces} although {held} was held."),
}

SCOPES: Mapping[str, str] = {
    "coil": key("coil {value}"),
    "lot": key("lot {value}"),
    "heat": key("heat {value}"),
    "die": key("die {value}"),
    "container": key("container {value}"),
    "range": key("press {value}"),
}


def named(scope: str, value: str) -> str:
    """What is held: "lot L-7"."""
    return say(SCOPES.get(scope, "{value}"), value=value)


def hold_place_words(place: HoldPlace) -> str:
    """The sentence that says where a hold applies, with its number and reason."""
    marked = {SHIPPED: place.after, BOXED: place.at_us is not None}.get(place.kind, False)
    scope, _, value = place.held.partition(" ")
    said = say(
        _SENTENCES[place.kind, marked],
        name=place.name,
        press=", ".join(place.presses),
        pieces=_pieces(place.pieces),
        held=named(scope, value),
    )
    return f"{said} {place.hold_id}: {place.reason}"


def _pieces(number: int | None) -> str:
    return say("an unknown number of pieces") if number is None else say_n(number, "{n} piece", "{n} pieces")


def at_press(hold_places: list[HoldPlace], press_id: str) -> str:
    """What lies on a press under hold, in few words for its row on the board; "" where nothing does."""
    mine = [place for place in hold_places if place.kind == MOUNTED and press_id in place.presses]
    return say("HELD: {name}, {hold}", name=mine[0].name, hold=mine[0].hold_id) if mine else ""
