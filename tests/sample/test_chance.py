"""Draws: the published hash, the right laws, and no two questions with one answer."""

import numpy as np
import pytest
from scipy import stats

from fleetlens.sample import chance as draws
from fleetlens.sample.chance import Chance

NUMBERS = np.arange(20_000)


def test_the_hash_is_splitmix64() -> None:
    # First numbers of SplitMix64 for seed 1234567, as widely printed beside the algorithm (from memory).
    state = np.array([1234567], np.uint64)
    found = []
    for _ in range(3):
        state = state + draws._STEP
        found.append(int(draws._mix(state)[0]))
    assert found == [6457827717110365317, 3203168211198807973, 9817491932198370423]


@pytest.mark.parametrize(
    ("drawn", "law"),
    [
        (Chance(1).uniform("a", NUMBERS), stats.uniform()),
        (Chance(1).uniform("b", NUMBERS, NUMBERS % 3), stats.uniform()),
        (Chance(-4).normal("a", NUMBERS), stats.norm()),
        (Chance(2).weibull(2.4, 90_000.0, "a", NUMBERS), stats.weibull_min(2.4, scale=90_000)),
        (Chance(2).weibull(0.7, 5.0, "a", NUMBERS), stats.weibull_min(0.7, scale=5)),
    ],
    ids=["uniform", "two keys", "normal", "wear-out", "early life"],
)
def test_draws_follow_their_law(drawn: np.ndarray, law: object) -> None:
    # Kolmogorov-Smirnov from SciPy.
    assert stats.kstest(drawn, law.cdf).pvalue > 1e-3  # type: ignore[attr-defined]


def test_picks_follow_their_weights() -> None:
    picked = Chance(3).pick((0.5, 0.3, 0.0, 0.2), "a", NUMBERS)
    assert np.bincount(picked, minlength=4) == pytest.approx([10_000, 6_000, 0, 4_000], abs=350)


def test_questions_keys_and_seeds_are_independent() -> None:
    base = Chance(1).uniform("a", NUMBERS)
    others = [
        Chance(2).uniform("a", NUMBERS),
        Chance(1).uniform("b", NUMBERS),
        Chance(1).uniform("a", NUMBERS + 1),
        Chance(1).uniform("a", NUMBERS, np.zeros_like(NUMBERS)),
        Chance(1).uniform("a", NUMBERS, np.ones_like(NUMBERS)),
    ]
    for other in others:
        assert abs(np.corrcoef(base, other)[0, 1]) < 0.03


def test_a_draw_depends_on_its_own_keys_only() -> None:
    whole = Chance(1).uniform("a", NUMBERS)
    assert np.array_equal(Chance(1).uniform("a", NUMBERS[777:778]), whole[777:778])
