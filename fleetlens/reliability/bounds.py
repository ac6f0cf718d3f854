"""How long it lasts at least, when none or few have failed."""

from math import log, log1p

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import chdtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, check

__all__ = ["lives_needed", "zero_failure"]


def zero_failure(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    *,
    shape: npt.ArrayLike,
    share: float = 0.10,
    level: float = 0.95,
    n_groups: int | None = None,
) -> pl.DataFrame:
    """Lower limits of life for an assumed Weibull shape, a row per group, with no failures or few.

    Columns: group, lives, failures, shape, scale, scale_low, life, life_low: characteristic life and age by which
    `share` have failed, in the unit of the ages. Limits are one-sided: the true life is longer with `level` certainty
    if the shape is right. The estimates are null without failures, all of them without lives. `entry` as for
    `weibull.fit`; `shape`: one for all or one a group. The answer is no better than the shape: ask for several.
    Raises FleetlensError as `weibull.fit` does, and for shares and levels outside 0 to 1.

    The failures are taken as Poisson given the time at risk on the scale age^shape; exact without failures and where
    observation stops at a time, and on the safe side of what a fixed number of failures gives. Nelson 1985, J. Quality
    Technology 17, 140-146.
    """
    lives = check(end, failed, entry, group, n_groups)
    powers = np.asarray(shape, dtype=np.float64)
    if powers.shape not in ((), (lives.n_groups,)) or not (np.isfinite(powers) & (powers > 0)).all():
        raise FleetlensError("a shape must be a number above 0, one for all or one a group", do="2 is a usual one")
    if (lives.end <= 0).any():
        raise FleetlensError("a life has an age of 0 or less", do="leave it out")
    each = np.broadcast_to(powers, (lives.n_groups,))
    largest = lives.bounds()[1]
    own = each[lives.group]
    ages = [np.maximum(age, 0.0) / largest[lives.group] for age in (lives.end, lives.entry)]
    total = np.bincount(lives.group, ages[0] ** own - ages[1] ** own, minlength=lives.n_groups)
    failures = lives.totals(lives.failed)
    known = total > 0
    total = np.where(known, total, np.nan)
    with np.errstate(divide="ignore"):
        scale = (total / np.where(failures > 0, failures, np.nan)) ** (1 / each) * largest
    scale_low = (2 * total / chdtri(2 * failures + 2, 1 - _share(level))) ** (1 / each) * np.where(known, largest, 1.0)
    factor = (-log1p(-_share(share))) ** (1 / each)
    return pl.DataFrame(
        {
            "group": np.arange(lives.n_groups),
            "lives": lives.totals(),
            "failures": failures,
            "shape": each,
            "scale": nullable(scale),
            "scale_low": nullable(scale_low),
            "life": nullable(scale * factor),
            "life_low": nullable(scale_low * factor),
        }
    )


def lives_needed(
    life: npt.ArrayLike, age: npt.ArrayLike, shape: npt.ArrayLike, share: float = 0.10, level: float = 0.95
) -> FloatArray:
    """How many lives must reach `age` without a failure to show that `share` fail no sooner than `life`.

    Whole numbers, at least 1, as one array over all three, ages in one unit. Raises FleetlensError for numbers that
    aren't above 0. The bound of `zero_failure`, solved for the lives; Nelson 1985, as there.
    """
    given = [np.asarray(values, dtype=np.float64) for values in (life, age, shape)]
    if not all((np.isfinite(values) & (values > 0)).all() for values in given):
        raise FleetlensError("life, age and shape must be numbers above 0", do="give ages in one unit")
    wanted, reached, power = given
    one = -log1p(-_share(share)) * (reached / wanted) ** power
    # A number of lives that is whole but for rounding is that number.
    return np.maximum(1.0, np.ceil(-log(1 - _share(level)) / one - 1e-9))


def _share(value: float) -> float:
    if not 0 < value < 1:
        raise FleetlensError(f"a share or level lies between 0 and 1, not {value:g}", do="0.10 asks for B10")
    return value
