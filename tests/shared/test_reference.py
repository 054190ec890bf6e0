import pytest

from shared.reference import densities, gauges
from shared.units import convert

# Densities as the mill sheets print them in inch units [lb/in3].
POUNDS_PER_CUBIC_INCH = {
    "carbon steel": 0.2836,
    "C26000": 0.308,
    "C51000": 0.32,
    "Al 5052": 0.097,
    "C17200 aged": 0.302,
    "C17200 before ageing": 0.298,
}


@pytest.mark.parametrize(("grade", "printed"), POUNDS_PER_CUBIC_INCH.items())
def test_density_agrees_with_the_value_printed_in_inch_units(grade: str, printed: float) -> None:
    assert densities()[grade].density_kg_m3 == pytest.approx(convert(printed, "lb/in3", "kg/m3"), rel=0.003)


def test_gauge_thickness_is_weight_over_41_82_pounds_a_square_foot_and_inch() -> None:
    assert len(gauges()) == 16
    for number, gauge in gauges().items():
        assert gauge.thickness_in == pytest.approx(gauge.weight_lb_ft2 / 41.82, abs=6e-5), number


def test_every_figure_names_its_source_and_lies_in_its_range() -> None:
    for density in densities().values():
        assert density.low_kg_m3 <= density.density_kg_m3 <= density.high_kg_m3
    assert all(item.source for item in (*densities().values(), *gauges().values()))
