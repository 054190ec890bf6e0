"""Every column of the input tables once: type, unit, meaning and the range outside which it cannot be meant.

The ranges are wide on purpose: they catch a wrong unit or a slipped decimal point, they do not judge a plant
(common practice, no source).  A column that means something else in one table is defined beside that table.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from shared.phrases import Amount, Phrase, phrase
from shared.reasons.expected import (
    AT_LEAST,
    BETWEEN,
    DATE,
    FLAG,
    IN_UNIT,
    IN_WORDS,
    LIST_OF,
    LIST_OF_NUMBERS,
    NUMBER,
    ONE_OF,
    TEXT,
    TIME,
    TIME_OR_DATE,
    WHOLE_NUMBER,
)


class Kind(Enum):
    """What a column holds."""

    TEXT = "text"
    COUNT = "whole number"
    NUMBER = "number"
    TIME = "time"
    DATE = "date"
    FLAG = "flag (true or false)"


_ONE = {
    Kind.TEXT: phrase(TEXT),
    Kind.COUNT: phrase(WHOLE_NUMBER),
    Kind.NUMBER: phrase(NUMBER),
    Kind.TIME: phrase(TIME),
    Kind.DATE: phrase(DATE),
    Kind.FLAG: phrase(FLAG),
}


@dataclass(frozen=True)
class Field:
    """One column: its kind, unit, meaning and what it may hold (`low` and `high` included, None = open).

    A `listed` column holds a `;`-list, of numbers where there are no `choices`.  An `identifier` names one thing,
    by the rule of `shared.identifiers`.  A time `to_the_day` may be a bare date: the start of that plant day, or its
    last second where it is `to_end`.  One that is `planned` may lie ahead, others have happened.
    """

    name: str
    kind: Kind
    unit: str
    meaning: str
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    listed: bool = False
    identifier: bool = False
    to_the_day: bool = False
    planned: bool = False
    to_end: bool = False

    def expected(self) -> Phrase:
        """What a value must be, as a phrase for a message or the manual."""
        if self.choices:
            words = ", ".join(self.choices)
            return phrase(LIST_OF if self.listed else ONE_OF, words=words)
        if self.kind is Kind.TEXT:
            return phrase(LIST_OF_NUMBERS if self.listed else TEXT)
        if self.to_the_day:
            return phrase(TIME_OR_DATE)
        what = self._in_range()
        return phrase(IN_UNIT, what=what, unit=IN_WORDS.get(self.unit, self.unit)) if self.unit else what

    def _in_range(self) -> Phrase:
        what = _ONE[self.kind]
        if self.low is None:
            return what
        low = Amount(self.low)
        if self.high is None:
            return phrase(AT_LEAST, what=what, low=low)
        return phrase(BETWEEN, what=what, low=low, high=Amount(self.high))


OPERATIONS = (
    "pierce", "notch", "lance", "blank", "trim", "shave", "cutoff", "form", "bend", "draw", "coin", "emboss",
    "extrude", "tap", "pilot", "idle",
)  # fmt: skip
ORIGINS = ("material", "tooling", "press", "setup", "handling")
YES_NO_OPEN = ("yes", "no", "open")


def text(name: str, meaning: str, choices: tuple[str, ...] = (), listed: bool = False) -> Field:
    """A column of free text, or of the words in `choices`."""
    return Field(name, Kind.TEXT, "", meaning, choices=choices, listed=listed)


def identifier(name: str, meaning: str) -> Field:
    """A column that names one thing, by the rule of `shared.identifiers`."""
    return Field(name, Kind.TEXT, "", meaning, identifier=True)


def count(name: str, unit: str, meaning: str, low: float = 0, high: float | None = None) -> Field:
    """A column of whole numbers."""
    return Field(name, Kind.COUNT, unit=unit, meaning=meaning, low=low, high=high)


def number(name: str, unit: str, meaning: str, low: float | None = None, high: float | None = None) -> Field:
    """A column of numbers."""
    return Field(name, Kind.NUMBER, unit=unit, meaning=meaning, low=low, high=high)


def time(name: str, meaning: str, to_the_day: bool = False, planned: bool = False, to_end: bool = False) -> Field:
    """A column of instants: of what happened, or of what is planned."""
    return Field(name, Kind.TIME, "", meaning, to_the_day=to_the_day, planned=planned, to_end=to_end)


def flag(name: str, meaning: str) -> Field:
    """A column of true or false."""
    return Field(name, Kind.FLAG, "", meaning)


_IDENTIFIERS = (
    identifier("press_id", "the press"),
    identifier("die_id", "the die"),
    identifier("part_no", "number of the part"),
    identifier("coil_id", "the coil as bought"),
    identifier("reel_id", "a reel of strip wound after one die to be fed into another"),
    identifier("from_reel", "the reel this one was cut from"),
    identifier("lot", "quantity of strip kept together by the maker"),
    identifier("heat", "one melt of metal"),
    identifier("cert_no", "number of the certificate"),
    identifier("mother_coil", "the wide coil this one was slit from"),
    identifier("order_id", "the order"),
    identifier("inspection_id", "one inspection; a row for each cause found"),
    identifier("rechecks", "earlier inspection of the same pieces"),
    identifier("disposition_id", "one decision about rejected pieces"),
    identifier("container_id", "tub or box of pieces"),
    identifier("from_container", "container the pieces came out of"),
    identifier("to_container", "container the pieces went into"),
    identifier("shipment_id", "one delivery to a customer"),
    identifier("complaint_id", "one complaint of a customer"),
    identifier("hold_id", "one hold on material or pieces"),
    identifier("material", "grade of metal"),
    identifier("cause", "code of what is wrong with the pieces; empty on a clean check"),
    identifier("reason", "code of why the press stood"),
    identifier("characteristic", "name of what is measured"),
)

_TEXTS = (
    text("name", "plain name"),
    text("area", "part of the plant"),
    text("customer", "who buys the part"),
    text("revision", "revision of the part's drawing"),
    text("supplier", "who sold the coil"),
    text("cert_type", "type of certificate, such as 3.1"),
    text("slit_position", "place across the mother coil"),
    text("property", "what was tested"),
    text("unit", "unit of the value"),
    text("note", "free text"),
    text("operation", "what the station does", OPERATIONS, listed=True),
    text("operations", "operations that can make this fault; empty = made before or after the die",
          OPERATIONS, listed=True),
    text("origin", "where the fault comes from", ORIGINS, listed=True),
    text("source", "who tested", ("certificate", "own")),
    text("outs_running", "outs that run where some are blanked off; empty = all", listed=True),
    text("work", "what was done to the die", ("sharpen", "repair", "replace", "adjust")),
    text("accepted", "whether the complaint is accepted", YES_NO_OPEN),
)  # fmt: skip

_COUNTS = (
    count("counter_modulus", "strokes", "the counter returns to 0 after this less one", 2),
    count("parts_per_stroke", "pieces", "pieces that leave the die in one stroke", 1, 1000),
    count("sharpen_every_strokes", "strokes", "entered sharpening interval", 1),
    count("station", "", "place in the die, 1 = first; idle ones are listed", 1, 500),
    count("out", "", "which of the pieces of one stroke", 1, 1000),
    count("step", "", "place of the die in the part's route, 1 = first", 1, 100),
    count("rewinds", "", "times a reel was turned round once more before it was fed", 0, 100),
    count("counter", "strokes", "cumulative strokes as the press counts them", 0),
    count("feeds", "strokes", "cumulative strokes with strip fed, where the press knows", 0),
    count("die_strokes", "strokes", "the die's own counter", 0),
    count("inspected", "pieces", "pieces looked at, the same on every row of an inspection", 0),
    count("rejected", "pieces", "pieces rejected for this cause; one piece has one cause", 0),
    count("used_up", "pieces", "pieces spent by the test, neither good nor rejected", 0),
    count("pieces", "pieces", "number of pieces", 0),
    count("piece", "", "place of the piece in its subgroup, 1 = first", 1),
    count("quantity", "pieces", "number of pieces", 0),
)

_NUMBERS = (
    number("rated_spm", "1/min", "strokes per minute the press or die is made for", 0.1, 10_000),
    number("rated_force_kn", "kN", "rated press force", 0.001, 1_000_000),
    number("lead_in_mm", "mm", "strip between where a splice is noted and station 1", 0, 1_000_000),
    number("stop_after_s", "s", "no stroke for this long is a stop", 0.1, 86_400),
    number("pitch_mm", "mm", "feed length of one progression", 0.1, 10_000),
    number("strip_width_mm", "mm", "width of strip the die takes", 0.5, 5_000),
    number("clearance_pct", "%", "clearance per side in percent of stock thickness", -100, 100),
    number("grind_life_mm", "mm", "height that may be ground off before the part is replaced", 0, 200),
    number("thickness_mm", "mm", "thickness of stock", 0.005, 50),
    number("net_weight_g", "g", "weight of one finished piece", 0.0001, 1_000_000),
    number("nominal", "", "value aimed at, in the characteristic's unit"),
    number("lower", "", "lower limit, in the characteristic's unit"),
    number("upper", "", "upper limit, in the characteristic's unit"),
    number("density_kg_m3", "kg/m3", "density", 500, 25_000),
    number("width_mm", "mm", "width of strip", 0.5, 5_000),
    number("weight_kg", "kg", "weight of strip", 0, 200_000),
    number("yield_mpa", "MPa", "yield strength", 1, 5_000),
    number("tensile_mpa", "MPa", "tensile strength", 1, 5_000),
    number("elongation_pct", "%", "elongation at break", 0, 200),
    number("hardness_hv", "HV", "Vickers hardness", 1, 3_000),
    number("position_m", "m", "distance from the outer end of the coil", 0, 100_000),
    number("from_m", "m", "start of the cut length on the reel it came from", 0, 1_000_000),
    number("to_m", "m", "end of the cut length on the reel it came from", 0, 1_000_000),
    number("lost_m", "m", "strip cut away; overrides the rule", 0, 100_000),
    number("removed_mm", "mm", "height ground off", 0, 100),
    number("value", "", "what was measured, in the unit beside it or the characteristic's"),
)

_TIMES = (
    Field("valid_from", Kind.DATE, "", "first plant day on which this row holds; empty = always"),
    time("recorded_at", "when the row was written; the later of two rows with one key is the correction"),
    time("time", "when it happened"),
    time("received_at", "when the coil came in", to_the_day=True),
    time("started_at", "when winding began"),
    time("ended_at", "when winding ended"),
    time("start_at", "when it began"),
    time("end_at", "when it ended; empty = still standing"),
    time("made_from", "when the first of the pieces was made"),
    time("made_to", "when the last of the pieces was made"),
    time("opened_at", "when the first piece went in"),
    time("closed_at", "when it was closed"),
    time("shipped_at", "when it left the plant", to_the_day=True),
    time("due_at", "when it is due", to_the_day=True, planned=True, to_end=True),
    time("reported_at", "when the customer reported it", to_the_day=True),
    time("placed_at", "when the hold was placed", to_the_day=True),
    time("lifted_at", "when the hold was lifted; empty = still held", to_the_day=True, to_end=True),
    time("from", "start of the range held", to_the_day=True, planned=True),
    time("to", "end of the range held", to_the_day=True, planned=True, to_end=True),
)

_FLAGS = (
    flag("key", "whether the customer calls it a key characteristic"),
    flag("in_planned_time", "whether such a stop lowers availability; "
          "empty = false for kind planned, true for others"),
)  # fmt: skip

FIELDS: dict[str, Field] = {
    field.name: field for field in (*_IDENTIFIERS, *_TEXTS, *_COUNTS, *_NUMBERS, *_TIMES, *_FLAGS)
}
