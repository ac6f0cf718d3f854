"""How often to clean: the interval of least long-run cost for a part that wears out, and whether a schedule pays."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.costs import costs
from fleetlens.advice.verdicts import WORTH, WORTHWHILE, Verdict, verdict
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.life_table import LifeTable, life_table
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.reliability import weibull
from fleetlens.reliability.renewal import cost_rate, optimal_age, unscheduled_cost_rate
from fleetlens.store.reader import Snapshot

__all__ = ["cleaning_intervals", "cost_curves"]

DRAWS = 2_000
DRAW_SEED = 20_260_101
SHOWN = 4  # of the cost curve, what costs at most so many times the least
PER_KM = 1_000
METHOD = (
    "Age-based renewal at the interval T of least long-run cost per km, (Cp R(T) + Cf F(T)) / integral of R "
    "from 0 to T "
    "(Barlow & Hunter 1960), on the group's Weibull fit; 95 % limits from "
    f"{DRAWS:,} draws of the fit's covariance. Advised only where the shape's interval lies above 1 and the "
    "schedule saves "
    f"{WORTHWHILE:.0%} or more against running to failure."
)


@dataclass(frozen=True, slots=True)
class _Advice:
    """One row a group throughout: costs, verdicts and the optimum (NaN where there is none)."""

    table: LifeTable
    keys: list[str]
    fit: pl.DataFrame
    planned: npt.NDArray[np.float64]
    failure: npt.NDArray[np.float64]
    verdicts: list[Verdict]
    best: npt.NDArray[np.float64]
    now: npt.NDArray[np.float64]
    told: tuple[str, ...]


def cleaning_intervals(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    planned_cost: float | None = None,
    failure_cost: float | None = None,
    downtime_rate: float = 0.0,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The cleaning interval of each group, its cost per 1,000 km, today's cost, and the verdict.

    Without a component, those that the record has seen cleaned. No interval stands where the verdict isn't "worth it".
    Today's cost is the long-run cost of the fitted life with planned renewals as often per km as the record has them,
    at the same two prices; null without a fit. A null upper limit means that the fit's uncertainty includes "never".
    Raises FleetlensError as component_lives and costs do. The draws are seeded: the same record gives the same limits.
    """
    advice = _advise(
        snapshot,
        component,
        by,
        planned_cost=planned_cost,
        failure_cost=failure_cost,
        downtime_rate=downtime_rate,
        filters=filters,
        unknown_start=unknown_start,
    )
    table = advice.table
    low, high = _limits(advice)
    worth = np.array([v.word == WORTH for v in advice.verdicts], dtype=bool)
    shape, scale = (advice.fit[name].fill_null(np.nan).to_numpy() for name in ("shape", "scale"))
    best_cost = _where_known(cost_rate, advice.best, shape, scale, advice.planned, advice.failure) * PER_KM
    rows = table.groups.with_columns(
        interval_km=_known(np.where(worth, advice.best, np.nan)),
        interval_low=_known(np.where(worth, low, np.nan)),
        interval_high=_known(np.where(worth, high, np.nan)),
        cost_per_1000km=_known(np.where(worth, best_cost, np.nan)),
        cost_per_1000km_now=_known(advice.now * PER_KM),
        verdict=pl.Series([v.word for v in advice.verdicts], dtype=pl.String),
        failures=advice.fit["failures"],
    )
    keys = ["component", *advice.keys]
    notes = [
        f"{named(row, keys)}: {v.word}; {v.why}{_against_now(row)}."
        for row, v in zip(rows.iter_rows(named=True), advice.verdicts, strict=True)
    ]
    return Finding(
        question="cleaning intervals",
        rows=rows,
        method=METHOD,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("with distance under observation", table.lives.height, "lives"),
            Count("confirmed", int(table.failed.sum()), "failures"),
        ),
        excluded=table.excluded,
        assumed=(*table.assumed, *advice.told, *_mixed(table, advice.keys)),
        notes=tuple(notes),
        filters=filters.named(),
        cautions=CAUTIONS,
    )


def cost_curves(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    planned_cost: float | None = None,
    failure_cost: float | None = None,
    downtime_rate: float = 0.0,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
    points: int = 120,
) -> Finding:
    """Long-run cost per 1,000 km against the interval, for each fitted group, until 95 % have failed.

    Intervals so short that they cost more than four times the least are left out.
    """
    advice = _advise(
        snapshot,
        component,
        by,
        planned_cost=planned_cost,
        failure_cost=failure_cost,
        downtime_rate=downtime_rate,
        filters=filters,
        unknown_start=unknown_start,
    )
    fitted = np.flatnonzero(advice.fit["shape"].is_not_null().to_numpy() & ~np.isnan(advice.planned + advice.failure))
    shape, scale = (advice.fit[name].fill_null(np.nan).to_numpy()[fitted, None] for name in ("shape", "scale"))
    ages = scale * (-np.log(0.05)) ** (1 / shape) * np.linspace(1 / points, 1, points)[None, :]
    cost = cost_rate(ages, shape, scale, advice.planned[fitted, None], advice.failure[fitted, None]) * PER_KM
    groups = advice.table.groups[fitted.tolist()]
    rows = pl.concat(
        [
            groups.select(pl.all().repeat_by(points).explode()) if groups.height else groups,
            pl.DataFrame({"km": ages.ravel(), "cost_per_1000km": cost.ravel()}),
        ],
        how="horizontal",
    )
    # Cleaning after next to no distance costs without bound; a chart of that hides where the cost is least.
    least = pl.col("cost_per_1000km").min().over("component", *advice.keys)
    rows = rows.filter(pl.col("cost_per_1000km") <= least * SHOWN)
    return replace(
        Finding("cost of an interval", rows, METHOD, evidence.period(snapshot), snapshot.name),
        excluded=advice.table.excluded,
        assumed=(*advice.table.assumed, *advice.told),
        filters=filters.named(),
        cautions=CAUTIONS,
    )


