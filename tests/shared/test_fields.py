import re

import pytest

from shared.fields import FIELDS, Kind, count, number, text
from shared.tables import TABLES

UNIT_ENDINGS = {
    "_mm": "mm",
    "_kg": "kg",
    "_m": "m",
    "_s": "s",
    "_spm": "1/min",
    "_kn": "kN",
    "_pct": "%",
    "_g": "g",
}


def every_field():
    return [(t.name, t.field(c)) for t in TABLES.values() for c in t.columns]


@pytest.mark.parametrize(("ending", "unit"), UNIT_ENDINGS.items())
def test_a_unit_in_the_name_is_the_unit_of_the_column(ending: str, unit: str) -> None:
    named = [f for _, f in every_field() if f.name.endswith(ending) and f.kind is Kind.NUMBER]
    assert named
    assert {f.unit for f in named} == {unit}


def test_every_column_has_a_meaning_and_a_sound_range() -> None:
    for table, field in every_field():
        assert field.meaning, (table, field.name)
        if field.low is not None and field.high is not None:
            assert field.low < field.high, (table, field.name)


def test_no_field_is_left_that_no_table_has() -> None:
    used = {name for table in TABLES.values() for name in table.columns}
    assert set(FIELDS) <= used


def test_times_and_only_times_say_so_in_their_names() -> None:
    pattern = re.compile(r"(_at|^time|^made_from|^made_to|^from|^to)$")
    for table, field in every_field():
        assert bool(pattern.search(field.name)) == (field.kind is Kind.TIME), (table, field.name)


def test_what_is_expected_is_said_in_words() -> None:
    assert number("x", "mm", "", 0.5, 5000).expected() == "a number from 0.5 to 5,000 [mm]"
    assert count("x", "pieces", "", 1).expected() == "a whole number not below 1 [pieces]"
    assert text("x", "", ("a", "b")).expected() == "one of a, b"
    assert text("x", "", ("a", "b"), listed=True).expected() == "a ;-list of a, b"
    assert text("x", "").expected() == "text"
