"""Shares of kinds: scipy's distributions, the likelihood by hand, edges, a known truth."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.stats import beta, dirichlet_multinomial

from fleetlens.errors import FleetlensError
from fleetlens.reliability.shares import LEARNED, NO_SPREAD, STATED, TOO_FEW, borrowed, dirichlet

CALM = settings(max_examples=40, deadline=None)
COUNTS = st.lists(st.integers(0, 20), min_size=2, max_size=6)


@CALM
@given(COUNTS, st.floats(0.1, 3), st.floats(0.5, 0.99))
def test_shares_are_beta(counts, prior, level) -> None:
    rows = dirichlet(counts, prior, level)
    total = sum(counts) + prior * len(counts)
    assert rows["share"].sum() == pytest.approx(1)
    for count, (share, low, high) in zip(counts, rows.rows(), strict=True):
        own = beta(count + prior, total - count - prior)
        assert (share, low, high) == pytest.approx((own.mean(), *own.interval(level)), abs=1e-9)


@CALM
@given(st.lists(st.tuples(*[st.integers(0, 15)] * 3), min_size=4, max_size=12))
def test_no_strength_is_likelier(counts) -> None:
    """Against a search by scipy over its Dirichlet-multinomial likelihood."""
    counts, wider = np.array(counts), np.array([40, 20, 5])
    result = borrowed(counts, wider)
    telling = counts[counts.sum(axis=1) >= 2]
    if len(telling) < 3:
        assert (result.outcome, result.strength) == (TOO_FEW, 3.0)
        return
    share = (wider + 1 / 3) / 66

    def loss(log_strength: float) -> float:
        return -dirichlet_multinomial.logpmf(telling, np.exp(log_strength) * share, telling.sum(axis=1)).sum()

    grid = np.linspace(np.log(0.01), np.log(65), 60)
    best = min(grid, key=loss)
    theirs = minimize_scalar(loss, bounds=(max(best - 0.2, grid[0]), min(best + 0.2, grid[-1])), method="bounded")
    assert loss(np.log(result.strength)) <= min(theirs.fun, loss(best)) + 1e-6
    assert result.outcome == (NO_SPREAD if result.strength == pytest.approx(65) else LEARNED)


def test_weight_says_what_is_borrowed() -> None:
    own, wider = np.array([3, 1, 0]), np.array([40, 30, 29])
    result = borrowed(own, wider, strength=6)
    assert (result.outcome, result.strength) == (STATED, 6)
    assert result.rows["weight"].to_list() == pytest.approx([0.6] * 3)
    expected = 0.4 * own / 4 + 0.6 * (wider + 1 / 3) / 100
    assert result.rows["share"].to_numpy() == pytest.approx(expected)
    nothing = borrowed([0, 0, 0], wider, strength=6).rows
    assert nothing["share"].to_numpy() == pytest.approx((wider + 1 / 3) / 100)
    assert nothing["weight"].to_list() == [1.0] * 3


def test_rows_borrow_from_the_others() -> None:
    """Without a wider group each row's prior is the other rows', never its own counts again."""
    counts = np.array([[9, 1], [2, 8], [5, 5], [7, 3]])
    by_rows = borrowed(counts, strength=4).rows["share"].to_numpy().reshape(4, 2)
    for number in range(4):
        others = np.delete(counts, number, axis=0).sum(axis=0)
        alone = borrowed(counts[number], others, strength=4).rows["share"].to_numpy()
        assert by_rows[number] == pytest.approx(alone)


def test_a_known_strength_comes_back() -> None:
    chance = np.random.default_rng(6)
    shares = chance.dirichlet(8 * np.array([0.6, 0.3, 0.1]), 4000)
    counts = np.array([chance.multinomial(12, each) for each in shares])
    result = borrowed(counts)
    assert (result.outcome, result.strength) == (LEARNED, pytest.approx(8, rel=0.1))
    same = borrowed(np.array([chance.multinomial(20, [0.5, 0.3, 0.2]) for _ in range(40)]), [500, 300, 200])
    assert same.strength > 100


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: dirichlet([1, 2], prior=0), "imaginary counts must be above 0"),
        (lambda: dirichlet([0.5]), "must be counts"),
        (lambda: borrowed([1, 2], [1, 2, 3]), "has the shape"),
        (lambda: borrowed([1, 2], [1, 2], strength=0), "a strength must be above 0"),
    ],
)
def test_refusals(call, message) -> None:
    with pytest.raises(FleetlensError, match=message):
        call()
    assert dirichlet([4]).row(0) == (1.0, 1.0, 1.0)  # the only kind there is
