"""Do two things come together more often than chance? Lift with its limits."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counted import exact_share, whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.hypergeometric import chance_tails

__all__ = ["lift"]


def lift(
    both: npt.ArrayLike, first: npt.ArrayLike, second: npt.ArrayLike, total: npt.ArrayLike, level: float = 0.95
) -> pl.DataFrame:
    """How many times as often two things come together as they would by chance, row by row: lift, low, high, p.

    Of `total` units (vehicles, episodes) `first` have the one, `second` the other and `both` both; lift = both x total
    / (first x second). p is exact given the margins: twice the smaller tail, so limits and p can part ways near 5 %.
    Where none has both, lift and low are 0 and high comes from the exact limit of a share of 0 in the smaller margin.
    Nothing is known where one of the two never occurs (all null).
    Raises FleetlensError for counts that aren't, and for tables that can't be.

    Limits: delta method on the log under multinomial sampling, whose variance 1/both - 1/first - 1/second +
    (2 lift - 1)/total is the common 1/both - 1/first - 1/second + 1/total only where lift is 1. p: Fisher 1935,
    J. R. Stat. Soc. 98, 39-82.
    """
    names = ("both", "first", "second", "total")
    a, n1, n2, n = np.broadcast_arrays(*map(whole, (both, first, second, total), names))
    if ((a > np.minimum(n1, n2)) | (n1 + n2 - a > n)).any():
        raise FleetlensError("a count of both doesn't fit its margins", do="count all four over the same units")
    known = (n1 > 0) & (n2 > 0)
    a, n1, n2, n = (np.where(known, values, 1.0) for values in (a, n1, n2, n))
    ratio = a * n / (n1 * n2)
    variance = 1 / np.maximum(a, 1) - 1 / n1 - 1 / n2 + (2 * ratio - 1) / n
    widen = np.exp(ndtri(0.5 + level / 2) * np.sqrt(np.maximum(variance, 0.0)))
    smaller, larger = np.minimum(n1, n2), np.maximum(n1, n2)
    none = exact_share(np.zeros(len(a)), smaller, level)[1] * n / larger
    # Nothing can come together more often than always.
    high = np.minimum(np.where(a > 0, ratio * widen, none), n / larger)
    small, large = chance_tails(a, n1, n2, n)
    columns = {"lift": ratio, "low": ratio / widen, "high": high, "p": np.minimum(1.0, 2 * np.minimum(small, large))}
    return pl.DataFrame({name: nullable(np.where(known, values, np.nan)) for name, values in columns.items()})
