"""The plant as `plant.toml` describes it: zone, shifts, breaks, closed days and the house style of its papers.

A shift is known by its name.  An entry with a later `valid_from` replaces the earlier entry of that name from
that date on and leaves the past as it was; an entry that lists presses replaces, for those presses, the one
that lists none; an entry with `days = []` ends the shift.  Breaks with a later `valid_from` replace the
earlier breaks of that shift.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import Annotated, Any, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails, PydanticCustomError

from shared.durations import DAY_S
from shared.errors import PlantError
from shared.identifiers import as_identifier, hidden_in
from shared.phrases import Phrase, phrase
from shared.reasons.expected import DATE, NOTHING, ONE_OF, SPAN
from shared.reasons.files import TOML_FILE
from shared.reasons.plant_file import (
    A_LIST,
    ADD_KEY,
    BREAK_OF_NO_SHIFT,
    BREAK_OUTSIDE_SHIFT,
    CLOCK_TIME_IN_DAY,
    ENTRIES_CONTRADICT,
    EVERY_PRESS,
    MEND_KEY,
    MEND_LINE,
    MEND_VALUE,
    MORE_TO_MEND,
    MOVE_BREAK,
    NAME_A_SHIFT,
    PLAIN_NAME,
    PRESSES_SINCE,
    SEPARATE_SHIFTS,
    SHIFTS_APART,
    TIME_ZONE,
    UNKNOWN_KEY,
    VALUE_FOR_KEY,
    WEEKDAY,
    WRITE_AGAIN,
    WRITE_CLOCK_TIME,
    WRITE_DATE,
    WRITE_HEADING,
    WRITE_LIST,
    WRITE_TIME_ZONE,
    WRITE_WEEKDAY,
)

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_MINUTES = 24 * 60
ALWAYS = dt.date.min
_YEAR_S = 366 * DAY_S

_CLOCK = re.compile(r"([01]\d|2[0-4]):([0-5]\d)")


def _fault(expected: Phrase, mend: Phrase) -> PydanticCustomError:
    return PydanticCustomError("plant", "{expected}", {"expected": expected, "mend": mend})


def _minutes(value: object) -> int:
    if isinstance(value, dt.time) and not value.second and not value.microsecond:
        return value.hour * 60 + value.minute
    match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    minutes = int(match[1]) * 60 + int(match[2]) if match else DAY_MINUTES + 1
    if minutes > DAY_MINUTES:
        raise _fault(phrase(CLOCK_TIME_IN_DAY), phrase(WRITE_CLOCK_TIME))
    return minutes % DAY_MINUTES


def _weekday(value: object) -> str:
    name = value.strip().lower()[:3] if isinstance(value, str) else ""
    if name not in WEEKDAYS:
        raise _fault(phrase(WEEKDAY, days=", ".join(WEEKDAYS)), phrase(WRITE_WEEKDAY))
    return name


def _zone(value: object) -> str:
    try:
        return ZoneInfo(str(value)).key
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise _fault(
            phrase(TIME_ZONE),
            phrase(WRITE_TIME_ZONE),
        ) from None


def _date(value: object) -> object:
    if isinstance(value, dt.datetime) or not isinstance(value, (dt.date, str)):
        raise _fault(phrase(DATE), phrase(WRITE_DATE))
    return value


Clock = Annotated[int, BeforeValidator(_minutes)]
Weekday = Annotated[str, BeforeValidator(_weekday)]
Zone = Annotated[str, BeforeValidator(_zone)]
Date = Annotated[dt.date, BeforeValidator(_date)]
Language = Literal["en", "es", "de"]
Page = Literal["A4", "Letter"]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


def _name(value: object) -> object:
    if not isinstance(value, str):
        return value
    if hidden_in(name := as_identifier(value)):
        raise _fault(phrase(PLAIN_NAME), phrase(WRITE_AGAIN))
    return name


#: A name that tables use too, by their rule for identifiers.
Name = Annotated[str, BeforeValidator(_name)]


class Shift(_Section):
    """A shift; `start`, `end` [min after midnight], an end at or before the start is the next day's."""

    name: Name = Field(min_length=1)
    start: Clock
    end: Clock
    days: tuple[Weekday, ...] = WEEKDAYS
    valid_from: Date = ALWAYS
    presses: tuple[Name, ...] = ()

    @property
    def length(self) -> int:
        """Length by the clock [min], 1 to 1440."""
        return (self.end - self.start - 1) % DAY_MINUTES + 1


