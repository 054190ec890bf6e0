"""The parts of a column profile, each with its keys and what they mean."""

from __future__ import annotations

import codecs
import datetime as dt
import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from shared.durations import DAY_S
from shared.tables import TABLES
from shared.units import UNITS

_SAMPLE = "1;2,3\n"
_NO_TEXT = frozenset({"idna", "punycode", "unicode-escape", "raw-unicode-escape", "unicode_escape", "undefined"})


def wrong(expected: str) -> PydanticCustomError:
    """A fault of a profile, told by what was expected."""
    return PydanticCustomError("profile", "{expected}", {"expected": expected})


def table_name(name: str) -> str:
    """The name of a table, checked."""
    if name not in TABLES:
        raise wrong("a table of the data contract: " + ", ".join(TABLES))
    return name


def _pattern(text: str) -> str:
    try:
        re.compile(text)
    except re.error as error:
        raise wrong(f"a regular expression ({error})") from None
    return text


def _encoding(name: str) -> str:
    try:
        found = codecs.lookup(name)
        is_text = found.name not in _NO_TEXT and _SAMPLE.encode(found.name).decode(found.name) == _SAMPLE
    except (LookupError, ValueError):
        is_text = False
    if not is_text or found.incrementaldecoder is None:
        raise wrong('the name of a text encoding such as "utf-8", "windows-1252" or "utf-16"')
    return found.name


def _one_sign(text: str) -> str:
    text = "\t" if text == "tab" else text
    if len(text) != 1 or text in "\r\n\0":
        raise wrong('one character, or "tab"')
    return text


def _unit(name: str) -> str:
    if name not in UNITS:
        raise wrong("a unit: " + ", ".join(UNITS))
    return name


def _several(value: object) -> object:
    return (value,) if isinstance(value, str) else value


Pattern = Annotated[str, AfterValidator(_pattern)]
Sign = Annotated[str, AfterValidator(_one_sign)]
Words = Annotated[tuple[str, ...], BeforeValidator(_several)]


class ProfilePart(BaseModel):
    """A part of a profile: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Match(ProfilePart):
    """Which files the profile is for; a file must fit all that is given."""

    name: str = Field(default="", description="what the file is called, `*` for any run of characters: `zaehler-*.csv`")
    headings: Words = Field(
        default=(), description="headings the file has; the headings that columns come `from` if left out"
    )


class Layout(ProfilePart):
    """How the file is written."""

    encoding: Annotated[str, AfterValidator(_encoding)] = Field(
        default="utf-8", description='`"utf-8"`, `"windows-1252"`, `"utf-16"` or another text encoding'
    )
    delimiter: Sign = Field(default=",", description='sign between cells; `"tab"` for a tab')
    quote: Sign = Field(default='"', description="sign around cells; doubled inside them")
    decimal: Literal["", ".", ","] = Field(
        default="", description="decimal sign; left out, numbers with a point or comma are set aside, never guessed"
    )
    thousands: Literal["", ".", ",", "'", " "] = Field(
        default="",
        description="mark between thousands; `'` stands for every apostrophe, a blank for every kind of blank",
    )
    null_words: Words = Field(default=(), description='words for nothing, such as `"-"`')
    strip: str = Field(default="", description="signs taken off both ends of headings and cells, such as `*`")
    skip_lines: int = Field(default=0, ge=0, le=1000, description="lines above the header, whatever they hold")
    skip_to: str = Field(
        default="", description="first heading: every line before the one that begins with it is skipped"
    )
    header_rows: int = Field(default=1, ge=0, le=10, description="rows of the header, the names in the first; 0 = none")
    headings: Words = Field(default=(), description="names of the columns where the file has no header")
    units_row: int = Field(
        default=0, ge=0, le=10, description="row of the header that holds units, 1 = first, 0 = none"
    )
    limits_row: int = Field(
        default=0,
        ge=0,
        le=10,
        description="row of the header that holds limits (`5.10/5.00`); compared with the plant book",
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.decimal and self.decimal == self.thousands:
            raise wrong("two different signs for decimal and thousands")
        if self.delimiter == self.quote:
            raise wrong("two different signs for delimiter and quote")
        if bool(self.headings) == bool(self.header_rows):
            raise wrong("either header_rows of 1 or more, or header_rows = 0 and headings")
        if max(self.units_row, self.limits_row) > self.header_rows:
            raise wrong("units_row and limits_row not above header_rows")
        return self


class Constant(ProfilePart):
    """A value that stands once for the whole file and is used like a heading; one of value, line, file_name."""

    value: str = Field(default="", description="the value itself")
    line: int = Field(
        default=0, ge=0, le=1000, description="line of the file that holds it, 1 = first; found by `pattern`"
    )
    pattern: Pattern = Field(default="", description=r"regular expression for `line`, such as `'PRESS (\d+)'`")
    file_name: Pattern = Field(default="", description=r"regular expression for the name of the file")
    write: str = Field(default="", description="how to write it, `{1}` = first group of the expression: `P{1}`")

    @model_validator(mode="after")
    def _has_one_source(self) -> Self:
        if sum((bool(self.value), bool(self.line), bool(self.file_name))) != 1 or bool(self.line) != bool(self.pattern):
            raise wrong("one of value, line with pattern, or file_name")
        return self


class ProfileColumn(ProfilePart):
    """Where a column of the table comes from and how its cells are read."""

    source: Words = Field(default=(), alias="from", description="heading, or several that are joined with a blank")
    constant: str = Field(default="", description="the same value on every row")
    unit: Annotated[str, AfterValidator(_unit)] | None = Field(
        default=None,
        description='unit the file holds, such as `"in"`, `"lb"`, `"ft/min"`; turned into that of the table',
    )
    map: dict[str, str] = Field(
        default={}, description='words and what they mean; a word not listed is set aside; `""` = empty'
    )
    fill_down: bool = Field(default=False, description="an empty cell means the same as above")
    pattern: Pattern = Field(default="", description="what a whole cell must look like; others are set aside")
    null_words: Words = Field(default=(), description="words for nothing, besides those of the file")
    strip: str = Field(default="", description="signs taken off both ends, besides those of the file")

    @model_validator(mode="after")
    def _has_one_source(self) -> Self:
        if bool(self.source) == bool(self.constant):
            raise wrong("either from or constant")
        return self


class ClockOffset(ProfilePart):
    """How far the logger's clock was ahead, always or for a while."""

    seconds: float = Field(description="seconds the clock was ahead of the true time; behind = negative")
    since: dt.datetime | None = Field(
        default=None, alias="from", description="first reading of that clock it holds for"
    )
    until: dt.datetime | None = Field(
        default=None, alias="to", description="first reading of that clock it holds no more for"
    )


