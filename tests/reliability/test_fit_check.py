"""Does one Weibull describe the lives: sums life by life, calibration, power, edges."""

import numpy as np
import polars as pl
import pytest

from fleetlens.reliability.fit_check import DESCRIBES, FEWEST, UNLIKE, fit_check, plot_points
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.reliability.weibull import fit


def draw(seed, groups, lives, shape=1.8, early=0.0):
    """Lives with late entry and censoring; a share of `early` ones fails at a fifth of the age."""
    chance = np.random.default_rng(seed)
    group = np.repeat(np.arange(groups), lives)
    entry = chance.uniform(0, 0.8, len(group)) * (chance.random(len(group)) < 0.4)
    life = (entry**shape + chance.exponential(size=len(group))) ** (1 / shape)
    life = np.where(chance.random(len(group)) < early, np.maximum(entry, 0) + 0.2 * (life - entry), life)
    end = np.minimum(life, entry + chance.uniform(0.1, 1.3, len(group)))
    return end, end == life, entry, group


def test_expected_failures_are_summed_over_the_lives() -> None:
    end, failed, entry, group = draw(1, 2, 60)
    fitted = fit(end, failed, entry, group=group)
    result = fit_check(fitted)
    for number in range(2):
        mine = group == number
        shape, scale = fitted.rows.select("shape", "scale").row(number)
        stretches = result.stretches.filter(pl.col("group") == number)
        for since, until, observed, expected in stretches.select("since", "until", "observed", "expected").rows():
            last = until == end[mine].max()
            low, high = np.maximum(entry[mine], since), np.minimum(end[mine], np.inf if last else until)
            hazard = np.where(high > low, (high / scale) ** shape - (low / scale) ** shape, 0.0).sum()
            assert expected == pytest.approx(hazard, abs=1e-6)
            assert observed == (failed[mine] & (end[mine] > since) & (end[mine] <= until)).sum()
        assert stretches["observed"].sum() == failed[mine].sum()
        # At the maximum as many failures are expected as were seen, in stretches of equal size.
        assert stretches["expected"].to_numpy() == pytest.approx(
            np.full(len(stretches), failed[mine].sum() / len(stretches)), rel=1e-5
        )


def test_the_statistic_is_the_quadratic_form() -> None:
    """Covariance by summing slopes of the log hazard over a fine grid of ages, and a pseudo-inverse."""
    end, failed, entry, group = draw(2, 1, 150)
    fitted = fit(end, failed, entry, group=group)
    result = fit_check(fitted)
    (shape, scale), row = fitted.rows.select("shape", "scale").row(0), result.rows.row(0, named=True)
    grid = np.linspace(0, end.max(), 40_001)
    middle = (grid[1:] + grid[:-1]) / 2
    at_risk = ((entry[:, None] < middle) & (middle <= end[:, None])).sum(axis=0)
    hazard = at_risk * np.diff((grid / scale) ** shape)
    psi = np.array([np.full(len(middle), -shape), 1 + shape * np.log(middle / scale)])
    stretch = np.searchsorted(result.stretches["until"].to_numpy()[:-1], middle)
    many = len(result.stretches)
    c = np.array([[(p * hazard)[stretch == j].sum() for p in psi] for j in range(many)])
    covariance = np.diag(np.bincount(stretch, hazard, minlength=many)) - c @ np.linalg.inv((psi * hazard) @ psi.T) @ c.T
    excess = (result.stretches["observed"] - result.stretches["expected"]).to_numpy()
    assert row["chi_squared"] == pytest.approx(excess @ np.linalg.pinv(covariance, rcond=1e-3) @ excess, rel=0.02)
    assert (row["degrees"], row["stretches"]) == (many - 1, many)


@pytest.mark.parametrize("lives", [40, 300])
def test_it_is_quiet_when_one_weibull_describes_the_lives(lives) -> None:
    end, failed, entry, group = draw(3, 1000, lives)
    p = fit_check(fit(end, failed, entry, group=group)).rows["p"].drop_nulls()
    for level in (0.05, 0.5):
        assert (p < level).mean() == pytest.approx(level, abs=4 * np.sqrt(level * (1 - level) / 1000))


def test_it_speaks_up_when_early_failures_are_mixed_in() -> None:
    end, failed, entry, group = draw(4, 100, 400, shape=3.0, early=0.3)
    rows = fit_check(fit(end, failed, entry, group=group)).rows
    assert (rows["p"] < 0.05).mean() > 0.9
    assert set(rows["reading"]) <= {DESCRIBES, UNLIKE}


def test_edges() -> None:
    """Few failures, none, a shape that was given: no test. Failures all at two ages, and no lives: no crash."""
    end, failed, entry, group = draw(5, 1, 12)
    assert failed.sum() < FEWEST
    rows = fit_check(fit(end, failed, entry, group=group, n_groups=2)).rows
    assert rows["p"].to_list() == rows["reading"].to_list() == [None, None]
    assert rows["failures"].to_list() == [failed.sum(), 0]
    many = draw(6, 1, 100)
    assert fit_check(fit(*many[:3], shape=2.0)).rows["p"].to_list() == [None]
    two = fit_check(fit([3.0] * 10 + [4.0] * 10 + [5.0] * 5, [1] * 20 + [0] * 5)).rows
    assert two["p"].item() < 0.05
    assert fit_check(fit([], [])).stretches.is_empty()


def test_the_unit_does_not_matter() -> None:
    end, failed, entry, group = draw(7, 3, 100)
    here = fit_check(fit(end, failed, entry, group=group)).rows
    there = fit_check(fit(end * 1e5, failed, entry * 1e5, group=group)).rows
    assert here["chi_squared"].to_numpy() == pytest.approx(there["chi_squared"].to_numpy(), rel=1e-5)


def test_plot_points() -> None:
    """Half way up each step of Kaplan-Meier; the line goes through the fitted curve."""
    end, failed, entry, group = draw(8, 2, 50)
    fitted = fit(end, failed, entry, group=group)
    points = plot_points(fitted)
    steps = kaplan_meier(end, failed, entry, group).steps
    assert points.select("group", "time").equals(steps.select("group", "time"))
    first = points.row(0, named=True)
    assert first["share"] == pytest.approx((1 - steps["survival"][0]) / 2)
    shape, scale = fitted.rows.select("shape", "scale").row(1)
    last = points.row(-1, named=True)
    assert last["fitted"] == pytest.approx(shape * np.log(last["time"] / scale))
    assert last["share"] == pytest.approx(1 - np.exp(-np.exp(last["y"])))
    assert plot_points(fit([3.0, 4.0], [1, 0]))["fitted"].to_list() == [None]
    # Found at an inspection: in the middle of its interval.
    assert plot_points(fit([4.0, 9.0], [1, 1], lower=[2.0, np.nan]))["time"].to_list() == [3.0, 9.0]
