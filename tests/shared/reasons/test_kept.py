"""A reason comes back from its code and values as it was, whatever a file held."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.errors import PlantError, RefusedFile
from shared.phrases import Amount, joined, phrase
from shared.reasons.expected import BETWEEN, TEXT, TIME_EXAMPLE, WHOLE_NUMBER
from shared.reasons.files import NO_ROWS, REFUSAL
from shared.reasons.kept import as_json, codes_of, from_plain, kept, plain, recalled
from shared.reasons.rows import (
    CONTRADICTS_ROW,
    COUNT_EXPECTED,
    DIFFERENT_VALUE,
    TIME_EXPECTED,
    UNCLASSIFIED,
    VALUE_MISSING,
)
from shared.words import MINUS, THIN, words

HOSTILE = [
    "'; lot is empty, expected text",
    "a \"b\" 'c'",
    "x, expected y",
    "{}",
    "{lot}",
    "{0!r}",
    "{{column}}",
    "%s",
    "\\n",
    "é\n\x00\u202e",
    '{"code":"value_missing","values":{}}',
    "[]",
    ";",
    "a;b",
]
RANGE = phrase(BETWEEN, what=phrase(WHOLE_NUMBER), low=0, high=9)


@pytest.mark.parametrize("seen", HOSTILE)
def test_what_a_file_held_is_never_taken_for_words(seen):
    made = phrase(COUNT_EXPECTED, column="lot", seen=seen, expected=RANGE)
    back = recalled(*kept(joined([made, phrase(VALUE_MISSING, column=seen, expected=phrase(TEXT))])))
    assert back == f"lot is {seen!r}, expected a whole number from 0 to 9; {seen} is empty, expected text"
    german = words("de").again(back)
    assert german == f"lot ist {seen!r}, erwartet: eine ganze Zahl von 0 bis 9; {seen} ist leer, erwartet: Text"


@given(st.text(), st.one_of(st.integers(), st.floats(allow_nan=False), st.none(), st.text()))
def test_any_value_survives(seen, stored):
    made = phrase(DIFFERENT_VALUE, column=seen, seen=phrase(UNCLASSIFIED, text=seen), stored=stored)
    assert recalled(*kept(made)) == made


def test_parts_and_numbers_of_any_kind_are_kept():
    differences = [phrase(DIFFERENT_VALUE, column="rejected", seen=np.int64(5), stored=6) for _ in range(2)]
    made = phrase(CONTRADICTS_ROW, file="a.csv", line=np.int64(7), differences=joined(differences, ", "))
    code, values = kept(made)
    assert code == "contradicts_row"
    assert json.loads(values)[0]["line"] == 7
    back = recalled(code, values)
    assert back == made
    assert "rejected 5 statt 6, rejected 5 statt 6; erwartet" in words("de").again(back)


def test_an_amount_is_written_as_the_language_writes_it():
    made = phrase(BETWEEN, what=phrase(WHOLE_NUMBER), low=Amount(-0.5), high=Amount(200_000))
    back = recalled(*kept(made))
    assert back == made == "a whole number from -0.5 to 200,000"
    assert words("de").again(back) == f"eine ganze Zahl von {MINUS}0,5 bis 200{THIN}000"


def test_several_reasons_have_a_code_each():
    code, values = kept(joined([phrase(VALUE_MISSING, column="lot", expected=phrase(TEXT))] * 2))
    assert codes_of(code) == ("value_missing", "value_missing")
    assert [held["column"] for held in json.loads(values)] == ["lot", "lot"]


def test_a_refusal_has_the_code_of_what_was_seen():
    refused = RefusedFile("a.csv", phrase(NO_ROWS), phrase(TEXT), "Look")
    code, values = kept(refused.told)
    assert code == "no_rows"
    assert recalled(code, values) == str(refused)
    assert words("de").again(recalled(code, values)) == "a.csv: keine einzige Zeile; erwartet: Text. Look."
    assert kept(PlantError("plant.toml", "'x'", phrase(TEXT), "Look").told)[0] == REFUSAL.code


@pytest.mark.parametrize("text", ["lot is empty, expected text", "{x}", "anything"])
def test_words_without_a_code_are_kept_as_they_are(text):
    code, values = kept(text)
    assert code == "unclassified"
    assert recalled(code, values) == text
    assert words("de").again(recalled(code, values)) == text


def test_nothing_is_nothing():
    assert kept("") == ("", "")
    assert recalled("", "") == ""
    assert from_plain(plain("")) == ""


def test_a_reason_within_json_comes_back():
    made = phrase(TIME_EXPECTED, column="time", seen="x", expected=phrase(TEXT), example=phrase(TIME_EXAMPLE))
    assert from_plain(json.loads(json.dumps(plain(made)))) == made
    assert from_plain(plain("an error of a library")) == "an error of a library"


@pytest.mark.parametrize("values", ['[{"column":"lot"}]', '[{"column":"lot","more":2}]'])
def test_a_code_of_another_release_is_shown_with_its_values(values):
    assert "lot" in recalled("reason_to_come", values)
    assert "lot" in recalled("value_missing", values)


def test_a_sign_that_is_no_text_can_be_kept():
    text = as_json([{"seen": "\ud800é"}])
    text.encode("utf-8")
    assert json.loads(text) == [{"seen": "\ud800é"}]
