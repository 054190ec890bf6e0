import datetime as dt
import string

import pytest

from shared.units import INCH
from shared.words import ENGLISH, LANGUAGES, topics, words

OTHERS = [language for language in LANGUAGES if language != "en"]


def gaps(text):
    return sorted({name for _, name, _, _ in string.Formatter().parse(text) if name is not None})


def test_a_text_without_an_entry_stays_english():
    for language in LANGUAGES:
        assert words(language).say("Never heard of {this}", this="it") == "Never heard of it"


def test_what_fills_a_gap_is_not_read_as_a_pattern():
    assert ENGLISH.say("die {die}", die="{0.__class__}") == "die {0.__class__}"


def test_one_and_several():
    assert [ENGLISH.say_n(n, "{n} coil of {lot}", "{n} coils of {lot}", lot="L") for n in (0, 1, 2)] == [
        "0 coils of L",
        "1 coil of L",
        "2 coils of L",
    ]


@pytest.mark.parametrize(
    ("language", "number"), [("en", "−1\u202f234.50"), ("es", "−1\u202f234,50"), ("de", "−1\u202f234,50")]
)
def test_numbers_have_the_decimal_sign_of_the_language(language, number):
    assert words(language).number(-1234.5, 2) == number
    assert words(language).per_cent(-12.345, 2) == number + "\u202f%"


def test_a_trifle_below_nothing_is_nothing():
    assert words("en").number(-0.04, 1) == "0.0"
    assert words("de").per_cent(-0.0004) == "0,0\u202f%"


@pytest.mark.parametrize(
    ("language", "date"),
    [("en", "Wed 2 Dec 2026"), ("es", "mié 2 dic 2026"), ("de", "Mi., 2. Dez. 2026")],
)
def test_dates_are_written_out(language, date):
    assert words(language).date(dt.date(2026, 12, 2)) == date
    assert words(language).short_date(dt.date(2026, 12, 2)) == date.removesuffix(" 2026")


def test_every_language_has_the_same_topics():
    assert [set(topics(language)) for language in OTHERS] == [set(topics(OTHERS[0]))] * len(OTHERS)


@pytest.mark.parametrize("language", OTHERS)
def test_a_text_in_two_topics_has_one_translation(language):
    seen = {}
    for topic, entries in topics(language).items():
        for english, translated in entries.items():
            assert seen.setdefault(english, translated) == translated, f"{topic}: {english}"


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_gaps_of_its_english_text(language):
    for entries in topics(language).values():
        for english, translated in entries.items():
            assert {tuple(gaps(text)) for text in translated[-1:]} == {tuple(gaps(english))}, english


@pytest.mark.parametrize(
    ("kept", "value", "metric", "inch"),
    [("m", 120, "120\u202fm", "394\u202fft"), ("kg", 100, "100\u202fkg", "220\u202flb"),
     ("mm", 25.4, "25\u202fmm", "1.00\u202fin"), ("spm", 40, "40\u202fspm", "40\u202fspm")],
)  # fmt: skip
def test_amounts_carry_the_unit_they_are_shown_in(kept, value, metric, inch):
    assert words("en").amount(value, kept) == metric
    assert words("en", INCH).amount(value, kept) == inch
    assert words("de", INCH).say("All") == words("de").say("All") != "All"
