"""What each cleaning interval would cost in the long run."""

from collections.abc import Sequence
from typing import Unpack

import numpy as np
import polars as pl

from fleetlens.advice.fitted import PER_KM, Options, fitted
from fleetlens.findings.finding import Finding
from fleetlens.reliability.renewal import cost_rate
from fleetlens.store.reader import Snapshot

__all__ = ["cost_curves"]

SHOWN = 4  # of the cost curve, what costs at most so many times the least
METHOD = (
    "Long-run cost per km of renewing at failure or at the interval T, whichever is first: (Cp R(T) + Cf F(T)) / "
    "integral of R from 0 to T (Barlow & Hunter 1960), on the group's Weibull fit."
)


def cost_curves(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    points: int = 120,
    **options: Unpack[Options],
) -> Finding:
    """Long-run cost per 1,000 km against the interval, for each fitted group, until 95 % have failed.

    Intervals so short that they cost more than four times the least are left out. `options` as fitted has them.
    """
    case = fitted(snapshot, component, by, **options)
    able = np.flatnonzero(~np.isnan(case.shape + case.planned + case.failure))
    shape, scale, planned, failure = (each[able, None] for each in (case.shape, case.scale, case.planned, case.failure))
    ages = scale * (-np.log(0.05)) ** (1 / shape) * np.linspace(1 / points, 1, points)[None, :]
    cost = cost_rate(ages, shape, scale, planned, failure) * PER_KM
    groups = case.table.groups[able.tolist()]
    rows = pl.concat(
        [
            groups.select(pl.all().repeat_by(points).explode()) if groups.height else groups,
            pl.DataFrame({"km": ages.ravel(), "cost_per_1000km": cost.ravel()}),
        ],
        how="horizontal",
    )
    # Cleaning after next to no distance costs without bound; a chart of that hides where the cost is least.
    least = pl.col("cost_per_1000km").min().over("component", *case.keys)
    return case.finding(
        snapshot, "cost of an interval", rows.filter(pl.col("cost_per_1000km") <= least * SHOWN), METHOD
    )
