import numpy as np
import pytest

from monitor.reckoning.statistics.changepoint import binomial_change, level_change, poisson_change


def test_a_break_is_dated_with_its_interval():
    rejected = np.r_[np.full(20, 1), np.full(10, 9)]
    found = binomial_change(rejected, 200)
    assert (found.last_before, found.earliest, found.latest) == (20, 20, 20)
    assert found.before == pytest.approx(1 / 200)
    assert found.after == pytest.approx(9 / 200)


def test_overdispersed_data_prove_less():
    rejected = [2, 5, 1, 4, 2, 9, 8, 4, 10, 7]
    plain, spread = binomial_change(rejected, 100), binomial_change(rejected, 100, dispersion=3.0)
    assert spread.likelihood_ratio == pytest.approx(plain.likelihood_ratio / 3)
    assert spread.false_alarm > plain.false_alarm
    assert spread.latest - spread.earliest >= plain.latest - plain.earliest


def test_points_without_pieces_do_no_harm():
    found = binomial_change([0, 1, 0, 0, 9, 8], [0, 50, 50, 0, 50, 50])
    assert found.last_before in (3, 4)
    assert poisson_change([0, 1, 0, 9], [0.0, 10.0, 10.0, 10.0]).last_before == 3


def test_a_steady_series_is_no_news():
    assert binomial_change([2, 3, 2, 3, 2, 3], 100).false_alarm > 0.5
    assert level_change([1.0, 1.0, 1.0, 1.0]).false_alarm == 1.0


@pytest.mark.parametrize(
    "question",
    [
        lambda: binomial_change([1], [10]),
        lambda: binomial_change([0, 0], [0, 0]),
        lambda: binomial_change([3, 1], [2, 2]),
        lambda: poisson_change([-1, 2]),
        lambda: level_change([1.0, 2.0, 3.0]),
    ],
)
def test_questions_without_an_answer_are_refused(question):
    with pytest.raises(ValueError, match=r"expected|between|negative"):
        question()


def test_interval_and_false_alarm_hold_what_they_say():
    rng = np.random.default_rng(12)
    held, false = [], []
    for _ in range(400):
        moved = poisson_change(rng.poisson(np.r_[np.full(25, 4.0), np.full(15, 8.0)]))
        held.append(moved.earliest <= 25 <= moved.latest)
        false.append(poisson_change(rng.poisson(4.0, 40)).false_alarm < 0.05)
    assert np.mean(held) >= 0.92
    assert np.mean(false) <= 0.075
