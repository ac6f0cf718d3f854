"""Rates and shares: exactness by counting outcomes, the edges, what must not matter, and scipy."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, binomtest, poisson

from fleetlens.errors import FleetlensError
from fleetlens.reliability.rates import (
    difference_of_proportions,
    poisson_interval,
    proportion_exact,
    proportion_wilson,
    rate_ratio,
)

CALM = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize("mean", [0.05, 0.7, 3.0, 11.3])
def test_poisson_limits_hold_the_truth_at_least_as_often_as_promised(mean) -> None:
    """What exact means: over all counts that can happen, weighted by their chance."""
    counts = np.arange(80)
    rows = poisson_interval(counts, 1.0)
    holds = ((rows["low"] <= mean) & (mean <= rows["high"])).to_numpy()
    assert poisson.pmf(counts, mean)[holds].sum() >= 0.95


@pytest.mark.parametrize("share", [0.01, 0.2, 0.5, 0.93])
def test_exact_limits_of_a_share_hold_the_truth_at_least_as_often_as_promised(share) -> None:
    counts = np.arange(31)
    rows = proportion_exact(counts, 30)
    holds = ((rows["low"] <= share) & (share <= rows["high"])).to_numpy()
    assert binom.pmf(counts, 30, share)[holds].sum() >= 0.95


@CALM
@given(st.integers(0, 200), st.floats(0.01, 1e6), st.floats(0.5, 0.999))
def test_poisson_limits_leave_the_promised_tails(events, exposure, level) -> None:
    row = poisson_interval(events, exposure, level).row(0, named=True)
    tail = (1 - level) / 2
    assert poisson.cdf(events, row["high"] * exposure) == pytest.approx(tail, rel=1e-6)
    if events:
        assert poisson.sf(events - 1, row["low"] * exposure) == pytest.approx(tail, rel=1e-6)
    assert row["low"] <= row["rate"] <= row["high"]


@CALM
@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.5, 0.999))
def test_scipy_agrees_on_shares(count, rest, level) -> None:
    """scipy.stats.binomtest, exact and Wilson."""
    total = count + rest
    if not total:
        return
    test = binomtest(count, total)
    for ours, method in ((proportion_exact, "exact"), (proportion_wilson, "wilson")):
        row = ours(count, total, level).row(0, named=True)
        theirs = test.proportion_ci(level, method)
        assert (row["low"], row["high"]) == pytest.approx((theirs.low, theirs.high), abs=1e-9)
        assert 0 <= row["low"] <= row["share"] <= row["high"] <= 1


@CALM
@given(st.integers(1, 60), st.integers(1, 60), st.floats(0.1, 100), st.floats(0.1, 100))
def test_a_ratio_turned_over_is_the_inverse(events, before, base, base_before) -> None:
    here = rate_ratio(events, base, before, base_before).row(0, named=True)
    there = rate_ratio(before, base_before, events, base).row(0, named=True)
    assert here["ratio"] == pytest.approx(1 / there["ratio"])
    assert (here["low"], here["high"]) == pytest.approx((1 / there["high"], 1 / there["low"]))
    assert here["p"] == pytest.approx(there["p"])
    assert here["low"] < here["ratio"] < here["high"]
    # p and the limits agree: below 5 % just where the limits leave 1 out.
    assert (here["p"] < 0.05) == (here["low"] > 1 or here["high"] < 1)


@CALM
@given(st.integers(0, 30), st.integers(1, 30), st.integers(0, 30), st.integers(1, 30))
def test_differences_turn_over_and_hold_the_estimate(count, more, other, other_more) -> None:
    total, total_other = count + more, other + other_more
    here = difference_of_proportions(count, total, other, total_other).row(0, named=True)
    there = difference_of_proportions(other, total_other, count, total).row(0, named=True)
    assert here["difference"] == pytest.approx(-there["difference"], abs=1e-12)
    assert (here["low"], here["high"]) == pytest.approx((-there["high"], -there["low"]), abs=1e-12)
    assert -1 <= here["low"] <= here["difference"] <= here["high"] <= 1


def test_limits_shrink_with_more_events_and_the_unit_does_not_matter() -> None:
    rows = poisson_interval([2, 8, 32], [1, 4, 16])
    assert (rows["high"] - rows["low"]).to_list() == sorted((rows["high"] - rows["low"]).to_list(), reverse=True)
    per_km, per_100_000_km = poisson_interval(5, 250_000).row(0), poisson_interval(5, 2.5).row(0)
    assert per_100_000_km == pytest.approx([value * 100_000 for value in per_km])


def test_edges() -> None:
    """Null is what isn't known; 0 events of something have an upper limit, 0 of nothing haven't."""
    assert poisson_interval([0, 0, 3], [2, 0, 0]).rows() == [
        (0.0, 0.0, pytest.approx(3.688879 / 2, abs=1e-6)),
        (None, None, None),
        (None, None, None),
    ]
    assert poisson_interval([], []).is_empty()
    for method in (proportion_exact, proportion_wilson):
        assert method([0, 0], [0, 5]).rows() == [(None, None, None), (0.0, 0.0, pytest.approx(0.48, abs=0.05))]
        assert method(5, 5).row(0)[2] == 1.0
    assert rate_ratio([0, 4, 0, 1], [1, 1, 1, 0], [3, 0, 0, 1], [1, 1, 1, 1]).select("ratio", "high").rows() == [
        (0.0, pytest.approx(2.42, abs=0.01)),
        (None, None),
        (None, None),
        (None, None),
    ]
    assert rate_ratio([0, 4, 0, 1], [1, 1, 1, 0], [3, 0, 0, 1], [1, 1, 1, 1]).select("low", "p").rows() == [
        (0.0, pytest.approx(0.25)),
        (pytest.approx((0.025**0.25) / (1 - 0.025**0.25)), pytest.approx(0.125)),
        (0.0, None),
        (None, None),
    ]
    assert difference_of_proportions([1, 1], [2, 2], [0, 1], [0, 2])["difference"].to_list() == [None, 0.0]


def test_rows_match_rows() -> None:
    frame = pl.DataFrame({"events": [3, 5], "km": [10.0, 20.0]})
    assert frame.hstack(poisson_interval(frame["events"], frame["km"]))["rate"].to_list() == [0.3, 0.25]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: poisson_interval(1.5, 1), "'events' must be counts: whole numbers from 0\n  try: count, don't weight"),
        (lambda: poisson_interval(-1, 1), "'events' must be counts: whole numbers from 0\n  try: count, don't weight"),
        (
            lambda: poisson_interval(1, -1),
            "an exposure is missing or below 0\n  try: give km (or hours) that were observed",
        ),
        (
            lambda: proportion_exact(3, 2),
            "a share has more successes than trials\n  try: check which count is which",
        ),
    ],
)
def test_refusals(call, message) -> None:
    with pytest.raises(FleetlensError) as caught:
        call()
    assert str(caught.value) == message
