"""Renewal ages: the identity at the optimum, a grid, a simulation, the edges, and what must not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetlens.errors import FleetlensError
from fleetlens.reliability import renewal

CALM = settings(max_examples=60, deadline=None)
SHAPES, SCALES, COSTS = st.floats(1.05, 8), st.floats(0.1, 1e6), st.floats(1, 1000)


@CALM
@given(SHAPES, SCALES, COSTS, st.floats(1.5, 50))
def test_at_the_optimum_the_cost_is_the_hazard_times_the_saving(shape, scale, planned, times) -> None:
    failure = planned * times
    best = float(renewal.optimal_age(shape, scale, planned, failure))
    rate = float(renewal.cost_rate(best, shape, scale, planned, failure))
    hazard = shape / scale * (best / scale) ** (shape - 1)
    assert rate == pytest.approx((failure - planned) * hazard, rel=1e-8)
    around = renewal.cost_rate(best * np.geomspace(0.02, 50, 300), shape, scale, planned, failure)
    assert (around >= rate * (1 - 1e-9)).all()
    assert rate <= float(renewal.run_to_failure_rate(shape, scale, failure)) * (1 + 1e-9)


@CALM
@given(SHAPES, SCALES, COSTS, st.floats(1.5, 50), st.floats(0.01, 100))
def test_neither_unit_nor_currency_matters(shape, scale, planned, times, factor) -> None:
    here = renewal.optimal_age(shape, scale, planned, planned * times)
    assert renewal.optimal_age(shape, scale * factor, planned, planned * times) == pytest.approx(here * factor)
    assert renewal.optimal_age(shape, scale, planned * factor, planned * times * factor) == pytest.approx(here)


@CALM
@given(st.floats(1.1, 6), SCALES, COSTS, st.floats(0.05, 50))
def test_minimal_repair_beats_its_neighbours(shape, scale, planned, times) -> None:
    arguments = (shape, scale, planned, planned * times)
    best = float(renewal.minimal_repair_age(*arguments))
    around = renewal.minimal_repair_cost_rate(best * np.array([0.9, 1, 1.1]), *arguments)
    assert around.argmin() == 1


def test_a_simulated_fleet_pays_what_the_formula_says() -> None:
    """A million renewals with a fixed seed; the cost per km is the same to a few parts in a thousand."""
    life = 60_000 * np.random.default_rng(4).weibull(2.4, 1_000_000)
    for age in (20_000.0, 45_000.0, 120_000.0):
        paid = np.where(life > age, 180.0, 950.0).sum() / np.minimum(life, age).sum()
        assert renewal.cost_rate(age, 2.4, 60_000, 180, 950) == pytest.approx(paid, rel=5e-3)
    assert renewal.run_to_failure_rate(2.4, 60_000, 950) == pytest.approx(950 / life.mean(), rel=5e-3)


def test_renewals_at_any_age_cost_what_a_simulation_pays() -> None:
    """Planned renewals that come by chance, one in 80,000 km; none at all is running to failure."""
    chance = np.random.default_rng(5)
    life, planned = 60_000 * chance.weibull(2.4, 1_000_000), chance.exponential(80_000, 1_000_000)
    paid = np.where(life > planned, 180.0, 950.0).sum() / np.minimum(life, planned).sum()
    assert renewal.unscheduled_cost_rate(1 / 80_000, 2.4, 60_000, 180, 950) == pytest.approx(paid, rel=5e-3)
    shapes = np.array([0.8, 1.0, 2.4, 7.0])
    never = renewal.run_to_failure_rate(shapes, 60_000, 950)
    assert renewal.unscheduled_cost_rate(0.0, shapes, 60_000, 180, 950) == pytest.approx(never, rel=1e-9)
    # Without wear, a planned renewal only adds its own cost: failures stay one in 60,000 km.
    assert renewal.unscheduled_cost_rate(1 / 80_000, 1, 60_000, 180, 950) == pytest.approx(950 / 60_000 + 180 / 80_000)


@pytest.mark.parametrize(
    ("shape", "planned", "failure"),
    [(1.0, 1, 5), (0.7, 1, 5), (2.0, 5, 5), (2.0, 6, 5)],
    ids=["constant hazard", "falling hazard", "as dear as a failure", "dearer than a failure"],
)
def test_no_finite_age(shape, planned, failure) -> None:
    assert np.isnan(renewal.optimal_age(shape, 100, planned, failure))


def test_one_cost_hardly_below_the_other_puts_the_age_far_out() -> None:
    ages = renewal.optimal_age(2.0, 100, [1, 4, 4.9, 4.999], 5)
    assert (np.diff(ages) > 0).all()
    assert ages[-1] > 1000


def test_many_at_once_are_each_alone() -> None:
    shapes, scales = np.array([1.2, 2.5, 4.0]), np.array([10.0, 1000.0, 5.0])
    together = renewal.optimal_age(shapes, scales, 1, 5)
    alone = [float(renewal.optimal_age(b, eta, 1, 5)) for b, eta in zip(shapes, scales, strict=True)]
    assert together.tolist() == pytest.approx(alone)
    assert renewal.optimal_age(np.ones((2, 3)) * 2, 10, 1, 5).shape == (2, 3)
    assert renewal.optimal_age(2.0, 10, 1, 5).shape == ()


def test_the_general_age_is_that_of_weibull_lives() -> None:
    def survival(age: float) -> float:
        return float(np.exp(-((age / 1000) ** 2.5)))

    def density(age: float) -> float:
        return 2.5 / 1000 * (age / 1000) ** 1.5 * survival(age)

    best = renewal.optimal_age_of(survival, density, 3000, 1, 5)
    assert best == pytest.approx(float(renewal.optimal_age(2.5, 1000, 1, 5)), rel=1e-9)
    assert renewal.optimal_age_of(lambda t: np.exp(-t), lambda t: np.exp(-t), 50, 1, 5) is None


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((0, 100, 1, 5), "shape"),
        ((2, -1, 1, 5), "scale"),
        ((2, 100, 0, 5), "planned"),
        ((2, 100, 1, np.inf), "failure"),
    ],
)
def test_refusals(arguments, name) -> None:
    with pytest.raises(FleetlensError) as caught:
        renewal.optimal_age(*arguments)
    assert str(caught.value) == f"'{name}' must be above 0\n  try: give ages, costs and Weibull parameters above 0"
