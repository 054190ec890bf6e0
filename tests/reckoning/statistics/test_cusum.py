import numpy as np
import pytest

from monitor.reckoning.statistics.cusum import cusum, cusum_run_length, ewma, ewma_run_length


def _first_signals(counts, step, start, limit):
    """Point of the first signal in each row of counts, by the recursion written out once more."""
    level, first = np.full(counts.shape[0], start), np.zeros(counts.shape[0])
    for point, now in enumerate(counts.T, start=1):
        level = step(level, now)
        first[(first == 0) & (level > limit)] = point
    assert (first > 0).all()
    return first.mean(), first.std() / np.sqrt(first.size)


@pytest.mark.parametrize(("mean", "actual"), [(0.5, 1.0), (3.0, 1.0), (3.0, 1.6)])
def test_cusum_run_length_agrees_with_counting(mean, actual):
    limit = cusum([0.0], mean, run_length=150.0).limit
    counts = np.random.default_rng(9).poisson(mean * actual, (1000, 2500))
    counted, error = _first_signals(counts, lambda s, y: np.maximum(0, s + y * np.log(2) - mean), 0.0, limit)
    assert counted == pytest.approx(cusum_run_length(mean, 2.0, limit, actual), abs=4 * error)


@pytest.mark.parametrize(("mean", "actual"), [(2.0, 1.0), (2.0, 1.5)])
def test_ewma_run_length_agrees_with_counting(mean, actual):
    limit = ewma([0.0], mean, run_length=150.0).limit
    counts = np.random.default_rng(9).poisson(mean * actual, (1000, 2500))
    counted, error = _first_signals(counts, lambda s, y: 0.8 * s + 0.2 * y / mean, 1.0, limit)
    exact = ewma_run_length(mean, 0.2, limit, actual)
    assert counted == pytest.approx(exact, abs=4 * error + 0.02 * exact)


@pytest.mark.parametrize("chart", [cusum, ewma])
def test_the_stated_run_length_is_at_least_the_one_asked_for(chart):
    for mean in (0.1, 1.0, 8.0):
        assert chart([0.0], mean, run_length=300.0).run_length >= 300


def test_a_rise_signals_and_the_watch_starts_afresh():
    quiet, raised = np.full(30, 1.0), np.full(12, 3.0)
    watch = cusum(np.r_[quiet, raised], 1.0)
    first = int(np.argmax(watch.signals))
    assert 30 <= first <= 36
    assert watch.value[first + 1] == pytest.approx(3 * np.log(2) - 1)
    assert not ewma(quiet, 1.0).signals.any()


def test_a_larger_sample_weighs_more():
    few = cusum([4.0, 4.0], [4.0, 1.0])
    assert few.value[1] - few.value[0] == pytest.approx(4 * np.log(2) - 1)


@pytest.mark.parametrize(
    "question",
    [
        lambda: cusum([1.0], 0.0),
        lambda: cusum([1.0], -1.0),
        lambda: cusum([1.0], 1.0, ratio=1.0),
        lambda: ewma([1.0], 1.0, weight=0.0),
    ],
)
def test_impossible_watches_are_refused(question):
    with pytest.raises(ValueError, match=r"expected"):
        question()


def test_where_no_point_can_be_mistaken_the_watch_never_cries_wolf():
    # 2000 rejects expected a point: twice as many cannot be chance, whatever the limit.
    watch = cusum([2000.0, 4000.0], 2000.0)
    assert watch.run_length == np.inf
    assert watch.signals.tolist() == [False, True]