class Break(_Section):
    """A planned break of a shift; a time after midnight belongs to the night shift it falls in."""

    shift: Name
    start: Clock
    end: Clock
    valid_from: Date = ALWAYS

    def within(self, shift: Shift) -> tuple[int, int] | None:
        """Start and end of the break [min after the shift's start]; None where the shift has no such time."""
        start = (self.start - shift.start) % DAY_MINUTES
        end = start + (self.end - self.start) % DAY_MINUTES
        return (start, end) if start < end <= shift.length else None


class ClosedDate(_Section):
    """A date on which no shift that starts then is planned."""

    date: Date


class ReportTo(_Section):
    """How one customer's report differs from the house style, and the weekday it is due on."""

    customer: Name = Field(min_length=1)
    day: Weekday | None = None
    language: Language | None = None
    page: Page | None = None


class ReportStyle(_Section):
    """House style of the papers for customers; the logo is an image file in the folder of the ledger."""

    name: str = Field(default="", max_length=80)
    address: tuple[str, ...] = Field(default=(), max_length=6)
    logo: str = Field(default="", pattern=r"^([A-Za-z0-9_][A-Za-z0-9_.-]*\.(?:png|jpg|jpeg|svg))?$")
    colour: str = Field(default="#1d4f63", pattern=r"^#[0-9a-fA-F]{6}$")
    language: Language = "en"
    page: Page = "A4"
    customers: tuple[ReportTo, ...] = Field(default=(), alias="customer")

    def to(self, customer: str) -> ReportTo:
        """Return how the report of a customer looks: its own entry, filled up from the house style."""
        own = next((entry for entry in self.customers if entry.customer == customer), None)
        return ReportTo(
            customer=customer,
            day=own.day if own else None,
            language=(own and own.language) or self.language,
            page=(own and own.page) or self.page,
        )


class TimeLimits(_Section):
    """Which times of rows are plausible at the moment of a load: so many years back, and so many days ahead."""

    years_back: float = Field(default=20, gt=0, le=200)
    days_ahead: float = Field(default=2, ge=0, le=36_500)


class Plant(_Section):
    """Everything `plant.toml` says; `from_toml` is the way in."""

    name: str = ""
    timezone: Zone
    week_start: Weekday = "mon"
    stop_after_s: float = Field(default=60, gt=0, le=_YEAR_S, allow_inf_nan=False)
    entered_edge_s: float = Field(default=300, ge=0, le=_YEAR_S, allow_inf_nan=False)
    shifts: tuple[Shift, ...] = Field(default=(), alias="shift")
    breaks: tuple[Break, ...] = Field(default=(), alias="break")
    closed: tuple[ClosedDate, ...] = ()
    times: TimeLimits = TimeLimits()
    report: ReportStyle = ReportStyle()

    @classmethod
    def from_toml(cls, text: str, where: str = "plant.toml") -> Plant:
        """Read a plant from TOML text; raises PlantError that names the entry and what to write."""
        try:
            told = tomllib.loads(text)
        except (ValueError, RecursionError) as error:  # Numbers of thousands of digits, lists in lists without end.
            raise PlantError(where, str(error), phrase(TOML_FILE), phrase(MEND_LINE)) from None
        try:
            return cls.model_validate(told)
        except ValidationError as error:
            raise _explain(where, error.errors(include_url=False)) from None

    @property
    def changes(self) -> tuple[dt.date, ...]:
        """Dates from which the shifts differ, in order, beginning with the first date there is."""
        return tuple(sorted({ALWAYS, *(shift.valid_from for shift in self.shifts)}))

    def shifts_of(self, press_id: str, date: dt.date) -> tuple[Shift, ...]:
        """Shifts in force for a press on a date, whatever weekday it is, in order of their start."""
        chosen: dict[str, list[Shift]] = {}
        for shift in self.shifts:
            if shift.valid_from <= date and (not shift.presses or press_id in shift.presses):
                chosen.setdefault(shift.name, []).append(shift)
        found = [shift for entries in chosen.values() for shift in _latest(entries)]
        return tuple(sorted(found, key=lambda shift: (shift.start, shift.name)))

    def breaks_of(self, shift: Shift, date: dt.date) -> tuple[tuple[int, int], ...]:
        """Breaks in force of a shift on a date [min after the start of the shift], in order."""
        entries = [part for part in self.breaks if part.shift == shift.name and part.valid_from <= date]
        newest = max((part.valid_from for part in entries), default=ALWAYS)
        spans = (part.within(shift) for part in entries if part.valid_from == newest)
        return tuple(sorted(span for span in spans if span))

    def day_start(self, date: dt.date) -> int:
        """Clock time the plant day starts at [min after midnight]: the earliest shift start, else 0."""
        groups = ("", *sorted({press_id for shift in self.shifts for press_id in shift.presses}))
        starts = (shift.start for group in groups for shift in self.shifts_of(group, date) if shift.days)
        return min(starts, default=0)

    @model_validator(mode="after")
    def _breaks_lie_in_their_shift(self) -> Self:
        for number, part in enumerate(self.breaks, 1):
            shifts = [shift for shift in self.shifts if shift.name == part.shift]
            if not shifts:
                known = ", ".join(sorted({shift.name for shift in self.shifts})) or "none yet"
                raise _fault(
                    phrase(BREAK_OF_NO_SHIFT, number=number, known=known, seen=part.shift),
                    phrase(NAME_A_SHIFT),
                )
            if not any(part.within(shift) for shift in shifts):
                times = phrase(SPAN, start=_clock(part.start), end=_clock(part.end))
                raise _fault(
                    phrase(BREAK_OUTSIDE_SHIFT, number=number, times=times, seen=part.shift),
                    phrase(MOVE_BREAK),
                )
        return self

    @model_validator(mode="after")
    def _shifts_do_not_overlap(self) -> Self:
        groups = ("", *sorted({press_id for shift in self.shifts for press_id in shift.presses}))
        for date in self.changes:
            for group in groups:
                pair = _overlap(self.shifts_of(group, date))
                if pair:
                    presses = group or phrase(EVERY_PRESS)
                    since = phrase(PRESSES_SINCE, presses=presses, date=date) if date > ALWAYS else presses
                    raise _fault(
                        phrase(SHIFTS_APART, presses=since, one=pair[0].name, other=pair[1].name),
                        phrase(SEPARATE_SHIFTS),
                    )
        return self