class Time(ProfilePart):
    """How times and dates are written."""

    date_order: Literal["", "dmy", "mdy", "ymd"] = Field(
        default="", description="order of day, month and year; left out, it is taken from the file, which must show it"
    )
    century: Literal[0, 1900, 2000] = Field(default=0, description="century of years of two digits, such as 2000")
    serial1900: bool = Field(default=False, description="dates are day numbers of a spreadsheet, 1 = 1900-01-01")
    hour_end: bool = Field(default=False, description="times are ranges such as `06-07`; what counts is the end")
    clock: str = Field(default="plant", description='`"plant"`, or the fixed offset of the clock such as `"+01:00"`')
    clock_offset_s: float = Field(
        default=0, ge=-DAY_S, le=DAY_S, description="seconds the clock is ahead of the true time"
    )
    clock_offsets: tuple[ClockOffset, ...] = Field(
        default=(), description="the same for a while, each with `seconds`, `from`, `to`"
    )

    @model_validator(mode="after")
    def _clock_is_known(self) -> Self:
        if self.clock != "plant" and not re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d", self.clock):
            raise wrong('clock "plant" or an offset such as "+01:00"')
        edges = [edge for one in self.clock_offsets for edge in (one.since, one.until)]
        if any(edge and edge.tzinfo for edge in edges):
            raise wrong("from and to of clock_offsets by the logger's clock, without an offset")
        return self


class Counter(ProfilePart):
    """What the counter column holds."""

    kind: Literal["cumulative", "delta", "resets"] = Field(
        default="cumulative",
        description="`cumulative` = goes on, `resets` = set back at times, `delta` = made in the period that ends then",
    )
    period_s: float = Field(default=0, ge=0, le=31 * DAY_S, description="length of the period of a `delta` [s]")
    counts: Literal["strokes", "pieces"] = Field(default="strokes", description="what is counted")
    per_stroke: int = Field(default=0, ge=0, le=1000, description="pieces a stroke, where pieces are counted")

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if (self.counts == "pieces") != bool(self.per_stroke):
            raise wrong('per_stroke with counts = "pieces", and only then')
        return self


class Unpivot(ProfilePart):
    """Columns that become rows: each filled cell gives a row of its own, with the heading as a value."""

    columns: Words = Field(default=(), description="headings of those columns")
    pattern: Pattern = Field(default="", description="regular expression for those headings, instead of a list")
    name: str = Field(min_length=1, description="what to call the heading; columns come `from` it")
    value: str = Field(min_length=1, description="what to call the cell; columns come `from` it")

    @model_validator(mode="after")
    def _has_columns(self) -> Self:
        if bool(self.columns) == bool(self.pattern):
            raise wrong("either columns or pattern")
        return self


class Drop(ProfilePart):
    """Rows that are left out (titles, totals, signatures): one of equals, begins, pattern must fit the cell."""

    column: str = Field(default="", description="heading of the cell that tells; the first cell if left out")
    equals: Words = Field(default=(), description='words, `""` for an empty cell')
    begins: Words = Field(default=(), description="beginnings")
    pattern: Pattern = Field(default="", description="regular expression for the whole cell")
    total: str = Field(
        default="", description="heading of a total that must be the sum of the rows; a difference is reported"
    )

    @model_validator(mode="after")
    def _says_which(self) -> Self:
        if not (self.equals or self.begins or self.pattern):
            raise wrong("equals, begins or pattern")
        return self
