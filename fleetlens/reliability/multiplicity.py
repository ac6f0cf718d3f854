"""Many questions at once: how often what looks unusual is chance."""

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable

__all__ = ["false_discovery"]


def false_discovery(p: npt.ArrayLike) -> pl.Series:
    """The false discovery rate at which each p-value of one screen would just be called a finding.

    Calling all with q <= 0.05 findings lets at most 5 % of them be chance, on average, for independent tests and for
    those that lean the same way. A missing p stays missing and isn't counted as a test.
    Raises FleetlensError for a p outside 0 to 1. Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57, 289-300.
    """
    given = np.atleast_1d(np.asarray(p, dtype=np.float64))
    asked = np.flatnonzero(~np.isnan(given))
    values = given[asked]
    if len(values) and not (values.min() >= 0 and values.max() <= 1):
        raise FleetlensError("a p-value lies outside 0 to 1", do="give probabilities")
    order = np.argsort(values)[::-1]
    ranks = np.arange(len(values), 0, -1)
    found = np.full(len(given), np.nan)
    found[asked[order]] = np.minimum.accumulate(np.minimum(1.0, values[order] * len(values) / ranks))
    return nullable(found)
