"""Totals per unit of exposure, such as cost per km, with limits from how much the vehicles differ."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import stdtrit

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable

__all__ = ["ratio_of_totals"]


def ratio_of_totals(
    units: npt.ArrayLike,
    total: npt.ArrayLike,
    exposure: npt.ArrayLike,
    *,
    total_squared: npt.ArrayLike,
    exposure_squared: npt.ArrayLike,
    product: npt.ArrayLike,
    level: float = 0.95,
) -> pl.DataFrame:
    """Sum of y over sum of x of so many units, row by row: ratio, low, high.

    Given are sums over the units, which a database can add up: of y (`total`), x (`exposure`), y squared, x squared and
    y times x. Units are independent of each other, what happens within one need not be: the variance is that of the
    residuals y - ratio x between units. Limits on the log scale, with Student's t for the number of units less one.
    ratio is null without exposure; limits also for fewer than two units, and where the ratio isn't above 0. Few units
    with very unequal y make them too narrow.
    Raises FleetlensError for an exposure below 0.

    Cochran 1977, Sampling Techniques, chapter 6 (ratio estimate); log scale by the delta method.
    """
    n, y, x, yy, xx, yx = (
        np.atleast_1d(np.asarray(values, dtype=np.float64))
        for values in (units, total, exposure, total_squared, exposure_squared, product)
    )
    if (x < 0).any():
        raise FleetlensError("an exposure is below 0", do="give km that were observed")
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(x > 0, y / x, np.nan)
        residual = np.maximum(yy - 2 * ratio * yx + ratio**2 * xx, 0.0)
        spread = np.sqrt(residual * n / (n - 1)) / x / ratio
        known = (n > 1) & (ratio > 0)
        reach = np.exp(np.where(known, stdtrit(np.maximum(n - 1, 1), 0.5 + level / 2) * spread, np.nan))
        columns = {"ratio": ratio, "low": ratio / reach, "high": ratio * reach}
    return pl.DataFrame({name: nullable(values) for name, values in columns.items()})
