"""Rates that borrow: the likelihood by hand, the edges, what must not matter, and a known truth."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import gamma, nbinom

from fleetlens.errors import FleetlensError
from fleetlens.reliability.rates import poisson_interval
from fleetlens.reliability.shrinkage import FITTED, NO_SPREAD, TOO_FEW, gamma_poisson

CALM = settings(max_examples=40, deadline=None)
GROUPS = st.lists(st.tuples(st.integers(0, 30), st.floats(0.5, 40)), min_size=3, max_size=25)


def loglik(count, base, shape, rate) -> float:
    """The negative binomial likelihood, by scipy."""
    return nbinom.logpmf(count, shape, rate / (rate + base)).sum()


@CALM
@given(GROUPS)
def test_no_prior_is_likelier(groups) -> None:
    """Against a search by scipy; where no spread is claimed, none helps."""
    count, base = (np.array(column) for column in zip(*groups, strict=True))
    result = gamma_poisson(count, base)
    if result.outcome == TOO_FEW:
        assert not count.any()
        return
    start = [0.0, np.log(base.sum() / count.sum())]
    theirs = minimize(lambda p: -loglik(count, base, *np.exp(p)), start, bounds=[(-7, 13), (-12, 20)])
    ours = loglik(count, base, result.prior_shape, result.prior_rate) if result.outcome == FITTED else None
    if ours is None:
        ours = loglik(count, base, 1e6, 1e6 * base.sum() / count.sum()) + 1e-3
    assert ours >= -theirs.fun - 1e-6


@CALM
@given(GROUPS, st.floats(0.001, 1000))
def test_rates_lie_between_their_own_and_the_common_one_in_any_unit(groups, factor) -> None:
    count, base = (np.array(column) for column in zip(*groups, strict=True))
    result, other = gamma_poisson(count, base), gamma_poisson(count, base * factor)
    assert result.outcome == other.outcome
    rows, others = result.rows, other.rows
    assert (rows["rate"] / factor).to_numpy() == pytest.approx(others["rate"].to_numpy(), rel=1e-5)
    assert (rows["low"] <= rows["rate"]).all()
    assert (rows["rate"] <= rows["high"]).all()
    if result.outcome == FITTED:
        common, own = result.prior_shape / result.prior_rate, count / base
        mixed = rows["weight"].to_numpy() * own + (1 - rows["weight"].to_numpy()) * common
        assert rows["rate"].to_numpy() == pytest.approx(mixed)
        inside = gamma.cdf(rows["high"], result.prior_shape + count, scale=1 / (result.prior_rate + base))
        assert inside == pytest.approx(np.full(len(count), 0.975), abs=1e-7)


def test_edges() -> None:
    own = gamma_poisson([3, 1, 0], [2.0, 1.0, 0.0])
    assert (own.outcome, own.prior_shape, own.prior_rate) == (TOO_FEW, None, None)
    assert own.rows.drop("weight").rows() == poisson_interval([3, 1, 0], [2.0, 1.0, 0.0]).rows()
    assert own.rows["weight"].to_list() == [1.0, 1.0, None]
    assert gamma_poisson([0] * 5, 1.0).outcome == TOO_FEW
    assert gamma_poisson([], []).rows.is_empty()
    same = gamma_poisson([4, 5, 4, 5, 0], [1.0, 1.0, 1.0, 1.0, 0.0])
    assert same.outcome == NO_SPREAD
    assert same.rows.unique().rows() == [(*poisson_interval(18, 4.0).row(0), 0.0)]
    unlike = gamma_poisson([0, 30, 2, 11, 0], [1.0, 1.0, 1.0, 1.0, 0.0])
    assert unlike.rows["weight"].to_list()[-1] == 0.0  # nothing of its own: what the others let expect
    assert unlike.rows["rate"].to_list()[-1] == pytest.approx(unlike.prior_shape / unlike.prior_rate)
    with pytest.raises(FleetlensError, match="must be counts"):
        gamma_poisson([0.5], [1.0])


def test_a_known_prior_comes_back() -> None:
    chance = np.random.default_rng(3)
    base = chance.uniform(0.1, 5, 100_000)
    count = chance.poisson(base * chance.gamma(2.0, 1 / 3, len(base)))
    result = gamma_poisson(count, base)
    assert (result.prior_shape, result.prior_rate) == pytest.approx((2.0, 3.0), rel=0.02)
