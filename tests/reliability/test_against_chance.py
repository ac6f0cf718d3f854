"""Shares against chance: scipy's binomial test, unlike chances by simulation of nothing but sums, and the edges."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.stats import binomtest

from fleetlens.errors import FleetlensError
from fleetlens.reliability.against_chance import against_chance


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n), st.floats(1e-3, 0.999))))
@example((1, 50, 0.001))
@example((0, 50, 0.2))
@example((50, 50, 0.9))
def test_limits_and_p_are_those_of_the_binomial_test(case: tuple[int, int, float]) -> None:
    """scipy.stats.binomtest: exact limits, and twice the smaller tail."""
    count, trials, chance = case
    row = against_chance([count], [trials], [chance * trials]).row(0, named=True)
    ci = binomtest(count, trials).proportion_ci(method="exact")
    assert (row["share_low"], row["share_high"]) == pytest.approx((ci.low, ci.high), abs=1e-12)
    assert row["times"] == pytest.approx(count / trials / chance)
    assert (row["times_low"], row["times_high"]) == pytest.approx((ci.low / chance, ci.high / chance))
    tails = [binomtest(count, trials, chance, alternative=side).pvalue for side in ("less", "greater")]
    assert row["p"] == pytest.approx(min(1.0, 2 * min(tails)), rel=1e-6, abs=1e-12)


@example([2.3e-311])
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=12))
def test_unlike_chances_make_p_err_on_the_safe_side(chances: list[float]) -> None:
    """Against the exact distribution of the sum of unlike trials, beyond what is expected (Hoeffding 1956)."""
    sums = np.ones(1)
    for chance in chances:
        sums = np.convolve(sums, [1 - chance, chance])
    expected, trials = sum(chances), len(chances)
    for count in range(int(np.ceil(expected + 1)), trials + 1):
        p = against_chance([count], [trials], [expected])["p"][0]
        assert p is None or p >= min(1.0, 2 * sums[count:].sum()) - 1e-9


def test_what_is_unknown_is_null() -> None:
    rows = against_chance([0, 0, 3, 0], [0, 5, 5, 5], [0.0, 0.0, 0.0, 2.0])
    assert rows["share"].to_list() == [None, 0.0, 0.6, 0.0]
    assert rows["times"].to_list() == [None, None, None, 0.0]
    assert rows["p"].null_count() == 3
    assert rows["times_low"][3] == 0.0


def test_more_expected_than_trials_is_refused() -> None:
    with pytest.raises(FleetlensError, match="more successes than trials"):
        against_chance([1], [2], [2.5])
