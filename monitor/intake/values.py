"""Cells to the canonical values of text, counts, numbers, dates and flags.

Each function takes one column as it came (text, or the native type of a Parquet file) and gives the canonical
column and a mask of the cells that hold something which cannot be taken.  Whole columns are cast at once; only
where that fails are single cells looked at.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from monitor.intake.batch import Mask
from shared.arrow import ARROW_TYPES
from shared.fields import Field, Kind
from shared.identifiers import as_identifier, hidden_in

# 421 000 000 000 comes out of a spreadsheet as 4.21E+11, and the digits behind it are gone.
DAMAGED = re.compile(r"[+-]?\d([.,]\d+)?E\+\d+", re.IGNORECASE)
_COUNT = r"^[+-]?0*[0-9]{1,18}(\.0*)?$"
_NUMBER = r"^[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?$"
_FLAGS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
_EXACT = 2**53
_MOST_DIGITS = 18
_BEYOND_COUNTING = 10**18
_FIRST_DATE, _LAST_DATE = dt.date(1900, 1, 1), dt.date(2100, 12, 31)


class WrongType(Exception):
    """A column of a Parquet file whose type cannot hold what the column means."""


@dataclass(frozen=True)
class Parsed:
    """A canonical column and the cells of it that could not be taken (null there)."""

    values: pa.Array
    bad: Mask


def parse(raw: pa.Array, field: Field) -> Parsed:
    """The canonical column of any kind but TIME; raises WrongType."""
    return _PARSERS[field.kind](raw, field)


def is_text(kind: pa.DataType) -> bool:
    """Whether an Arrow type holds text."""
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind))


def plain_text(raw: pa.Array) -> pa.Array:
    """A text column as strings, trimmed, empty cells null."""
    text = pc.utf8_trim_whitespace(pc.cast(raw, pa.string()))
    return pc.if_else(pc.equal(text, ""), pa.scalar(None, pa.string()), text)


def mask_of(flags: pa.Array) -> Mask:
    """A boolean column as a mask, null as false."""
    mask: Mask = pc.fill_null(flags, False).to_numpy(zero_copy_only=False)
    return mask


def _all_good(values: pa.Array) -> Parsed:
    return Parsed(values, np.zeros(len(values), dtype=bool))


def _text(raw: pa.Array, field: Field) -> Parsed:
    if pa.types.is_integer(raw.type):
        raw = pc.cast(raw, pa.string())
    if not is_text(raw.type):
        raise WrongType(str(raw.type))
    words = raw if pa.types.is_dictionary(raw.type) else raw.dictionary_encode()
    known = words.dictionary.to_pylist()
    cleaned = [_clean(word, field) for word in known]
    if cleaned == known:
        return _all_good(pc.cast(raw, pa.string()))
    values = pa.array(cleaned, pa.string()).take(words.indices)
    empty = pa.array([not (word or "").strip() for word in known]).take(words.indices)
    return Parsed(values, mask_of(pc.and_(pc.is_null(values), pc.is_valid(words.indices))) & ~mask_of(empty))


def _clean(word: str | None, field: Field) -> str | None:
    """The word as it is kept; None where it is empty or cannot be taken."""
    word = as_text(word or "", field)
    if not word or (field.identifier and (DAMAGED.fullmatch(word) or hidden_in(word))):
        return None
    if field.listed:
        items = [item.strip() for item in word.split(";") if item.strip()]
        kept = [_choice(item, field.choices) if field.choices else _numeral(item) for item in items]
        return None if None in kept else ";".join(item for item in kept if item)
    return _choice(word, field.choices) if field.choices else word


def as_text(word: str, field: Field) -> str:
    """The word as it is kept, trimmed; letters composed of several signs are one, whoever wrote the file."""
    return as_identifier(word) if field.identifier else unicodedata.normalize("NFC", word).strip()


def _choice(word: str, choices: tuple[str, ...]) -> str | None:
    return word.lower() if word.lower() in choices else None


def _numeral(word: str) -> str | None:
    return str(int(word)) if word.isascii() and word.isdigit() and len(word) <= _MOST_DIGITS else None


def _count(raw: pa.Array, field: Field) -> Parsed:
    if is_text(raw.type):
        parsed = _count_from_text(raw)
    elif pa.types.is_integer(raw.type):
        parsed = _count_from_integers(raw)
    elif pa.types.is_floating(raw.type):
        parsed = _count_from_floats(raw)
    else:
        raise WrongType(str(raw.type))
    return _in_range(parsed, field, _BEYOND_COUNTING - 1)


def _count_from_text(raw: pa.Array) -> Parsed:
    if pa.types.is_string(raw.type) and not _holds(raw, b"xX"):
        try:
            return _all_good(pc.cast(raw, pa.int64()))
        except pa.ArrowInvalid:
            pass
    return _where_it_matches(raw, _COUNT, pa.int64(), lambda t: pc.replace_substring_regex(t, r"^\+|\.0*$", ""))


def _holds(text: pa.Array, letters: bytes) -> bool:
    """Whether the text may hold one of the letters: Arrow takes 0x10 for 16, a counter reading is not meant so."""
    data = text.buffers()[2]
    if data is None:
        return False
    view = np.frombuffer(data, dtype=np.uint8)
    return any(bool((view == letter).any()) for letter in letters)


def _count_from_integers(raw: pa.Array) -> Parsed:
    if not pa.types.is_uint64(raw.type):
        return _all_good(pc.cast(raw, pa.int64()))
    bad = mask_of(pc.greater(raw, pa.scalar(2**63 - 1, pa.uint64())))
    return Parsed(pc.cast(pc.if_else(pa.array(bad), pa.scalar(None, pa.uint64()), raw), pa.int64()), bad)


def _count_from_floats(raw: pa.Array) -> Parsed:
    """Whole numbers in a column of floats, as frames write a column of counts that has gaps; NaN is a gap."""
    numbers = pc.cast(raw, pa.float64()).to_numpy(zero_copy_only=False)
    missing = np.isnan(numbers)
    with np.errstate(invalid="ignore"):
        bad = ~missing & ((numbers != np.floor(numbers)) | (np.abs(numbers) > _EXACT))
    whole = np.where(missing | bad, 0, numbers).astype(np.int64)
    return Parsed(pa.array(whole, mask=missing | bad), bad)


def _number(raw: pa.Array, field: Field) -> Parsed:
    if is_text(raw.type):
        parsed = _number_from_text(raw)
    elif pa.types.is_integer(raw.type) or pa.types.is_floating(raw.type) or pa.types.is_decimal(raw.type):
        values = pc.cast(raw, pa.float64(), safe=False)
        parsed = _all_good(pc.if_else(pc.is_nan(values), pa.scalar(None, pa.float64()), values))
    else:
        raise WrongType(str(raw.type))
    endless = mask_of(pc.invert(pc.is_finite(parsed.values)))
    return _in_range(_without(parsed, endless), field)


def _number_from_text(raw: pa.Array) -> Parsed:
    try:
        return _all_good(pc.cast(raw, pa.float64()))
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
        return _where_it_matches(raw, _NUMBER, pa.float64(), lambda text: text)


def _where_it_matches(raw: pa.Array, pattern: str, kind: pa.DataType, mend: Callable[[pa.Array], pa.Array]) -> Parsed:
    text = plain_text(raw)
    fits = pc.match_substring_regex(text, pattern)
    values = pc.cast(mend(pc.if_else(fits, text, pa.scalar(None, pa.string()))), kind)
    return Parsed(values, mask_of(pc.invert(fits)))


def _in_range(parsed: Parsed, field: Field, most: float = np.inf) -> Parsed:
    low, high = -np.inf if field.low is None else field.low, most if field.high is None else field.high
    seen = pc.min_max(parsed.values)
    if seen["min"].as_py() is None or (seen["min"].as_py() >= low and seen["max"].as_py() <= high):
        return parsed
    return _without(parsed, mask_of(pc.or_(pc.less(parsed.values, low), pc.greater(parsed.values, high))))


def _without(parsed: Parsed, more: Mask) -> Parsed:
    if not more.any():
        return parsed
    nothing = pa.scalar(None, parsed.values.type)
    return Parsed(pc.if_else(pa.array(more), nothing, parsed.values), parsed.bad | more)


def _flag(raw: pa.Array, field: Field) -> Parsed:
    if pa.types.is_boolean(raw.type):
        return _all_good(raw)
    if pa.types.is_integer(raw.type):
        raw = pc.cast(raw, pa.string())
    return _word_by_word(raw, field, lambda word: _FLAGS.get(word.lower()))


def _date(raw: pa.Array, field: Field) -> Parsed:
    if pa.types.is_date(raw.type):
        days = pc.cast(raw, pa.date32(), safe=False)
        known = mask_of(pc.and_(pc.greater_equal(days, _FIRST_DATE), pc.less_equal(days, _LAST_DATE)))
        return _without(_all_good(days), ~known & mask_of(pc.is_valid(raw)))
    if pa.types.is_timestamp(raw.type) and raw.type.tz is None:
        raw = pc.cast(raw, pa.string())
    return _word_by_word(raw, field, _as_date)


def _as_date(word: str) -> dt.date | None:
    """A date, or the midnight that frames write for one."""
    try:
        moment = dt.datetime.fromisoformat(word)
    except ValueError:
        return None
    return (
        moment.date()
        if word[:1].isdigit() and moment.time() == dt.time() and _FIRST_DATE <= moment.date() <= _LAST_DATE
        else None
    )


def _word_by_word(raw: pa.Array, field: Field, take: Callable[[str], object | None]) -> Parsed:
    if not is_text(raw.type):
        raise WrongType(str(raw.type))
    words = plain_text(raw).dictionary_encode()
    taken = [take(word) for word in words.dictionary.to_pylist()]
    values = pa.array(taken, ARROW_TYPES[field.kind]).take(words.indices)
    return Parsed(values, mask_of(pc.and_(pc.is_null(values), pc.is_valid(words.indices))))


_PARSERS: dict[Kind, Callable[[pa.Array, Field], Parsed]] = {
    Kind.TEXT: _text,
    Kind.COUNT: _count,
    Kind.NUMBER: _number,
    Kind.DATE: _date,
    Kind.FLAG: _flag,
}
