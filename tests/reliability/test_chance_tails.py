"""Chance tails of two-by-two tables against scipy's hypergeometric distribution and Fisher's test."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import fisher_exact, hypergeom

from fleetlens.reliability.association import lift
from fleetlens.reliability.hypergeometric import chance_tails


@st.composite
def tables(draw: st.DrawFn) -> tuple[int, int, int, int]:
    total = draw(st.integers(1, 3000))
    first, second = draw(st.integers(0, total)), draw(st.integers(0, total))
    both = draw(st.integers(max(0, first + second - total), min(first, second)))
    return both, first, second, total


@given(st.lists(tables(), min_size=1, max_size=20))
def test_both_tails(rows: list[tuple[int, int, int, int]]) -> None:
    both, first, second, total = np.array(rows, dtype=np.float64).T
    small, large = chance_tails(both, first, second, total)
    assert small == pytest.approx(hypergeom.cdf(both, total, first, second), rel=1e-8, abs=1e-9)
    assert large == pytest.approx(hypergeom.sf(both - 1, total, first, second), rel=1e-8, abs=1e-9)


def test_a_tail_far_out_keeps_its_digits() -> None:
    """Where 1 less the other tail would be 0."""
    both, first, second, total = (np.array([value]) for value in (90.0, 100.0, 120.0, 50_000.0))
    large = chance_tails(both, first, second, total)[1][0]
    assert large == pytest.approx(hypergeom.sf(89, 50_000, 100, 120), rel=1e-7)
    one_sided = fisher_exact([[90, 10], [30, 49_870]], alternative="greater").pvalue
    assert large == pytest.approx(one_sided, rel=1e-7)


def test_many_wide_tables_are_told_at_once() -> None:
    """A screen of hundreds of codes has tens of thousands of pairs; tables of all their cells would not fit."""
    first = np.full(30_000, 40_000.0)
    second = np.linspace(1, 60_000, 30_000).round()
    p = lift(np.round(first * second / 150_000), first, second, 150_000)["p"]
    assert p.min() > 0.9
