from string import Formatter

import pytest

from shared.errors import TOLD, RefusedFile, RequestError
from shared.fields import count
from shared.phrases import Phrase, Recall, phrase
from shared.words import STORED, topics, words

EMPTY = "{column} is empty, expected {expected}"
SEEN = "{column} is {seen!r}, expected {expected}"
NUMBER = "{what} from {low} to {high}"


def test_a_phrase_is_its_english_text_and_knows_what_it_was_made_of():
    made = phrase(EMPTY, column="lot", expected=phrase("text"))
    assert made == "lot is empty, expected text"
    assert made.key == EMPTY
    assert made.values == {"column": "lot", "expected": "text"}


def test_what_fills_a_gap_is_not_read_as_a_pattern():
    assert phrase("hold {hold}", hold="{hold}") == "hold {hold}"


def test_a_stored_text_is_told_by_the_shape_of_its_keys():
    recall = Recall([EMPTY, SEEN, NUMBER, "a number", "text"])
    stored = f"{phrase(SEEN, column='width_mm', seen='1,5', expected=phrase(NUMBER, what='a number', low=0, high=9))}"
    found = recall.of(str(stored))
    assert isinstance(found, Phrase)
    assert (found, found.key) == (stored, SEEN)
    expected = found.values["expected"]
    assert isinstance(expected, Phrase)
    assert (expected.key, expected.values) == (NUMBER, {"what": "a number", "low": "0", "high": "9"})


@pytest.mark.parametrize(
    "cell",
    ["'; lot is empty, expected text", "a \"b\" 'c'", "x, expected y", "' 'a", "\ue0000\ue001", "\\n", "{lot}", "é\n"],
)
def test_what_a_file_held_is_never_taken_for_words(cell):
    stored = f"lot is {cell!r}, expected text; coil_id is empty, expected text"
    german = words("de").again(stored)
    assert german == f"lot ist {cell!r}, erwartet: Text; coil_id ist leer, erwartet: Text"


@pytest.mark.parametrize("text", ["", "something else", "lot is empty", "'", "{", "a; b, c"])
def test_a_text_of_no_key_stays_as_it_is(text):
    assert Recall([EMPTY, SEEN, "text"]).of(text) == text
    assert words("de").again(text) == text


def test_a_text_too_long_for_a_reason_stays_as_it_is():
    stored = f"lot is {'x' * 5_000!r}, expected text"
    assert words("de").again(stored) == stored


@pytest.mark.parametrize(
    "piece", ["x, expected ", ": ; expected . ", "; ", "lies after ", "x (expected y) ", "'", "a or b; "]
)
def test_a_file_cannot_make_it_dig_without_end(piece):
    stored = piece * (3_900 // len(piece))
    assert words("en").again(stored) == stored
    assert isinstance(words("de").again(stored), str)


def test_a_list_within_a_phrase_is_said_piece_by_piece():
    stored = (
        "contradicts strokes-1.csv, line 7: counter 5 instead of 6, feeds nothing instead of 4; "
        "expected the same values, a later recorded_at or --correct"
    )
    said = words("de").again(stored)
    assert "strokes-1.csv, Zeile 7: counter 5 statt 6, feeds nichts statt 4; erwartet: dieselben Werte" in said


def test_an_error_is_said_in_a_language_or_in_english():
    error = RequestError(phrase("hold {hold}", hold="H-0001"), phrase("lifted already"), "x", phrase("place a new one"))
    assert str(error) == words("en").refusal(error) == "hold H-0001: lifted already; expected x. place a new one."
    assert words("es").refusal(error) == "bloqueo H-0001: ya levantado; se esperaba: x. Ponga uno nuevo."


def test_every_refusal_is_said_whatever_its_gaps_are_called():
    for language in ("es", "de"):
        for english in (*topics(language)["refusals"], *topics(language)[STORED]):
            gaps = {name for _, name, _, _ in Formatter().parse(english) if name}
            said = words(language).again(phrase(english, **dict.fromkeys(gaps, "filled")))
            assert said.count("filled") == english.count("{"), english


def test_a_stored_refusal_is_said_in_a_language():
    refused = RefusedFile("a.csv, line 2", phrase("a zero byte, so not plain text"), phrase("UTF-8 text"), "Look")
    assert words("de").again(str(refused)) == (
        "a.csv, Zeile 2: ein Nullbyte, also kein reiner Text; erwartet: Text in UTF-8. Look."
    )


def test_what_a_field_expects_is_said_with_its_range_and_unit():
    told = str(count("x", "pieces", "", 1, 5_000).expected())
    assert words("es").again(told) == "un número entero de 1 a 5,000 [pieces]"


def test_the_topic_of_stored_texts_holds_how_an_error_is_told():
    assert TOLD in topics("de")[STORED]
