"""Lines of `suspects` that cannot be told apart are found in their text again, whatever their lots are called."""

from shared.factors import tied


def test_a_level_may_hold_a_semicolon_and_a_colon() -> None:
    assert tied("lot: L; 1; heat: a: b; coil: C;2") == [("lot", "L; 1"), ("heat", "a: b"), ("coil", "C;2")]
    assert tied("") == []
