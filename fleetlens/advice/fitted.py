"""What one schedule for each group is reckoned from: its lives and their fit, and what a renewal and a failure cost."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np
import polars as pl

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.costs import Costs, Given, costs, preferences_of
from fleetlens.advice.draws import FloatArray
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.reliability import weibull
from fleetlens.reliability.fit_check import UNLIKE, fit_check
from fleetlens.store.preferences import Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["PER_KM", "Fitted", "Options", "cleaned_only", "doubts", "fitted", "known", "where_known"]

PER_KM = 1_000


class Options(TypedDict, total=False):
    """How lives and prices are taken; see `fitted`."""

    filters: Filters
    unknown_start: str
    preferences: Preferences | None
    given: Given


@dataclass(frozen=True, slots=True)
class Fitted:
    """One entry a group throughout, in the order of `table.groups`; NaN where there is no fit or no price.

    `doubts`: that one Weibull doesn't describe a group's lives; "" where nothing speaks against it.
    """

    table: LifeTable
    keys: list[str]
    fit: pl.DataFrame
    doubts: list[str]
    shape: FloatArray
    scale: FloatArray
    planned: FloatArray
    failure: FloatArray
    costs: Costs
    preferences: Preferences
    filters: Filters

    def covariance(self) -> list[FloatArray]:
        """Variances of the log shape and the log scale, and their covariance."""
        return [self.fit[name].fill_null(np.nan).to_numpy() for name in ("var_log_shape", "var_log_scale", "cov_log")]

    def finding(
        self,
        snapshot: Snapshot,
        question: str,
        rows: pl.DataFrame,
        method: str,
        *,
        assumed: tuple[str, ...] = (),
        notes: tuple[str, ...] = (),
    ) -> Finding:
        """The rows with all that stands behind them, and the cautions."""
        return answer(
            snapshot,
            self.table,
            self.filters,
            question=question,
            rows=rows,
            method=method,
            assumed=(*self.costs.sentences("planned", "failure"), *assumed),
            notes=notes,
            cautions=CAUTIONS,
        )


def fitted(
    snapshot: Snapshot,
    component: str | None,
    by: Sequence[str],
    *,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
    preferences: Preferences | None = None,
    given: Given = Given(),  # noqa: B008 - frozen
) -> Fitted:
    """The lives of a component (None: of those that the record has seen cleaned) by group, fitted and priced.

    Prices are those `given`, else those of `preferences` (None: the store's own), else learned from the jobs.
    Raises FleetlensError as life_table and preferences.read do, and for a key of `by` outside LIFE_KEYS.
    """
    keys = chosen(by, LIFE_KEYS)
    preferences = preferences_of(snapshot) if preferences is None else preferences
    filters = cleaned_only(snapshot, component, filters)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    fit = table.weibull()
    prices = costs(snapshot, table.groups["component"].unique().sort().to_list(), filters, preferences, given)
    priced = table.groups.select("component").join(prices.rows, on="component", how="left", maintain_order="left")
    shape, scale = (fit.rows[name].fill_null(np.nan).to_numpy() for name in ("shape", "scale"))
    planned, failure = (priced[name].fill_null(np.nan).to_numpy() for name in ("planned", "failure"))
    return Fitted(table, keys, fit.rows, doubts(fit), shape, scale, planned, failure, prices, preferences, filters)


def cleaned_only(snapshot: Snapshot, component: str | None, filters: Filters) -> Filters:
    """The filters, kept to components that the record has seen cleaned where none is asked for."""
    if component or filters.component:
        return filters
    seen = tuple(snapshot.frame("findings/cleaned_components")["component"])
    return Filters(filters.model, filters.duty, filters.depot, seen)


def doubts(fit: weibull.WeibullFit) -> list[str]:
    """That one Weibull doesn't describe the lives of a group, in words; "" where nothing speaks against it."""
    return [
        f"one Weibull doesn't describe these lives (p = {row['p']:.2g}), so this may mislead; split them further"
        if row["reading"] == UNLIKE
        else ""
        for row in fit_check(fit).rows.iter_rows(named=True)
    ]


def where_known(function: Callable[..., FloatArray], *values: FloatArray) -> FloatArray:
    """The function where every value is known, NaN elsewhere."""
    arrays = np.broadcast_arrays(*values)
    able = np.isfinite(np.stack(arrays)).all(axis=0)
    result = np.full(able.shape, np.nan)
    result[able] = function(*(array[able] for array in arrays))
    return result


def known(values: FloatArray) -> pl.Series:
    """The values with null for what is unknown or infinite."""
    return pl.Series(np.where(np.isfinite(values), values, np.nan), dtype=pl.Float64).fill_nan(None)
