"""What a value should have been, for the reasons that name it."""

from collections.abc import Iterable, Mapping
from functools import reduce
from types import MappingProxyType

from shared.phrases import Phrase, Template, phrase

TEXT = Template("text", "text")
WHOLE_NUMBER = Template("whole_number", "a whole number")
NUMBER = Template("number", "a number")
TIME = Template("time", "a time")
DATE = Template("date", "a date")
FLAG = Template("flag", "a flag (true or false)")
TIME_OR_DATE = Template("time_or_date", "a time or a date")
IN_UNIT = Template("in_unit", "{what} [{unit}]")
AT_LEAST = Template("at_least", "{what} not below {low}")
BETWEEN = Template("between", "{what} from {low} to {high}")
ONE_OF = Template("one_of", "one of {words}")
LIST_OF = Template("list_of", "a ;-list of {words}")
LIST_OF_NUMBERS = Template("list_of_numbers", "a ;-list of numbers")
TIME_EXAMPLE = Template("time_example", "2026-11-02T06:00:00 (with +01:00 where it is not plant time)")
TIME_WITH_DATE = Template("time_with_date", "a time as well as a date")
RANGE_OF_HOURS = Template("range_of_hours", "a range of hours such as 06-07, or period_s in the profile")
PATTERN = Template("pattern", "what fits {pattern!r}, as the profile says")
SPREADSHEET_DAY = Template("spreadsheet_day", "a day number of a spreadsheet such as 46328.25")
CLOCK_TIME = Template("clock_time", "a time such as 06:00")
TIME_OF_DAY = Template("time_of_day", "a time from 00:00 to 24:00")
HOURS = Template("hours", "hours from 00 to 24")
DATE_AND_TIME = Template("date_and_time", "a date and a time")
CLEAR_DATE = Template("clear_date", "a date that says which is day and month")
HOUR_OF_HALF_DAY = Template("hour_of_half_day", "an hour from 1 to 12 before AM or PM")
YEAR = Template("year", "a year of four digits, or a century in the profile")
DATE_IN_ORDER = Template("date_in_order", "a date in the order {order}")
NUMBER_AS_WRITTEN = Template("number_as_written", "a number with {decimal} and {thousands}, as the profile says")
DECIMAL_SIGN = Template("decimal_sign", "decimal {sign!r}")
NO_DECIMAL_SIGN = Template("no_decimal_sign", "no decimal sign")
THOUSANDS_MARK = Template("thousands_mark", "thousands {sign!r}")
NO_THOUSANDS_MARK = Template("no_thousands_mark", "no thousands mark")
WHOLE_STROKES = Template("whole_strokes", "a whole number of strokes of {n} pieces")
NOTHING = Template("nothing", "nothing")
EITHER = Template("either", "{one} or {other}")
BOTH = Template("both", "{one} and {other}")
SPAN = Template("span", "{start} to {end}")

STROKES = Template("strokes", "strokes")
PIECES = Template("pieces", "pieces")

#: Units that are words, each as a phrase; the signs of others are the same everywhere.
IN_WORDS: Mapping[str, Phrase] = MappingProxyType({"strokes": phrase(STROKES), "pieces": phrase(PIECES)})

#: How times are written in the files of loggers.
TIME_FORMS = (
    TIME_WITH_DATE,
    RANGE_OF_HOURS,
    SPREADSHEET_DAY,
    CLOCK_TIME,
    TIME_OF_DAY,
    HOURS,
    DATE_AND_TIME,
    CLEAR_DATE,
    HOUR_OF_HALF_DAY,
    YEAR,
    DATE_IN_ORDER,
)


def listed(names: Iterable[str], template: Template) -> str:
    """Names one after another with a word between them: `dies or parts` with EITHER."""
    return reduce(lambda one, other: phrase(template, one=one, other=other), names)
