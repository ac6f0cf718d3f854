"""Lines through measured values: against scipy's robust least squares, a plain sandwich, and their invariances."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.stats import t

from fleetlens.errors import FleetlensError
from fleetlens.reliability.drift import FEWEST_UNITS, lines

FIGURES = ["slope", "slope_low", "slope_high", "at_zero", "at_zero_low", "at_zero_high"]


def points(seed: int, units: int = 25, wild: int = 4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Values that fall with distance, several on each unit, with a few wild ones."""
    chance = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), chance.integers(1, 5, units))
    x = chance.uniform(0, 50_000, len(unit))
    y = 3 + 1.2e-4 * x + chance.normal(0, 0.4, units)[unit] + chance.normal(0, 0.3, len(unit))
    y[:wild] += 40
    return x, y, unit


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_that_of_scipys_huber_loss(seed: int) -> None:
    """Outside check: scipy.optimize.least_squares with loss="huber" at the scale that the line itself leaves."""
    x, y, unit = points(seed)
    row = lines(x, y, unit).row(0, named=True)
    left = y - row["at_zero"] - row["slope"] * x
    scale = 1.4826 * np.median(np.abs(left - np.median(left)))
    found = least_squares(
        lambda beta: y - beta[0] - beta[1] * x / 1e4, [0.0, 0.0], loss="huber", f_scale=1.345 * scale, xtol=1e-14
    ).x
    assert (row["at_zero"], row["slope"] * 1e4) == pytest.approx(tuple(found), rel=1e-5)


def test_the_limits_are_a_sandwich_over_units_on_students_t() -> None:
    x, y, unit = points(1, wild=0)
    row = lines(x, y, unit).row(0, named=True)
    left = y - row["at_zero"] - row["slope"] * x
    scale = 1.4826 * np.median(np.abs(left - np.median(left)))
    cut = 1.345 * scale
    bread = np.zeros((2, 2))
    meat = np.zeros((2, 2))
    for place in range(len(x)):
        if abs(left[place]) <= cut:
            bread += np.outer([1, x[place]], [1, x[place]])
    for one in set(unit):
        score = sum(
            np.array([1, x[place]]) * np.clip(left[place], -cut, cut) for place in range(len(x)) if unit[place] == one
        )
        meat += np.outer(score, score)
    units, n = len(set(unit)), len(x)
    inverse = np.linalg.inv(bread)
    variance = units / (units - 1) * (n - 1) / (n - 2) * inverse @ meat @ inverse
    reach = t.ppf(0.975, units - 2) * np.sqrt(np.diag(variance))
    assert row["slope_high"] - row["slope"] == pytest.approx(reach[1], rel=1e-6)
    assert row["at_zero"] - row["at_zero_low"] == pytest.approx(reach[0], rel=1e-6)


def test_wild_readings_hardly_pull() -> None:
    clean, wild = (lines(*points(3, wild=count)).row(0, named=True) for count in (0, 4))
    assert wild["slope"] == pytest.approx(clean["slope"], rel=0.1)
    least = np.polyfit(*points(3, wild=4)[:2], 1)[0]
    assert abs(least - clean["slope"]) > 5 * abs(wild["slope"] - clean["slope"])


@given(st.integers(0, 50), st.floats(0.1, 1000), st.floats(0.1, 100), st.floats(-10, 10))
def test_units_of_measurement_do_not_matter(seed: int, times_x: float, times_y: float, plus: float) -> None:
    x, y, unit = points(seed)
    here, there = lines(x, y, unit).row(0, named=True), lines(x * times_x, y * times_y + plus, unit).row(0, named=True)
    for name in FIGURES[:3]:
        assert there[name] == pytest.approx(here[name] * times_y / times_x, rel=1e-5, abs=1e-9 * times_y / times_x)
    for name in FIGURES[3:]:
        assert there[name] == pytest.approx(here[name] * times_y + plus, rel=1e-5, abs=1e-6 * times_y)


def test_groups_and_order_do_not_matter() -> None:
    first, second = points(7), points(8)
    x, y, unit = (np.concatenate([a, b]) for a, b in zip(first, second, strict=True))
    group = np.repeat([0, 2], [len(first[0]), len(second[0])])
    order = np.random.default_rng(1).permutation(len(x))
    both = lines(x[order], y[order], unit[order], group[order], n_groups=3)
    for number, alone in ((0, first), (2, second)):
        mine = lines(*alone)
        assert both.select(FIGURES).row(number) == pytest.approx(mine.select(FIGURES).row(0), rel=1e-8)
    assert both.row(1) == (1, 0, 0, *[None] * 6)


def test_coverage_of_the_slope() -> None:
    """400 seeded sets of dependent points: the 95 % limits hold the true slope as often as they say."""
    rows = [lines(*points(seed, units=30, wild=1)).row(0, named=True) for seed in range(400)]
    held = sum(row["slope_low"] <= 1.2e-4 <= row["slope_high"] for row in rows) / len(rows)
    assert held == pytest.approx(0.95, abs=0.025)


@pytest.mark.parametrize(
    ("x", "unit"),
    [
        ([], []),
        ([1, 2, 3], ["a", "b", "c"]),  # too few units
        ([5, 5, 5, 5], [1, 2, 3, 4]),  # one distance
        ([1, 2, 3, 4, 5, 6], [1, 1, 2, 2, 3, 3]),
    ],
)
def test_too_little_gives_no_line(x: list[float], unit: list[object]) -> None:
    row = lines(x, [float(n) for n in range(len(x))], unit).row(0, named=True)
    assert (row["points"], row["units"]) == (len(x), len(set(unit)))
    assert all(row[name] is None for name in FIGURES)
    assert row["units"] < FEWEST_UNITS or len(set(x)) == 1


def test_points_on_a_line_have_no_spread() -> None:
    row = lines([1, 2, 3, 4, 5], [3, 5, 7, 9, 11], [1, 2, 3, 4, 5]).row(0, named=True)
    assert [row[name] for name in FIGURES] == pytest.approx([2, 2, 2, 1, 1, 1])


def test_points_without_a_unit_each_are_refused() -> None:
    with pytest.raises(FleetlensError, match="'unit'"):
        lines([1, 2], [1, 2], [1])