def _latest(entries: list[Shift]) -> list[Shift]:
    own = [shift for shift in entries if shift.presses] or entries
    newest = max(shift.valid_from for shift in own)
    return [shift for shift in own if shift.valid_from == newest]


def _overlap(shifts: tuple[Shift, ...]) -> tuple[Shift, Shift] | None:
    week = sorted(
        (
            (WEEKDAYS.index(day) * DAY_MINUTES + shift.start, number)
            for number, shift in enumerate(shifts)
            for day in shift.days
        )
    )
    following = [*week[1:], *((start + 7 * DAY_MINUTES, number) for start, number in week[:1])]
    for (start, number), (next_start, next_number) in zip(week, following, strict=True):
        if start + shifts[number].length > next_start:
            return shifts[number], shifts[next_number]
    return None


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _explain(where: str, faults: list[ErrorDetails]) -> PlantError:
    first, more = faults[0], len(faults) - 1
    expected, mend = _expectation(first)
    if more:
        others = "; ".join(_place(fault["loc"]) for fault in faults[1:])
        mend = phrase(MORE_TO_MEND, mend=mend, n=more, others=others)
    place = _place(first["loc"])
    return PlantError(f"{where}, {place}" if place else where, _seen(first), expected, mend)


def _place(loc: tuple[int | str, ...]) -> str:
    text = ", ".join(str(part) for part in loc if isinstance(part, str))
    for number in (part for part in loc[:2] if isinstance(part, int)):
        text = f"[[{loc[0]}]] {number + 1}{text.removeprefix(str(loc[0]))}"
    return text


def _seen(fault: ErrorDetails) -> str:
    if fault["type"] == "missing":
        return phrase(NOTHING)
    if fault["type"] == "extra_forbidden":
        return phrase(UNKNOWN_KEY, key=str(fault["loc"][-1]))
    if not fault["loc"]:
        return phrase(ENTRIES_CONTRADICT)
    return repr(fault["input"])[:80]


def _expectation(fault: ErrorDetails) -> tuple[str, str]:
    context: dict[str, Any] = fault.get("ctx", {})
    if fault["type"] == "plant":
        return context["expected"], context["mend"]
    if fault["type"] == "missing":
        return phrase(VALUE_FOR_KEY, key=fault["loc"][-1]), phrase(ADD_KEY)
    if fault["type"] == "extra_forbidden":
        parts: dict[str, type[_Section]] = {
            "shift": Shift,
            "break": Break,
            "closed": ClosedDate,
            "report": ReportStyle,
            "times": TimeLimits,
        }
        part = ReportTo if "customer" in fault["loc"][:-1] else parts.get(str(fault["loc"][0]), Plant)
        keys = ", ".join(field.alias or name for name, field in part.model_fields.items())
        return phrase(ONE_OF, words=keys), phrase(MEND_KEY)
    if fault["type"] == "tuple_type":
        entries = len(fault["loc"]) == 1
        return (
            phrase(A_LIST),
            phrase(WRITE_HEADING, key=fault["loc"][0]) if entries else phrase(WRITE_LIST),
        )
    return fault["msg"].lower(), phrase(MEND_VALUE)
