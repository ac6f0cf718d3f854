"""Renewal ages against published examples and closed forms; sources and bases in values/renewal.toml."""

import numpy as np
import pytest
from scipy.special import gamma

from fleetlens.reliability import renewal


@pytest.mark.parametrize("name", ["age_replacement_weibull_2_5", "age_replacement_weibull_3"])
def test_age_replacement(name, reference) -> None:
    """The first's answer, 493.0, is from memory; both were solved to 24 digits."""
    check = reference(name)
    shape, scale, planned, failure = (check.inputs[key] for key in ("shape", "scale", "planned", "failure"))
    best = renewal.optimal_age(shape, scale, planned, failure)
    rate = renewal.cost_rate(best, shape, scale, planned, failure)
    never = renewal.run_to_failure_rate(shape, scale, failure)
    hazard = shape / scale * (best / scale) ** (shape - 1)
    check.holds(
        {
            "T_opt": float(best),
            "cost_rate": float(rate),
            "cost_rate_run_to_failure": float(never),
            "saving_share": float(1 - rate / never),
            "mean_life": float(failure / never),
            "R_at_T": float(np.exp(-((best / scale) ** shape))),
            "identity_Cf_minus_Cp_times_hazard": float((failure - planned) * hazard),
        }
    )


def test_uniform_lives(reference) -> None:
    """Jardine & Tsang, chapter 2, problem 2: printed costs read; the optimum is 40,000 (sqrt 3 - 1)."""

    def survival(km: float) -> float:
        return 1 - km / 40_000

    best = renewal.optimal_age_of(survival, lambda _: 1 / 40_000, 40_000, 100, 200)
    assert best is not None
    ours = {f"C_{km}": renewal.cost_rate_of(km, survival, 100, 200) for km in (10_000, 20_000, 30_000, 40_000)}
    rate = renewal.cost_rate_of(best, survival, 100, 200)
    reference("age_replacement_uniform_km").holds(ours | {"T_opt": best, "cost_rate": rate})


@pytest.mark.parametrize("name", ["age_replacement_never_exponential", "age_replacement_never_decreasing"])
def test_no_finite_age_without_a_rising_hazard(name, reference) -> None:
    """Barlow & Hunter 1960, from memory; the cost falls with age towards failure cost over mean life."""
    check = reference(name)
    shape, scale, planned, failure = (check.values[key] for key in ("beta", "eta", "Cp", "Cf"))
    limit = renewal.run_to_failure_rate(shape, scale, failure)
    ours = {
        "cost_rate_limit": float(limit),
        "C_500": float(renewal.cost_rate(500, shape, scale, planned, failure)),
    }
    check.holds(ours, not_ours=frozenset({"beta", "eta", "Cp", "Cf"}))
    assert np.isnan(renewal.optimal_age(shape, scale, planned, failure))
    falling = renewal.cost_rate(np.geomspace(1, 20_000, 200), shape, scale, planned, failure)
    assert (np.diff(falling) < 0).all()
    assert falling[-1] == pytest.approx(limit, rel=1e-4)


@pytest.mark.parametrize("name", ["minimal_repair_1", "minimal_repair_2", "minimal_repair_3"])
def test_minimal_repair(name, reference) -> None:
    """Barlow & Hunter 1960: closed form from memory, minimised numerically as well."""
    check = reference(name)
    shape, scale, planned, repair = (check.values[key] for key in ("beta", "eta", "Cp", "Cm"))
    best = renewal.minimal_repair_age(shape, scale, planned, repair)
    ours = {
        "T_opt": float(best),
        "cost_rate": float(renewal.minimal_repair_cost_rate(best, shape, scale, planned, repair)),
    }
    check.holds(ours, not_ours=frozenset({"beta", "eta", "Cp", "Cm"}))


def test_the_planned_and_the_failure_cost_are_not_exchanged() -> None:
    """One library has them the other way round (1,618.6 for these inputs where 446.66 is right)."""
    assert float(renewal.minimal_repair_age(2.5, 1000, 1, 5)) == pytest.approx(446.66, abs=0.005)
    assert float(renewal.minimal_repair_age(2.5, 1000, 5, 1)) == pytest.approx(1000 * (5 / 1.5) ** 0.4, rel=1e-12)
    assert float(renewal.run_to_failure_rate(2.5, 1000, 5)) == pytest.approx(5 / (1000 * gamma(1.4)), rel=1e-12)
