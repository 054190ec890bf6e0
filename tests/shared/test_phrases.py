from string import Formatter

import pytest

from shared.errors import RefusedFile, RequestError
from shared.fields import count
from shared.phrases import joined, phrase
from shared.reasons.expected import TEXT
from shared.reasons.files import UTF_8_TEXT, ZERO_BYTE
from shared.reasons.rows import VALUE_MISSING
from shared.words import THIN, topics, words


def test_a_phrase_is_its_english_text_and_knows_what_it_was_made_of():
    made = phrase(VALUE_MISSING, column="lot", expected=phrase(TEXT))
    assert made == "lot is empty, expected text"
    assert made.key == VALUE_MISSING
    assert made.values == {"column": "lot", "expected": "text"}


def test_what_fills_a_gap_is_not_read_as_a_pattern():
    assert phrase("hold {hold}", hold="{hold}") == "hold {hold}"


def test_phrases_one_after_another_are_said_one_by_one():
    missing = [phrase(VALUE_MISSING, column=column, expected=phrase(TEXT)) for column in ("lot", "heat")]
    both = joined(missing)
    assert both == "lot is empty, expected text; heat is empty, expected text"
    assert words("de").again(both) == "lot ist leer, erwartet: Text; heat ist leer, erwartet: Text"
    assert joined(missing[:1]) is missing[0]


@pytest.mark.parametrize("text", ["", "something else", "lot is empty, expected text", "'", "{", "a; b, c"])
def test_english_that_is_no_phrase_stays_as_it_is(text):
    assert words("de").again(text) == text


def test_an_error_is_said_in_a_language_or_in_english():
    error = RequestError(phrase("hold {hold}", hold="H-0001"), phrase("lifted already"), "x", phrase("place a new one"))
    assert str(error) == words("en").refusal(error) == "hold H-0001: lifted already; expected x. place a new one."
    assert words("es").refusal(error) == "bloqueo H-0001: ya levantado; se esperaba: x. Ponga uno nuevo."


def test_every_refusal_is_said_whatever_its_gaps_are_called():
    for language in ("es", "de"):
        for english in (*topics(language)["refusals"], *topics(language)["stored"]):
            gaps = {name for _, name, _, _ in Formatter().parse(english) if name}
            said = words(language).again(phrase(english, **dict.fromkeys(gaps, "filled")))
            assert said.count("filled") == english.count("{"), english


def test_what_an_error_tells_is_a_phrase_too():
    refused = RefusedFile("a.csv, line 2", phrase(ZERO_BYTE), phrase(UTF_8_TEXT), "Look")
    assert refused.told == str(refused)
    assert words("de").again(refused.told) == (
        "a.csv, line 2: ein Nullbyte, also kein reiner Text; erwartet: Text in UTF-8. Look."
    )


def test_what_a_field_expects_is_said_with_its_range_and_unit():
    told = count("x", "pieces", "", 1, 5_000).expected()
    assert words("es").again(told) == f"un número entero de 1 a 5{THIN}000 [piezas]"
