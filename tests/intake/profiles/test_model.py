from __future__ import annotations

from pathlib import Path

import pytest

from monitor.intake import Profile
from shared.errors import RefusedFile

STROKES = '[columns.time]\nfrom = "t"\n[columns.press_id]\nfrom = "p"\n[columns.counter]\nfrom = "c"\n'
GOOD = f'table = "strokes"\n{STROKES}'


def test_name_and_version_name_the_profile() -> None:
    one, other = Profile.from_toml(GOOD, "a"), Profile.from_toml(GOOD + "\n", "a")
    assert one.label.split() == ["a", one.version]
    assert len(one.version) == 12
    assert one.version != other.version


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("table = ", "expected a TOML file"),
        (STROKES, "profile-a.toml, table: nothing; expected a value for table"),
        (f'table = "stroke"\n{STROKES}', "table: 'stroke'; expected a table of the data contract: presses"),
        ('table = "strokes"\n[columns.time]\nfrom = "t"', "expected [columns.press_id] as well"),
        (GOOD + "[columns.speed]\nfrom = 's'", "expected columns of strokes (time, press_id, counter"),
        (GOOD + "[file]\ndelimeter = ';'", "the unknown key 'delimeter'; expected one of encoding, delimiter"),
        (GOOD + "[columns.feeds]\nform = 'f'", "columns.feeds.form: the unknown key 'form'; expected one of from"),
        (GOOD + "[columns.feeds]\nunit = 'mm'", "columns.feeds: keys that do not fit together; expected either"),
        (GOOD + "[columns.feeds]\nfrom = 'f'\nunit = 'ells'", "unit: 'ells'; expected a unit: um, mm"),
        (GOOD + "[file]\nencoding = 'klingon'", "expected the name of a text encoding"),
        (GOOD + "[file]\nencoding = 'base64'", "expected the name of a text encoding"),
        (GOOD + "[file]\nencoding = 'unicode_escape'", "expected the name of a text encoding"),
        (GOOD + "[file]\ndelimiter = ';;'", 'expected one character, or "tab"'),
        (GOOD + "[file]\ndecimal = '.'\nthousands = '.'", "two different signs for decimal and thousands"),
        (GOOD + "[file]\ndelimiter = '\"'", "two different signs for delimiter and quote"),
        (GOOD + "[file]\nheader_rows = 0", "either header_rows of 1 or more"),
        (GOOD + "[file]\nunits_row = 2", "units_row and limits_row not above header_rows"),
        (GOOD + "[counter]\nkind = 'delta'", "expected period_s in [counter], or hour_end"),
        (GOOD + "[counter]\ncounts = 'pieces'", "expected per_stroke"),
        (GOOD + "[counter]\nkind = 'guess'", "'cumulative', 'delta' or 'resets'"),
        (GOOD + "[time]\nclock = 'CET'", "expected clock"),
        (GOOD + "[constants.day]\npattern = '('\nline = 1", "expected a regular expression"),
        (GOOD + "[constants.day]\nline = 1", "expected one of value, line with pattern, or file_name"),
        (GOOD + "[[drop_if]]\ncolumn = 'x'", "expected equals, begins or pattern"),
        (GOOD + "[unpivot]\nname = 'n'\nvalue = 'v'", "expected either columns or pattern"),
        (f'name = "b"\n{GOOD}', "the key 'name'"),
        (f"{STROKES}[[table]]\nname = 'strokes'\n[[table]]\nname = 'stroke'", "[[table]] 2, table: 'stroke'; expected"),
        (f"{STROKES}[[table]]\nname = 'strokes'\n[[table]]\nname = 'stops'", "[[table]] 2: keys that do not fit"),
        (f"{STROKES}[[table]]\ncolumns.feeds.from = 'f'", "[[table]] 1: no name; expected name = a table"),
        (f"{STROKES}[[table]]\nname = 'strokes'\nmatch.name = 'x'", "[[table]] 1: a match; expected"),
        (f"{STROKES}[[table]]\nname = 'strokes'\ncolumns = 5", "[[table]] 1, columns"),
        (f"table = []\n{STROKES}", "no tables"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_profile_is_said(text: str, said: str) -> None:
    with pytest.raises(RefusedFile) as refused:
        Profile.from_toml(text, "a")
    assert said in str(refused.value)
    assert str(refused.value).startswith("profile-a.toml")


def test_further_faults_are_counted() -> None:
    with pytest.raises(RefusedFile, match=r"1 more to mend: file\.decimal"):
        Profile.from_toml(GOOD + "[file]\ndelimiter = ''\ndecimal = 'x'", "a")


def test_the_profiles_of_the_dialects_are_sound() -> None:
    paths = list((Path(__file__).parents[1] / "dialects").glob("profile-*.toml"))
    assert len(paths) == 13
    for path in paths:
        Profile.from_toml(path.read_text("utf-8"), path.stem)
