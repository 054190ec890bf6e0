"""Why `plant.toml` is refused: what it should say, and what to write."""

from shared.phrases import Template

CLOCK_TIME_IN_DAY = Template("clock_time_in_day", 'a clock time "HH:MM" from "00:00" to "24:00"')
WRITE_CLOCK_TIME = Template("write_clock_time", 'write it as "06:00"')
WEEKDAY = Template("weekday", "a weekday: {days}")
WRITE_WEEKDAY = Template("write_weekday", 'write it as "mon"')
TIME_ZONE = Template("time_zone", "a zone of the IANA time zone database")
WRITE_TIME_ZONE = Template("write_time_zone", 'write the name as in "Europe/Berlin" or "America/Chicago"')
WRITE_DATE = Template("write_date", "write it as 2026-11-02")
PLAIN_NAME = Template("plain_name", "a name without signs that do not show")
WRITE_AGAIN = Template("write_again", "write it anew")
MEND_LINE = Template("mend_line", "mend the line named here")
BREAK_OF_NO_SHIFT = Template("break_of_no_shift", "[[break]] {number}: the name of a shift ({known}), not {seen!r}")
NAME_A_SHIFT = Template("name_a_shift", "name a shift of this file")
BREAK_OUTSIDE_SHIFT = Template("break_outside_shift", "[[break]] {number}: {times} inside shift {seen!r}")
MOVE_BREAK = Template("move_break", "move the break into the shift, the end after the start")
SHIFTS_APART = Template("shifts_apart", "shifts of {presses} that do not overlap, not {one!r} with {other!r}")
EVERY_PRESS = Template("every_press", "every press")
PRESSES_SINCE = Template("presses_since", "{presses} from {date}")
SEPARATE_SHIFTS = Template(
    "separate_shifts",
    "list the presses of each shift, or end the old one with valid_from and days = []",
)
MORE_TO_MEND = Template("more_to_mend", "{mend} ({n} more to mend: {others})")
UNKNOWN_KEY = Template("unknown_key", "the unknown key {key!r}")
ENTRIES_CONTRADICT = Template("entries_contradict", "entries that contradict each other")
VALUE_FOR_KEY = Template("value_for_key", "a value for {key}")
ADD_KEY = Template("add_key", "add the key")
MEND_KEY = Template("mend_key", "mend the spelling or take the key out")
A_LIST = Template("a_list", "a list")
WRITE_HEADING = Template("write_heading", "write [[{key}]] above each entry")
WRITE_LIST = Template("write_list", 'write it as ["...", "..."]')
MEND_VALUE = Template("mend_value", "mend the value")
