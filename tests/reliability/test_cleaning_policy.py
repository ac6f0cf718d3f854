"""The cost of a cleaning policy: against simulation, against plain age replacement, and its edges."""

from math import inf

import numpy as np
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.reliability.cleaning_policy import Life, Policy, Prices, best_policy, life, policy_rate
from fleetlens.reliability.renewal import cost_rate, optimal_age, run_to_failure_rate

NEW, CLEANED = life(2.6, 90_000.0), life(1.9, 60_000.0)
PRICES = Prices(clean=180.0, replace=420.0, failure=1_100.0)


def rate_of(first: float, after: float, cleanings: float, mended: float = 0.0, prices: Prices = PRICES) -> float:
    return float(policy_rate(Policy(np.array(first), np.array(after), cleanings), NEW, CLEANED, prices, mended))


def cheapest(new: Life, cleaned: Life, cleanings: float, mended: float = 0.0) -> tuple[Policy, np.ndarray]:
    """The best policy and what it costs."""
    best = best_policy(new, cleaned, PRICES, cleanings, mended)
    return best, policy_rate(best, new, cleaned, PRICES, mended)


def simulated(
    first: float, after: float, cleanings: float, mended: float, *, parts: int = 20_000, prices: Prices = PRICES
) -> tuple[float, float]:
    """Cost per km of many parts over many lives each, and its standard error: the policy step by step.

    Told from the 60th life on, when how often a part has been cleaned no longer depends on its start.
    """
    chance = np.random.default_rng(20_261_125)
    done = np.zeros(parts)  # cleanings since new
    cost, km = np.zeros(parts), np.zeros(parts)
    for number in range(120):
        fresh = done == 0
        lives = np.where(
            fresh,
            90_000 * chance.weibull(2.6, parts),
            60_000 * chance.weibull(1.9, parts),
        )
        planned = np.where(fresh, first, after)
        failed = lives < planned
        last = done == cleanings
        cleaned = np.where(failed, (chance.random(parts) < mended) & ~last, ~last)
        told = number >= 60
        km += told * np.minimum(lives, planned)
        failure = np.where(last, prices.at_last, prices.failure)
        cost += told * np.where(failed, failure, np.where(last, prices.replace, prices.clean))
        done = np.where(cleaned, done + 1, 0)
    ratio = cost.mean() / km.mean()
    return float(ratio), float(np.std(cost - ratio * km) / np.sqrt(parts) / km.mean())


@pytest.mark.parametrize(
    ("first", "after", "cleanings", "mended"),
    [(50_000, 30_000, 2, 0.0), (50_000, 30_000, 2, 0.6), (70_000, 40_000, 1, 0.3), (60_000, 35_000, inf, 0.4)],
)
def test_the_cost_is_what_a_simulation_pays(first: float, after: float, cleanings: float, mended: float) -> None:
    paid, error = simulated(first, after, cleanings, mended)
    assert error < 0.003 * paid
    assert rate_of(first, after, cleanings, mended) == pytest.approx(paid, abs=4 * error)


@pytest.mark.parametrize("cleanings", [0, 1, 3])
def test_a_failure_without_a_cleaning_left_has_a_price_of_its_own(cleanings: int) -> None:
    prices = Prices(clean=180.0, replace=420.0, failure=1_100.0, last_failure=1_400.0)
    paid, error = simulated(60_000, 45_000, cleanings, 0.5, prices=prices)
    assert rate_of(60_000, 45_000, cleanings, 0.5, prices) == pytest.approx(paid, abs=4 * error)
    assert rate_of(60_000, 45_000, cleanings, 0.5, prices) > rate_of(60_000, 45_000, cleanings, 0.5) * 1.01


def test_without_a_limit_no_failure_is_the_last() -> None:
    prices = Prices(clean=180.0, replace=420.0, failure=1_100.0, last_failure=1_400.0)
    assert rate_of(60_000, 45_000, inf, 0.5, prices) == rate_of(60_000, 45_000, inf, 0.5)