def _advise(
    snapshot: Snapshot,
    component: str | None,
    by: Sequence[str],
    *,
    planned_cost: float | None,
    failure_cost: float | None,
    downtime_rate: float,
    filters: Filters,
    unknown_start: str,
) -> _Advice:
    keys = chosen(by, LIFE_KEYS)
    if not component and not filters.component:
        filters = replace(filters, component=tuple(snapshot.frame("findings/cleaned_components")["component"]))
    table = life_table(snapshot, component, keys, filters, unknown_start)
    fit = weibull.fit(
        table.end, table.failed, table.entry, table.known_good, table.group, n_groups=table.groups.height
    ).rows
    prices = costs(
        snapshot,
        table.groups["component"].unique().sort().to_list(),
        filters,
        planned_cost=planned_cost,
        failure_cost=failure_cost,
        downtime_rate=downtime_rate,
    )
    priced = table.groups.select("component").join(prices.rows, on="component", how="left", maintain_order="left")
    verdicts = [
        verdict(
            failures=row["failures"],
            shape=row["shape"],
            shape_low=row["shape_low"],
            shape_high=row["shape_high"],
            log_shape_variance=row["var_log_shape"],
            planned=planned,
            failure=failure,
        )
        for row, planned, failure in zip(fit.iter_rows(named=True), priced["planned"], priced["failure"], strict=True)
    ]
    planned, failure = (priced[name].fill_null(np.nan).to_numpy() for name in ("planned", "failure"))
    shape, scale = (fit[name].fill_null(np.nan).to_numpy() for name in ("shape", "scale"))
    return _Advice(
        table,
        keys,
        fit,
        planned,
        failure,
        verdicts,
        best=_where_known(optimal_age, shape, scale, planned, failure),
        now=_cost_now(table, fit, planned, failure),
        told=prices.told,
    )


def _against_now(row: dict[str, Any]) -> str:
    """What an advised schedule saves against today's practice."""
    if row["interval_km"] is None or row["cost_per_1000km_now"] is None:
        return ""
    return f", {1 - row['cost_per_1000km'] / row['cost_per_1000km_now']:.0%} less than today's practice in the long run"


def _limits(advice: _Advice) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """95 % limits of the optimum over draws of (log shape, log scale); a draw without optimum counts as never."""
    columns = ("shape", "scale", "var_log_shape", "var_log_scale", "cov_log")
    shape, scale, var_shape, var_scale, cov = (
        advice.fit[name].fill_null(np.nan).to_numpy()[:, None] for name in columns
    )
    first, second = np.random.default_rng(DRAW_SEED).standard_normal((2, 1, DRAWS))
    sd_shape = np.sqrt(var_shape)
    log_shape = np.log(shape) + sd_shape * first
    rest = np.sqrt(np.maximum(var_scale - cov**2 / var_shape, 0))
    log_scale = np.log(scale) + cov / sd_shape * first + rest * second
    drawn = _where_known(
        optimal_age, np.exp(log_shape), np.exp(log_scale), advice.planned[:, None], advice.failure[:, None]
    )
    ordered = np.sort(np.where(np.isnan(drawn), np.inf, drawn), axis=1)
    edge = int(0.025 * DRAWS)
    low, high = ordered[:, edge], ordered[:, -edge - 1]
    return low, np.where(np.isinf(high), np.nan, high)


def _cost_now(
    table: LifeTable, fit: pl.DataFrame, planned: npt.NDArray[np.float64], failure: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Long-run cost per km of today's practice: the fitted life, with planned renewals as often per km as recorded."""
    groups = table.groups.height
    preventive = np.bincount(table.group, (table.lives["ended"] == "preventive").to_numpy(), minlength=groups)
    km = np.bincount(table.group, table.end - table.entry, minlength=groups)
    shape, scale = (fit[name].fill_null(np.nan).to_numpy() for name in ("shape", "scale"))
    return _where_known(unscheduled_cost_rate, preventive / km, shape, scale, planned, failure)


def _mixed(table: LifeTable, keys: list[str]) -> tuple[str, ...]:
    """A word where cleaned parts stand in one group with others, as they may run shorter."""
    cleaned = int((table.lives["began_as"] == "cleaned").sum())
    if "began_as" in keys or cleaned in (0, table.lives.height):
        return ()
    return (
        f"{cleaned:,} of {table.lives.height:,} lives began with a cleaning and may run shorter than new "
        "parts: split by began_as to see "
        "the first interval and the one after a cleaning apart.",
    )


def _where_known(
    function: Callable[..., npt.NDArray[np.float64]], *values: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """The function where every value is known, NaN elsewhere."""
    arrays = np.broadcast_arrays(*values)
    known = np.isfinite(np.stack(arrays)).all(axis=0)
    result = np.full(known.shape, np.nan)
    result[known] = function(*(array[known] for array in arrays))
    return result


def _known(values: npt.NDArray[np.float64]) -> pl.Series:
    """The values with null for what is unknown."""
    return pl.Series(values, dtype=pl.Float64).fill_nan(None)
