"""Why a row is set aside: what its file held, and what was expected."""

from collections.abc import Mapping
from types import MappingProxyType

from shared.phrases import Phrase, Template, key
from shared.reasons import expected as parts

VALUE_MISSING = Template("value_missing", "{column} is empty, expected {expected}")
TIME_EXPECTED = Template("time_expected", "{column} is {seen!r}, expected {expected} such as {example}")
NAME_DAMAGED = Template(
    "name_damaged",
    "{column} is {seen!r}, expected the name itself: a spreadsheet has made a number of it",
)
NAME_NOT_SHOWN = Template("name_not_shown", "{column} is {seen!a}, expected a name without signs that do not show")
UNKNOWN_NAME = Template(
    "unknown_name",
    "{column} is {seen!r}, expected one that {tables} has; the row waits for it",
)
TIME_SKIPPED = Template(
    "time_skipped",
    "{column} is {seen!r}, a time the clock change skipped in {zone}: it never existed",
)
TIME_REPEATED = Template(
    "time_repeated",
    "{column} is {seen!r}, which happened twice in {zone}, and the rows around it do not show which is "
    "meant; expected a time with its offset",
)
TIME_TOO_LATE = Template(
    "time_too_late",
    "{column} is {seen!r}, more than {n} days after this load; expected earlier, or a higher days_ahead "
    "under [times] in plant.toml",
)
TIME_TOO_EARLY = Template(
    "time_too_early",
    "{column} is {seen!r}, more than {n} years before this load; expected later, or a higher years_back "
    "under [times] in plant.toml",
)
END_BEFORE_START = Template("end_before_start", "{first} {low} lies after {last} {high}, expected it not to")
LIMITS_REVERSED = Template("limits_reversed", "{first} {low} lies above {last} {high}, expected it not to")
TUB_INSPECTED = Template("tub_inspected", "inspected is given, expected it empty for kind tub")
INSPECTED_MISSING = Template("inspected_missing", "inspected is empty, expected a count of pieces")
CAUSE_MISSING = Template("cause_missing", "cause is empty, expected one for the pieces rejected")
INSPECTED_DIFFERS = Template(
    "inspected_differs",
    "inspected differs between rows of one inspection, expected the same on all",
)
MORE_REJECTED_THAN_INSPECTED = Template(
    "more_rejected_than_inspected",
    "{rejected} pieces rejected of {inspected} inspected, expected no more than inspected",
)
CONTRADICTS_ROW = Template(
    "contradicts_row",
    "contradicts {file}, line {line}: {differences}; expected the same values, a later recorded_at or --correct",
)
DIFFERENT_VALUE = Template("different_value", "{column} {seen} instead of {stored}")
COUNTER_ROSE = Template(
    "counter_rose",
    "counter rose by {rise} to {counter}; at most {most} strokes were possible since the reading before",
)
COUNTER_FELL = Template(
    "counter_fell",
    "counter fell by {fall} to {counter} and came back; a counter that is set back goes on from its new reading",
)
ROW_WIDTH = Template("row_width", "the row is {cells} cells wide, expected {width} as in the header")
OPEN_QUOTE = Template("open_quote", "a quote is opened and not closed, expected quotes in pairs")
LINE_CUT = Template("line_cut", "the last line is cut short: {cells} of {width} cells, and no line end")
LINE_MAY_BE_CUT = Template(
    "line_may_be_cut",
    "the last line may be cut short: {column} is {seen!r} after {before!r}, and there is no line end",
)
LAST_CELL_MAY_BE_CUT = Template(
    "last_cell_may_be_cut",
    "the last line may be cut short: {seen!r} after {before!r}, and there is no line end",
)
LINE_WITHOUT_END = Template("line_without_end", "the last line is cut short, it has no line end: {fault}")
LINE_NOT_TEXT = Template(
    "line_not_text",
    "the last line holds bytes that are not text, expected it to end with a line end",
)
ROW_NOT_CUT = Template(
    "row_not_cut",
    "the row was not cut into cells, expected a JSON object of column and value",
)

_NOT_EXPECTED = key("{column} is {seen!r}, expected {expected}")
VALUE_EXPECTED = Template("value_expected", _NOT_EXPECTED)
COUNT_EXPECTED = Template("count_expected", _NOT_EXPECTED)
NUMBER_EXPECTED = Template("number_expected", _NOT_EXPECTED)
DATE_EXPECTED = Template("date_expected", _NOT_EXPECTED)
FLAG_EXPECTED = Template("flag_expected", _NOT_EXPECTED)
CHOICE_EXPECTED = Template("choice_expected", _NOT_EXPECTED)
LIST_EXPECTED = Template("list_expected", _NOT_EXPECTED)
PATTERN_EXPECTED = Template("pattern_expected", _NOT_EXPECTED)
TIME_FORM_EXPECTED = Template("time_form_expected", _NOT_EXPECTED)

#: Of a row that an older release set aside in words of its own.
UNCLASSIFIED = Template("unclassified", "{text}")

#: Code of what was expected -> the reason against a cell that is something else; VALUE_EXPECTED for all others.
_BY_EXPECTED: Mapping[str, Template] = MappingProxyType(
    {
        parts.WHOLE_NUMBER.code: COUNT_EXPECTED,
        parts.WHOLE_STROKES.code: COUNT_EXPECTED,
        parts.NUMBER.code: NUMBER_EXPECTED,
        parts.NUMBER_AS_WRITTEN.code: NUMBER_EXPECTED,
        parts.DATE.code: DATE_EXPECTED,
        parts.FLAG.code: FLAG_EXPECTED,
        parts.ONE_OF.code: CHOICE_EXPECTED,
        parts.LIST_OF.code: LIST_EXPECTED,
        parts.LIST_OF_NUMBERS.code: LIST_EXPECTED,
        parts.PATTERN.code: PATTERN_EXPECTED,
        **dict.fromkeys((form.code for form in parts.TIME_FORMS), TIME_FORM_EXPECTED),
    }
)


def expecting(expected: str) -> Template:
    """The reason against a cell that is not what was expected, such as NUMBER_EXPECTED for a number from 0 to 9."""
    while isinstance(expected, Phrase) and isinstance(what := expected.values.get("what"), Phrase):
        expected = what
    told = getattr(expected, "key", None)
    return _BY_EXPECTED.get(told.code, VALUE_EXPECTED) if isinstance(told, Template) else VALUE_EXPECTED
