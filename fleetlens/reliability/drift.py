"""How a measured value moves with distance: a straight line that single wild readings don't pull, with limits."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import stdtrit

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, IntArray, floats, groups

__all__ = ["FEWEST_UNITS", "lines"]

FEWEST_UNITS = 4
_HUBER = 1.345  # of standard deviations: 95 % of the efficiency of least squares where the spread is normal
_TO_NORMAL = 1.4826  # standard deviations in a median absolute deviation of the normal distribution
_ROUNDS, _ENOUGH = 60, 1e-10


def lines(
    x: npt.ArrayLike,
    y: npt.ArrayLike,
    unit: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
) -> pl.DataFrame:
    """A line y = at_zero + slope x for each group, a row each.

    Columns: group, points, units, slope, slope_low, slope_high, at_zero, at_zero_low, at_zero_high. `unit`: points of
    one unit (a vehicle) may depend on each other, so limits come from the spread between units, on Student's t with
    units - 2 degrees. Null where a group has fewer than FEWEST_UNITS units or no two different x.
    Raises FleetlensError for arrays that don't match and missing numbers.

    Huber's M-estimate by reweighted least squares, scale by the median absolute deviation: Huber 1964, Ann. Math. Stat.
    35, 73-101. Limits: sandwich over units, with the correction units / (units - 1) x (points - 1) / (points - 2):
    Liang & Zeger 1986, Biometrika 73, 13-22; Cameron & Miller 2015, J. Human Resources 50, 317-372.
    """
    across = floats(x, "x")
    up = floats(y, "y", len(across))
    numbers, count = groups(group, n_groups, len(across))
    owner = np.unique(np.asarray(unit), return_inverse=True)[1] if len(across) else np.empty(0, dtype=np.int64)
    if owner.shape != across.shape:
        raise FleetlensError(f"'unit' has the shape {owner.shape}, not {across.shape}", do="give one unit a point")
    order = np.argsort(numbers, kind="stable")
    bounds = np.searchsorted(numbers[order], np.arange(count + 1))
    found = np.full((count, 6), np.nan)
    units = np.zeros(count, dtype=np.int64)
    for each in range(count):
        mine = order[bounds[each] : bounds[each + 1]]
        units[each] = len(np.unique(owner[mine]))
        if units[each] >= FEWEST_UNITS and np.ptp(across[mine]) > 0:
            found[each] = _line(across[mine], up[mine], owner[mine], level)
    names = ("slope", "slope_low", "slope_high", "at_zero", "at_zero_low", "at_zero_high")
    return pl.DataFrame(
        {
            "group": np.arange(count),
            "points": np.diff(bounds),
            "units": units,
            **{name: nullable(found[:, place]) for place, name in enumerate(names)},
        }
    )


def _line(x: FloatArray, y: FloatArray, unit: IntArray, level: float) -> tuple[float, ...]:
    """Slope and value at 0 with their limits."""
    scale_x = float(np.abs(x).max())
    design = np.column_stack([np.ones(len(x)), x / scale_x])
    weight = np.ones(len(y))
    beta = np.zeros(2)
    spread = 0.0
    for _ in range(_ROUNDS):
        before = beta
        beta = np.linalg.lstsq(design * np.sqrt(weight)[:, None], y * np.sqrt(weight), rcond=None)[0]
        left = y - design @ beta
        spread = float(np.median(np.abs(left - np.median(left)))) * _TO_NORMAL
        if spread <= 0 or np.abs(beta - before).max() <= _ENOUGH * (np.abs(beta).max() + spread):
            break
        weight = np.minimum(1.0, _HUBER * spread / np.maximum(np.abs(left), 1e-300))
    left = y - design @ beta
    bend = left if spread <= 0 else np.clip(left, -_HUBER * spread, _HUBER * spread)
    middle = design[np.abs(left) == np.abs(bend)]
    if np.ptp(middle[:, 1]) <= 0:  # all but wild readings stand at one x: nothing tells a slope
        return (np.nan,) * 6
    bread = np.linalg.inv(middle.T @ middle)
    _, place = np.unique(unit, return_inverse=True)
    scores = np.zeros((int(place.max()) + 1, 2))
    np.add.at(scores, place, design * bend[:, None])
    n, m = len(y), len(scores)
    factor = m / (m - 1) * (n - 1) / (n - 2)
    covariance = factor * bread @ (scores.T @ scores) @ bread
    reach = stdtrit(m - 2, 0.5 + level / 2) * np.sqrt(np.diag(covariance))
    at, slope = beta[0], beta[1] / scale_x
    wide = reach[1] / scale_x
    return slope, slope - wide, slope + wide, at, at - reach[0], at + reach[0]
