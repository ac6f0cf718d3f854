"""The concordance: against lifelines, its edges, and the width of its limits."""

import numpy as np
import pytest
from lifelines.utils import concordance_index

from fleetlens.errors import FleetlensError
from fleetlens.reliability.concordance import concordance


@pytest.mark.parametrize("seed", range(6))
def test_it_is_what_lifelines_says(seed: int) -> None:
    """lifelines 0.30, concordance_index: a general survival library; its scores rank long lives, ours risk."""
    chance = np.random.default_rng(seed)
    n = 80
    end = chance.integers(1, 30, n).astype(float)
    failed = chance.random(n) < 0.4
    risk = np.round(-end / 20 + chance.normal(size=n), 1)
    ours = concordance(end, failed, risk)
    assert ours.share == pytest.approx(concordance_index(end, -risk, failed), abs=1e-12)
    assert ours.low is not None
    assert ours.high is not None
    assert 0 <= ours.low <= ours.share <= ours.high <= 1


def test_perfect_reverse_and_empty() -> None:
    end, failed = np.arange(1.0, 6), np.full(5, True)
    assert concordance(end, failed, -end).share == 1
    assert concordance(end, failed, end).share == 0
    assert concordance(end, failed, np.zeros(5)).share == 0.5
    assert concordance(end, np.full(5, False), end).share is None
    assert concordance([], [], []).pairs == 0


def test_limits_cover_the_truth_as_often_as_they_say() -> None:
    """400 samples with a known concordance: for exponential lives of rates a and b it is a / (a + b)."""
    chance = np.random.default_rng(5)
    covered, truth = 0, 0.0
    rates = np.repeat([1.0, 3.0], 60)
    # Pairs across groups: 3 / 4; within a group risks are equal, which counts a half.
    across, within = 60 * 60, 2 * 60 * 59 / 2
    truth = (across * 0.75 + within * 0.5) / (across + within)
    for _ in range(400):
        found = concordance(chance.exponential(1 / rates), np.full(120, True), rates)
        covered += found.low <= truth <= found.high  # type: ignore[operator]
    assert 0.92 <= covered / 400 <= 0.98


def test_unequal_lengths_are_refused() -> None:
    with pytest.raises(FleetlensError, match="length"):
        concordance([1, 2], [True], [1, 2])