@pytest.mark.parametrize("planned", [(True, False), (False, True), (False, False)])
def test_a_life_that_may_have_no_planned_age_gets_none(planned: tuple[bool, bool]) -> None:
    best = best_policy(NEW, CLEANED, PRICES, 2, 0.3, planned=planned)
    assert (best.first < inf, best.after < inf) == planned
    least = float(policy_rate(best, NEW, CLEANED, PRICES, 0.3))
    for first in np.geomspace(20_000, 300_000, 12) if planned[0] else [inf]:
        for after in np.geomspace(20_000, 300_000, 12) if planned[1] else [inf]:
            assert rate_of(first, after, 2, 0.3) >= least * (1 - 1e-7)


def test_without_cleanings_it_is_age_replacement() -> None:
    assert rate_of(50_000, inf, 0) == pytest.approx(cost_rate(50_000, 2.6, 90_000, 420, 1_100), rel=1e-12)
    best, rate = cheapest(NEW, CLEANED, 0)
    assert best.first == pytest.approx(optimal_age(2.6, 90_000, 420, 1_100), rel=1e-3)
    assert rate == pytest.approx(cost_rate(best.first, 2.6, 90_000, 420, 1_100), rel=1e-12)


def test_a_cleaning_as_good_as_new_that_mends_everything_is_age_replacement_at_its_price() -> None:
    best, rate = cheapest(NEW, NEW, inf, mended=1.0)
    assert best.after == pytest.approx(optimal_age(2.6, 90_000, 180, 1_100), rel=1e-3)
    assert rate == pytest.approx(cost_rate(best.after, 2.6, 90_000, 180, 1_100), rel=1e-9)


@pytest.mark.parametrize("cleanings", [0, 1, 3, inf])
def test_the_best_is_no_dearer_than_any_neighbour(cleanings: float) -> None:
    best, least = cheapest(NEW, CLEANED, cleanings, mended=0.3)
    for first in (0.9, 0.99, 1.01, 1.1):
        for after in (0.9, 0.99, 1.01, 1.1):
            near = rate_of(float(best.first) * first, float(best.after) * after, cleanings, 0.3)
            assert near >= least * (1 - 1e-7)


def test_a_part_that_does_not_wear_is_left_alone() -> None:
    constant = life(1.0, 80_000.0)
    best, rate = cheapest(constant, constant, inf, mended=0.5)
    assert (best.first, best.after) == (inf, inf)
    assert rate == pytest.approx(run_to_failure_rate(1.0, 80_000, 1_100), rel=1e-12)


def test_all_lives_at_once_give_what_each_gives_alone() -> None:
    shapes, scales = np.array([1.4, 2.0, 3.5]), np.array([40_000.0, 90_000.0, 150_000.0])
    together = best_policy(life(shapes, scales), life(shapes, scales / 2), PRICES, 2, mended=0.2)
    for index in range(3):
        alone = best_policy(
            life(shapes[index], scales[index]), life(shapes[index], scales[index] / 2), PRICES, 2, mended=0.2
        )
        assert together.first[index] == alone.first
        assert together.after[index] == alone.after


def test_the_unit_of_distance_does_not_matter() -> None:
    miles = 1.609344
    ours = best_policy(NEW, CLEANED, PRICES, 2, 0.3)
    theirs = best_policy(life(2.6, 90_000 / miles), life(1.9, 60_000 / miles), PRICES, 2, 0.3)
    assert theirs.first * miles == pytest.approx(ours.first, rel=1e-9)
    assert theirs.after * miles == pytest.approx(ours.after, rel=1e-9)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: rate_of(0, 1, 1),
        lambda: rate_of(1, 1, 1.5),
        lambda: rate_of(1, 1, -1),
        lambda: rate_of(1, 1, 1, prices=Prices(0, 1, 1)),
        lambda: rate_of(1, 1, 1, prices=Prices(1, 1, 1, 0)),
        lambda: rate_of(1, 1, 1, mended=1.1),
        lambda: life(0, 1),
    ],
)
def test_what_can_not_be_is_refused(wrong: object) -> None:
    with pytest.raises(FleetlensError):
        wrong()  # type: ignore[operator]
