"""What an identifier may hold, and which texts are one identifier."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.identifiers import as_identifier, hidden_in, joined, listed

ODD = [
    "P;1",
    "it's",
    'say "x"',
    "a  b",
    "100%_",
    "back\\slash",
    "a|b:c,d",
    "Größe",
    "プレス",
    "冲床-7",
    "⚙🔧",
    "⚠\ufe0f 1",
]


@pytest.mark.parametrize("text", ODD)
def test_whatever_prints_is_kept_as_it_came(text: str) -> None:
    assert as_identifier(text) == text
    assert hidden_in(text) == ""


@pytest.mark.parametrize(
    "sign",
    ["\x00", "\t", "\n", "\x7f", "\x85", "\xad", "\u200b", "\u200d", "\u200f", "\u202e", "\u2066", "\u2028", "\ufeff",
             "\ud800", "\ue000", "\U000e0041", "\u0378", "\u3164", "\u034f"],
)  # fmt: skip
def test_what_does_not_print_is_found(sign: str) -> None:
    assert hidden_in(as_identifier(f"P{sign}7")) == sign


def test_composed_and_decomposed_signs_are_one() -> None:
    assert as_identifier("Pressё-U\u0308".replace("ё", "")) == "Press-\u00dc"
    assert as_identifier(unicodedata.normalize("NFD", "Größe Å 각")) == "Größe Å 각"


def test_blanks_are_spaces_and_none_stands_at_an_end() -> None:
    assert as_identifier("\u00a0 P\u00a07\u3000\n") == "P 7"
    assert as_identifier("p7") != as_identifier("P7")


@given(st.text())
def test_an_identifier_stands_for_itself(text: str) -> None:
    name = as_identifier(text)
    assert as_identifier(name) == name
    assert unicodedata.is_normalized("NFC", name)


def test_a_list_is_cut_into_what_is_known() -> None:
    assert listed("D;1;D2;x", {"D;1", "D2", "D", "1"}) == ["D;1", "D2", "x"]
    assert listed("", {"D"}) == []


@given(st.lists(st.lists(st.sampled_from(["P", "Q", "a b", "ü"]), min_size=1, max_size=3), max_size=5))
def test_a_list_is_read_back_by_whoever_knows_the_names(parts: list[list[str]]) -> None:
    # Each name has a number of its own in every part, so no name is made of others.
    names = [";".join(f"{part}{number}" for part in some) for number, some in enumerate(parts)]
    assert listed(joined(names), set(names)) == names
