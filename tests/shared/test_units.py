import numpy as np
import pytest

from shared.errors import RequestError
from shared.units import UNITS, convert


@pytest.mark.parametrize(
    ("amount", "unit", "into", "expected"),
    [
        (3.937, "in", "mm", 99.9998),
        (1614.0, "lb", "kg", 732.0981),
        (100.0, "fpm", "m/min", 30.48),
        (36.0, "ksi", "MPa", 248.21126),
        (1.0, "g/cm3", "lb/in3", 0.0361273),
        (1.0, "tonf", "kN", 8.896443),
        (2.0, "1/s", "spm", 120.0),
    ],
)
def test_known_conversions(amount: float, unit: str, into: str, expected: float) -> None:
    assert convert(amount, unit, into) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("unit", UNITS)
def test_a_conversion_and_back_gives_the_amount(unit: str) -> None:
    same = [other for other, (quantity, _) in UNITS.items() if quantity == UNITS[unit][0]]
    for other in same:
        assert convert(convert(12.5, unit, other), other, unit) == pytest.approx(12.5, rel=1e-12)


def test_arrays_are_converted_whole() -> None:
    assert convert(np.array([1.0, 2.0]), "in", "mm").tolist() == pytest.approx([25.4, 50.8])


@pytest.mark.parametrize(("unit", "into"), [("lb", "mm"), ("stone", "kg"), ("kg", "stone")])
def test_what_cannot_be_converted_says_so(unit: str, into: str) -> None:
    with pytest.raises(RequestError, match="units"):
        convert(1.0, unit, into)
