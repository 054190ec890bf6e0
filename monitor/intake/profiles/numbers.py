"""Numbers as loggers write them to plain ones: by the signs and units the profile names, and no others."""

from __future__ import annotations

import re
from collections.abc import Callable

from monitor.intake.profiles.model import Profile
from monitor.intake.profiles.parts import Counter, Layout, ProfileColumn
from shared.errors import RefusedFile, RequestError
from shared.fields import Field, Kind
from shared.phrases import Phrase, phrase
from shared.reasons.expected import (
    DECIMAL_SIGN,
    NO_DECIMAL_SIGN,
    NO_THOUSANDS_MARK,
    NUMBER_AS_WRITTEN,
    THOUSANDS_MARK,
    WHOLE_STROKES,
)
from shared.units import convert

Reader = Callable[[str], str]

_BLANKS = " \u00a0\u2007\u2009\u202f"
_MARKS = {".": r"\.", ",": ",", "'": "['’ʼ]", " ": f"[{_BLANKS}]"}
_DIGITS = 12

#: Words of a unit row and what they mean; "strokes" and "pieces" are counts.
UNIT_WORDS = {
    **dict.fromkeys(("inch", "inches", "in.", '"', "zoll"), "in"),
    **dict.fromkeys(("pound", "pounds", "lbs", "lb."), "lb"),
    **dict.fromkeys(("feet per minute", "feet/min", "ft/min", "fpm"), "ft/min"),
    **dict.fromkeys(("millimetre", "millimeter"), "mm"),
    **dict.fromkeys(("count", "counts", "strokes", "hits", "hübe"), "strokes"),
    **dict.fromkeys(("parts", "part", "pieces", "pcs", "stück", "stk"), "pieces"),
    **dict.fromkeys(("/min", "strokes/min", "spm"), "1/min"),
}


def plain_number(layout: Layout) -> Reader:
    """A reader of numbers that gives them with a point and no marks; it raises ValueError with what was expected."""
    mark, decimal = _MARKS.get(layout.thousands, ""), re.escape(layout.decimal)
    fraction = f"({decimal}[0-9]*)?" if decimal else ""
    grouped = f"[0-9]{{1,3}}({mark}[0-9]{{3}})+|" if mark else ""
    shape = re.compile(f"[+-]?({grouped}[0-9]+){fraction}")
    told = _told(layout)

    def read(cell: str) -> str:
        if not shape.fullmatch(cell):
            raise ValueError(told)
        whole = re.sub(mark, "", cell) if mark else cell
        return whole.replace(layout.decimal, ".") if decimal else whole

    return read


def _told(layout: Layout) -> Phrase:
    decimal = phrase(DECIMAL_SIGN, sign=layout.decimal) if layout.decimal else phrase(NO_DECIMAL_SIGN)
    thousands = phrase(THOUSANDS_MARK, sign=layout.thousands) if layout.thousands else phrase(NO_THOUSANDS_MARK)
    return phrase(NUMBER_AS_WRITTEN, decimal=decimal, thousands=thousands)


def number_reader(profile: Profile, name: str, field: Field, word: str, where: str) -> Reader:
    """A reader of the numbers of a column in the unit of the table; `word` is what the file's unit row says.

    Raises RefusedFile where the unit is unknown or not the one the profile names.
    """
    column = profile.columns[name]
    plain = plain_number(profile.file)
    if field.kind is Kind.COUNT:
        _check_count(field, word, profile.counter, where)
        return _strokes(plain, profile.counter) if field.unit == "strokes" and name != "die_strokes" else plain
    unit = _unit(column, word, where, name)
    if not unit or unit == field.unit:
        return plain
    try:
        convert(1.0, unit, field.unit)
    except RequestError as error:
        raise RefusedFile(f"{where}, {name}", f"unit {unit}", error.expected, "Mend the unit in the profile") from None
    return lambda cell: f"{convert(float(plain(cell)), unit, field.unit):.{_DIGITS}g}"


def _unit(column: ProfileColumn, word: str, where: str, name: str) -> str:
    given = UNIT_WORDS.get(word.lower(), word)
    if given and column.unit and given != column.unit:
        raise RefusedFile(
            f"{where}, {name}", f"{word!r} in the unit row", f"{column.unit} as in the profile", "Check the logger"
        )
    return given or column.unit or ""


def _check_count(field: Field, word: str, counter: Counter, where: str) -> None:
    given = UNIT_WORDS.get(word.lower(), word)
    if not given or field.unit not in ("strokes", "pieces"):
        return
    counted = counter.counts if field.unit == "strokes" else field.unit
    if given != counted:
        raise RefusedFile(
            f"{where}, {field.name}", f"{word!r} in the unit row", f"a count of {counted}", "Set counts in the profile"
        )


def _strokes(plain: Reader, counter: Counter) -> Reader:
    if counter.counts == "strokes":
        return plain

    def read(cell: str) -> str:
        number = plain(cell)
        strokes, rest = divmod(int(number), counter.per_stroke) if "." not in number else (0, 1)
        if rest:
            raise ValueError(phrase(WHOLE_STROKES, n=counter.per_stroke))
        return str(strokes)

    return read
