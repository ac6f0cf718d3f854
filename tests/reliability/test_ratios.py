"""Totals per exposure: the definition, the edges, what must not matter, the general library, and the coverage."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import bootstrap, t

from fleetlens.errors import FleetlensError
from fleetlens.reliability.ratios import ratio_of_totals

UNITS = st.lists(st.tuples(st.floats(0, 5000), st.floats(1, 90_000)), min_size=2, max_size=30)


def of(y, x, level=0.95):
    """The ratio of units with these totals and exposures, as its row."""
    y, x = np.asarray(y, float), np.asarray(x, float)
    sums = {"total_squared": (y * y).sum(), "exposure_squared": (x * x).sum(), "product": (y * x).sum()}
    return ratio_of_totals(len(y), y.sum(), x.sum(), **sums, level=level).row(0, named=True)


@given(UNITS)
def test_it_is_the_definition(units):
    y, x = (list(column) for column in zip(*units, strict=True))
    ratio = sum(y) / sum(x)
    n = len(units)
    variance = n / (n - 1) * sum((a - ratio * b) ** 2 for a, b in units) / sum(x) ** 2
    told = of(y, x)
    assert told["ratio"] == pytest.approx(ratio)
    if ratio == 0:
        assert (told["low"], told["high"]) == (None, None)
        return
    reach = t.ppf(0.975, n - 1) * variance**0.5 / ratio
    if reach < 300:
        assert np.log(told["low"]) == pytest.approx(np.log(ratio) - reach, abs=1e-5)
        assert np.log(told["high"]) == pytest.approx(np.log(ratio) + reach, abs=1e-5)


@given(UNITS, st.floats(0.01, 100))
def test_a_unit_of_distance_or_money_only_scales(units, factor):
    y, x = np.array(units).T
    plain, scaled = of(y, x), of(y * 3, x * factor)
    for name, value in plain.items():
        if value is not None and value < 1e100:
            assert scaled[name] * factor / 3 == pytest.approx(value, rel=1e-3, abs=1e-12)


def test_the_same_cost_for_each_km_leaves_no_spread():
    told = of([10, 20, 40], [1000, 2000, 4000])
    assert told == {"ratio": pytest.approx(0.01), "low": pytest.approx(0.01), "high": pytest.approx(0.01)}


def test_the_edges():
    assert of([5], [100]) == {"ratio": 0.05, "low": None, "high": None}
    assert of([0, 0], [100, 50]) == {"ratio": 0.0, "low": None, "high": None}
    assert of([5, 5], [0, 0]) == {"ratio": None, "low": None, "high": None}
    assert of([-5, 1], [100, 50])["low"] is None
    with pytest.raises(FleetlensError, match="below 0"):
        of([1, 1], [-5, 1])


def test_the_limits_are_near_those_of_a_bootstrap_by_scipy():
    """Percentile bootstrap over vehicles, 400 of them, by a general library."""
    chance = np.random.default_rng(5)
    x = chance.gamma(4, 20_000, 400)
    y = chance.poisson(x / 40_000) * chance.gamma(2, 300, 400)
    drawn = bootstrap(
        (y, x), lambda y, x, axis: y.sum(axis) / x.sum(axis), paired=True, n_resamples=4000, rng=7, method="percentile"
    ).confidence_interval
    told = of(y, x)
    width = drawn.high - drawn.low
    assert told["low"] == pytest.approx(drawn.low, abs=0.06 * width)
    assert told["high"] == pytest.approx(drawn.high, abs=0.06 * width)


@pytest.mark.parametrize(("vehicles", "least"), [(20, 0.90), (150, 0.93)])
def test_the_limits_cover_the_truth_as_often_as_they_say(vehicles, least):
    """2,000 fleets whose vehicles have jobs by chance and own tempers; few vehicles are a little short, as is said."""
    chance = np.random.default_rng(11)
    x = chance.gamma(4, 20_000, (2000, vehicles))
    jobs = chance.poisson(x / 20_000 * chance.gamma(3, 1 / 3, x.shape))
    y = chance.gamma(2 * np.maximum(jobs, 1e-9), 200)  # a job costs 400 on average
    told = ratio_of_totals(
        np.full(2000, vehicles),
        y.sum(1),
        x.sum(1),
        total_squared=(y * y).sum(1),
        exposure_squared=(x * x).sum(1),
        product=(y * x).sum(1),
    )
    truth = 400 / 20_000
    assert least <= ((told["low"] < truth) & (truth < told["high"])).mean() <= 0.965
