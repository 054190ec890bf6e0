import numpy as np
import pytest

from monitor.reckoning.statistics.band import Band, usual_band


def test_the_band_of_an_even_rate_that_is_known_well_is_that_of_a_poisson_count() -> None:
    # 20 expected: 95 of 100 counts lie from 12 to 29; with a rate from 240 rejects only, to 30.
    assert usual_band([20] * 1200, [1000] * 1200, 1000) == Band(0.02, 12, 29)
    assert usual_band([20] * 12, [1000] * 12, 1000) == Band(0.02, 12, 30)


def test_shifts_that_scatter_widen_it() -> None:
    band = usual_band([5, 45, 3, 30, 8, 40, 2, 27], [1000] * 8, 1000)
    assert band is not None
    assert band.low < 12
    assert band.high > 45


def test_one_reject_after_none_is_only_unusual_where_many_pieces_were_seen() -> None:
    # The chance of none at all in the next n pieces after N without any is (N / (N + n)) ** 0.5.
    assert usual_band([0] * 10, [500] * 10, 500) == Band(0.0, 0, 1)
    assert usual_band([0] * 30, [500] * 30, 500) == Band(0.0, 0, 0)


def test_too_few_shifts_or_nothing_inspected_gives_none() -> None:
    assert usual_band([1] * 7 + [0], [100] * 7 + [0], 100) is None
    assert usual_band([1] * 9, [100] * 9, 0) is None


@pytest.mark.parametrize("shape", [200.0, 4.0])
def test_about_95_of_100_shifts_lie_inside(shape: float) -> None:
    draw = np.random.default_rng(3)
    inside = 0
    for _ in range(400):
        found = draw.poisson(15 * draw.gamma(shape, 1 / shape, 31))
        band = usual_band(found[:30], [5000] * 30, 5000)
        assert band is not None
        inside += band.low <= found[30] <= band.high
    assert 0.91 < inside / 400 <= 1
