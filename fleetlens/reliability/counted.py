"""What was counted, and over what it was counted: checked once for all rates and shares."""

import numpy as np
import numpy.typing as npt
from scipy.special import betaincinv, chdtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import FloatArray

__all__ = ["exact_share", "exposures", "garwood", "share_of", "whole"]


def whole(values: npt.ArrayLike, name: str) -> FloatArray:
    """`values` as whole numbers of things counted, at least one axis; raises FleetlensError where they aren't."""
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if not (np.isfinite(array).all() and (array >= 0).all() and (array == np.rint(array)).all()):
        raise FleetlensError(f"{name!r} must be counts: whole numbers from 0", do="count, don't weight")
    return array


def exposures(values: npt.ArrayLike) -> FloatArray:
    """`values` as km, hours or numbers under observation; raises FleetlensError where one is missing or below 0."""
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if not (np.isfinite(array).all() and (array >= 0).all()):
        raise FleetlensError("an exposure is missing or below 0", do="give km (or hours) that were observed")
    return array


def share_of(part: npt.ArrayLike, of: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Counts of a share and the share itself, NaN where there is nothing to share."""
    count, total = np.broadcast_arrays(whole(part, "successes"), whole(of, "trials"))
    if (count > total).any():
        raise FleetlensError("a share has more successes than trials", do="check which count is which")
    return count, total, np.divide(count, total, out=np.full(count.shape, np.nan), where=total > 0)


def garwood(count: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Exact limits of the mean of a Poisson count; 0 below a count of 0."""
    tail = (1 - level) / 2
    low = np.where(count > 0, chdtri(2 * np.maximum(count, 1), 1 - tail) / 2, 0.0)
    return low, np.asarray(chdtri(2 * count + 2, tail) / 2)


def exact_share(count: FloatArray, total: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Clopper-Pearson limits of a share; 0 and 1 without trials."""
    tail = (1 - level) / 2
    low = np.where(count > 0, betaincinv(np.maximum(count, 1), total - count + 1, tail), 0.0)
    high = np.where(count < total, betaincinv(count + 1, np.maximum(total - count, 1), 1 - tail), 1.0)
    return low, high
