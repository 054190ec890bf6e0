"""Sentences that older releases kept become codes and values once, and no sign of them is lost."""

import pytest

from monitor.ledger.catalog.old_reasons import coded_reason, coded_refusal
from shared.errors import RefusedFile
from shared.phrases import Phrase, joined, phrase
from shared.reasons import REASONS, expected, files, rows
from shared.reasons.kept import kept, recalled
from shared.words import words

RANGE = phrase(expected.BETWEEN, what=phrase(expected.NUMBER), low="0", high="9")
MISSING = phrase(rows.VALUE_MISSING, column="lot", expected=phrase(expected.TEXT))
MADE = [
    MISSING,
    phrase(rows.NUMBER_EXPECTED, column="width_mm", seen="1,5", expected=RANGE),
    phrase(rows.CHOICE_EXPECTED, column="kind", seen="Z", expected=phrase(expected.ONE_OF, words="tub, full")),
    phrase(rows.NAME_NOT_SHOWN, column="die_id", seen="D\u200b1é"),
    phrase(rows.TIME_REPEATED, column="time", seen="2026-10-25 02:30", zone="Europe/Berlin"),
    phrase(rows.COUNTER_ROSE, rise="5", counter="9", most="4"),
    phrase(rows.LINE_WITHOUT_END, fault=phrase(rows.ROW_WIDTH, cells="3", width="4")),
    phrase(rows.UNKNOWN_NAME, column="die_id", seen="X", tables=expected.listed(["dies", "parts"], expected.EITHER)),
    phrase(
        rows.CONTRADICTS_ROW,
        file="a or b.csv",
        line="7",
        differences=joined(
            [
                phrase(rows.DIFFERENT_VALUE, column="counter", seen="5", stored="6"),
                phrase(rows.DIFFERENT_VALUE, column="feeds", seen=phrase(expected.NOTHING), stored="4"),
            ],
            ", ",
        ),
    ),
]
REFUSED = [
    phrase(files.UNKNOWN_TABLE, name="x", tables="coils, strokes"),
    RefusedFile(
        phrase(files.FILE_LINE, file="a.csv", line="2"),
        phrase(files.ZERO_BYTE),
        phrase(files.UTF_8_TEXT),
        phrase(files.SAVE_UTF_8),
    ).told,
    RefusedFile(
        "a.csv",
        phrase(files.NO_PROFILE_FITS, why=phrase(files.HEADING_MISSING, names="Zeit, Hübe")),
        phrase(files.ONE_PROFILE),
        phrase(files.MEND_PROFILE),
    ).told,
]


@pytest.mark.parametrize("made", MADE)
def test_a_sentence_has_the_code_and_values_it_was_made_of(made: Phrase):
    assert coded_reason(str(made)) == kept(made)


@pytest.mark.parametrize("made", REFUSED)
def test_so_has_why_a_file_was_refused(made: Phrase):
    assert coded_refusal(str(made)) == kept(made)
    assert "expected" not in words("de").again(recalled(*coded_refusal(str(made))))


def test_of_several_reasons_each_has_its_code():
    # One of them holds what stands between two.
    both = joined([MADE[5], MISSING, MADE[4]])
    assert coded_reason(str(both)) == kept(both)


@pytest.mark.parametrize("template", REASONS.values(), ids=REASONS)
def test_every_reason_that_is_made_today_keeps_its_text(template):
    made = phrase(template, **{name: f"<{name}>" for name in template.gaps})
    assert recalled(*coded_reason(str(made))) == recalled(*coded_refusal(str(made))) == made


@pytest.mark.parametrize(
    "cell",
    [
        "'; lot is empty, expected text",
        "a \"b\" 'c'",
        "x, expected y",
        "' 'a",
        "{}",
        "{lot}",
        "\ue0000\ue001",
        "\\n",
        "é\n",
    ],
)
def test_what_a_file_held_is_never_taken_for_words(cell):
    stored = f"lot is {cell!r}, expected text; coil_id is empty, expected text"
    back = recalled(*coded_reason(stored))
    assert back == stored
    assert words("de").again(back) == f"lot ist {cell!r}, erwartet: Text; coil_id ist leer, erwartet: Text"


@pytest.mark.parametrize(
    "text",
    [
        "no gap of 2 h fits",
        "{column} is {seen!r}, expected {expected}",
        "lot is 'x, expected text",
        r"lot is '\x', expected text",
        f"lot is {'x' * 5_000!r}, expected text",
        "contradicts (load 2, line 5): counter 3 instead of 4",
        "\ue0000\ue001",
    ],
)
def test_what_fits_no_template_keeps_its_text(text):
    assert coded_reason(text) == kept(text)
    assert recalled(*coded_reason(text)) == text


@pytest.mark.parametrize(
    "piece", ["x, expected ", ": ; expected . ", "; ", "lies after ", "x (expected y) ", "'", "a or b; "]
)
def test_a_file_cannot_make_it_dig_without_end(piece):
    stored = piece * (3_900 // len(piece))
    assert recalled(*coded_reason(stored)) == stored
