"""What stands out: limits by summing chances, edges, and what must not matter."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, chi2_contingency, poisson

from fleetlens.errors import FleetlensError
from fleetlens.reliability.control import funnel_rate, funnel_share, overdispersion, overdispersion_shares, u_chart
from fleetlens.reliability.multiplicity import false_discovery

CALM = settings(max_examples=60, deadline=None)


def edge(chances, tail) -> tuple[int, int]:
    """The least and the greatest count neither of whose tails falls to `tail`, by adding up."""
    counts = np.arange(len(chances))
    below, beyond = np.cumsum(chances), np.cumsum(chances[::-1])[::-1]
    inside = counts[(below > tail) & (beyond > tail)]
    return int(inside[0]), int(inside[-1])


@CALM
@given(st.lists(st.tuples(st.integers(0, 60), st.floats(0.1, 20)), min_size=1, max_size=8))
def test_funnel_limits_are_the_last_counts_inside(groups) -> None:
    events, exposure = (np.array(column) for column in zip(*groups, strict=True))
    rows = funnel_rate(events, exposure)
    target = events.sum() / exposure.sum()
    assert (rows["target"] - target).abs().max() < 1e-12
    for (count, base), row in zip(groups, rows.iter_rows(named=True), strict=True):
        # Twice as far as chance reaches; a tail of exactly 2.5 % is a matter of rounding.
        chances = poisson.pmf(np.arange(int(40 + 4 * target * base)), target * base)
        widest = None
        for level, name in ((0.95, "95"), (0.998, "998")):
            low, high = edge(chances, (1 - level) / 2)
            assert (row[f"low_{name}"] * base, row[f"high_{name}"] * base) == pytest.approx((low, high))
            widest = level if not low <= count <= high else widest
        assert row["outside"] == widest


@CALM
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=1, max_size=8))
def test_funnel_of_shares(groups) -> None:
    good, bad = (np.array(column) for column in zip(*groups, strict=True))
    total = good + bad
    rows = funnel_share(good, total)
    for count, trials, row in zip(good, total, rows.iter_rows(named=True), strict=True):
        if not trials:
            assert row["share"] is row["low_95"] is row["outside"] is None
            continue
        chances = binom.pmf(np.arange(trials + 1), trials, good.sum() / total.sum())
        low, high = edge(chances, 0.025)
        assert (row["low_95"] * trials, row["high_95"] * trials) == pytest.approx((low, high))
        assert (row["outside"] is None) == (low <= count <= high)


def test_u_chart_edges() -> None:
    """On the limit is no signal; without exposure there is nothing; low is never below 0."""
    rows = u_chart([16] * 24 + [28, 4], 1.0)
    assert rows["signal"].null_count() == 26
    assert u_chart([16] * 24 + [29, 3], 1.0)["signal"].to_list()[-2:] == ["above", "below"]
    rows = u_chart([1, 0, 3], [10.0, 0.0, 2.0])
    assert rows.row(1) == (None, pytest.approx(4 / 12), None, None, None)
    assert rows["low"].to_list()[0] == 0.0
    assert u_chart([0], [0]).rows() == [(None, None, None, None, None)]
    assert u_chart([], []).is_empty()
    assert u_chart([5, 9], 1.0, sigma=1.0)["high"][0] == pytest.approx(7 + 7**0.5)


def test_more_exposure_narrows_the_limits_and_the_unit_does_not_matter() -> None:
    rows = u_chart([2, 8, 32], [1, 4, 16])
    assert (rows["high"] - rows["low"]).is_sorted(descending=True)
    here, there = u_chart([2, 9, 3], [100.0, 300.0, 200.0]), u_chart([2, 9, 3], [1.0, 3.0, 2.0])
    assert (here["high"] * 100).to_numpy() == pytest.approx(there["high"].to_numpy())
    assert here["signal"].to_list() == there["signal"].to_list()
    with pytest.raises(FleetlensError, match="levels lie between 0 and 1"):
        funnel_rate([1], [1], levels=(95,))
    assert funnel_rate([1], [1], levels=(0.9,)).columns == ["rate", "target", "low_90", "high_90", "outside"]


@pytest.mark.parametrize(("counts", "bases"), [([3, 9, 1], [10.0, 10.0, 10.0]), ([12, 40], [100.0, 200.0])])
def test_overdispersion_is_pearsons(counts, bases) -> None:
    result = overdispersion(counts, bases)
    expected = np.sum(counts) / np.sum(bases) * np.array(bases)
    assert result.chi2 == pytest.approx(((counts - expected) ** 2 / expected).sum())
    assert (result.df, result.ratio) == (len(counts) - 1, pytest.approx(result.chi2 / (len(counts) - 1)))


def test_overdispersion_of_shares_is_the_test_of_a_table() -> None:
    """scipy.stats.chi2_contingency without its correction."""
    good, total = np.array([3, 8, 20]), np.array([30, 25, 44])
    theirs = chi2_contingency([good, total - good], correction=False)
    ours = overdispersion_shares(good, total)
    assert (ours.chi2, ours.p, ours.df) == pytest.approx((theirs.statistic, theirs.pvalue, theirs.dof))
    assert overdispersion_shares([3, 0], [3, 0]).p is None
    assert overdispersion_shares([3, 2], [3, 2]).p is None  # everything succeeded: no spread to speak of
    assert overdispersion([5, 0], [1, 0]).df == 0


def test_overdispersion_is_quiet_when_there_is_none() -> None:
    """p is about uniform under one common rate, and small under two."""
    chance = np.random.default_rng(4)
    p = [overdispersion(chance.poisson(20, 30), 1.0).p for _ in range(400)]
    assert 0.03 < np.mean(np.array(p) < 0.05) < 0.08
    assert overdispersion(chance.poisson([10] * 15 + [30] * 15), 1.0).p < 1e-3


@CALM
@given(st.lists(st.one_of(st.none(), st.floats(0, 1)), max_size=30))
def test_false_discovery(p) -> None:
    """By its definition: the least rate, among all thresholds at or above, at which the p is called a finding."""
    q = false_discovery(pl.Series(p, dtype=pl.Float64))
    known = sorted(value for value in p if value is not None)
    for value, found in zip(p, q, strict=True):
        if value is None:
            assert found is None
            continue
        rates = [t * len(known) / sum(other <= t for other in known) for t in known if t >= value]
        assert found == pytest.approx(min(1.0, *rates))
    with pytest.raises(FleetlensError, match="outside 0 to 1"):
        false_discovery([1.2])


def test_scipy_agrees_on_false_discovery() -> None:
    """scipy.stats.false_discovery_control."""
    from_scipy = pytest.importorskip("scipy.stats").false_discovery_control
    p = np.random.default_rng(5).random(200) ** 2
    assert false_discovery(p).to_numpy() == pytest.approx(from_scipy(p))
    assert np.isnan(false_discovery([np.nan]).fill_null(np.nan).to_numpy()).all()
