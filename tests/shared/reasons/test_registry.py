"""Every reason has a code of its own, and whoever makes one gives it all its values."""

import ast
import re
from pathlib import Path

import pytest

from shared.phrases import Template, phrase
from shared.reasons import REASONS, expected, files, ledger, plant_file, rows
from shared.reasons.expected import BETWEEN, IN_UNIT, NUMBER, PATTERN, WHOLE_NUMBER
from shared.reasons.rows import COUNT_EXPECTED, NUMBER_EXPECTED, PATTERN_EXPECTED, VALUE_EXPECTED, expecting

ROOT = Path(__file__).parents[3]
CONSTANTS = {
    name: made
    for module in (rows, expected, files, plant_file, ledger)
    for name, made in vars(module).items()
    if isinstance(made, Template)
}
#: What an older release set aside in words of its own, or a release to come in a code of its own.
MADE_BY_CODE = {"UNCLASSIFIED"}


def test_a_code_is_short_and_is_the_name_of_its_reason():
    assert len(REASONS) > 200
    for name, made in CONSTANTS.items():
        assert made.code == name.lower()
        assert re.fullmatch(r"[a-z][a-z0-9_]{3,31}", made.code), made.code


def test_every_reason_is_given_all_its_values_and_no_other():
    wrong = {}
    for path in sorted((ROOT / "monitor").rglob("*.py")) + sorted((ROOT / "shared").rglob("*.py")):
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "phrase" and call.args:
                made = CONSTANTS.get(getattr(call.args[0], "id", ""))
                names = {word.arg for word in call.keywords}
                if made is not None and None not in names and names != made.gaps:
                    wrong[f"{path.relative_to(ROOT)}:{call.lineno}"] = made.code
    assert wrong == {}


def test_what_reads_files_gives_no_reason_without_a_code():
    bare = []
    for path in [*(ROOT / "monitor" / "intake").rglob("*.py"), ROOT / "shared" / "plant.py", ROOT / "shared/fields.py"]:
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "phrase":
                bare += [f"{path}:{call.lineno}" for text in ast.walk(call.args[0]) if isinstance(text, ast.Constant)]
    assert bare == []


def test_every_reason_is_used():
    used = {
        name
        for path in [*(ROOT / "monitor").rglob("*.py"), *(ROOT / "shared").rglob("*.py")]
        for name in re.findall(r"\b[A-Z][A-Z0-9_]{2,}\b(?! = Template)", path.read_text("utf-8"))
    }
    assert set(CONSTANTS) - used == set()


@pytest.mark.parametrize(
    ("was_expected", "made"),
    [
        (phrase(NUMBER), NUMBER_EXPECTED),
        (phrase(IN_UNIT, what=phrase(BETWEEN, what=phrase(WHOLE_NUMBER), low=0, high=9), unit="mm"), COUNT_EXPECTED),
        (phrase(PATTERN, pattern="x"), PATTERN_EXPECTED),
        ("words of somebody", VALUE_EXPECTED),
    ],
)
def test_a_cell_that_is_not_as_expected_has_the_code_of_what_was_expected(was_expected, made):
    assert expecting(was_expected).code == made.code
