"""How flat an optimum is, round intervals, and limits over draws."""

import numpy as np
import pytest

from fleetlens.advice.draws import drawn_lives, limits
from fleetlens.advice.optimum import flat_range, rounded, say_flat


def test_the_flat_range_ends_where_the_cost_leaves_it() -> None:
    ages = np.linspace(0, 2, 2_001)
    low, high = flat_range(ages, 100 + 400 * (ages - 1) ** 2, share=0.04)  # within 4 where |age - 1| <= 0.1
    assert (low, high) == pytest.approx((0.9, 1.1), abs=1e-9)


def test_a_cost_that_stays_low_has_no_upper_end() -> None:
    ages = np.linspace(0.1, 10, 500)
    low, high = flat_range(ages, 1 + 1 / ages)
    assert high is None
    assert low < 10
    assert say_flat(12_000.4, None) == "from 12,000 km on the cost stays within 2% of the least"
    assert say_flat(12_000.4, 20_000) == "between 12,000 and 20,000 km the cost stays within 2% of the least"


def test_a_second_dip_outside_the_range_is_no_part_of_it() -> None:
    costs = np.array([1.0, 5.0, 1.01, 1.0, 1.01, 5.0, 1.0])
    assert flat_range(np.arange(7.0), costs + np.array([0.001, 0, 0, -0.001, 0, 0, 0.001])) == (2.0, 4.0)


@pytest.mark.parametrize(
    ("age", "near"), [(74_000, (60_000, 90_000)), (60_000, (60_000, 60_000)), (8_000, (30_000, 30_000))]
)
def test_the_services_next_to_an_age(age: float, near: tuple[float, float]) -> None:
    assert tuple(float(each) for each in rounded(age, 30_000.0)) == near


def test_draws_have_the_covariance_asked_for() -> None:
    lives = drawn_lives([2.0, 3.0], [1e5, 5e4], [[0.04, 0.01], [0.02, 0.03], [-0.02, 0.01]], 40_000)
    for at, (shape, scale, wanted) in enumerate(
        ((2.0, 1e5, [[0.04, -0.02], [-0.02, 0.02]]), (3.0, 5e4, [[0.01, 0.01], [0.01, 0.03]]))
    ):
        logs = np.log([lives.shape[at], lives.scale[at]])
        assert logs.mean(axis=1) == pytest.approx(np.log([shape, scale]), abs=0.005)
        assert np.cov(logs) == pytest.approx(np.array(wanted), abs=0.001)


def test_a_fit_draws_the_same_whatever_stands_beside_it() -> None:
    alone = drawn_lives(2.0, 1e5, [0.04, 0.02, -0.01], 50)
    beside = drawn_lives([5.0, 2.0], [1e4, 1e5], [[0.1, 0.04], [0.1, 0.02], [0.0, -0.01]], 50)
    assert (alone.shape[0] == beside.shape[1]).all()
    assert (alone.scale[0] == beside.scale[1]).all()


def test_limits_are_draws_and_infinity_is_one() -> None:
    low, high = limits(np.arange(1_000.0))
    assert (low, high) == (25.0, 974.0)
    _, high = limits(np.append(np.arange(960.0), [np.inf] * 40))
    assert high == np.inf
