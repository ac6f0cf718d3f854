"""How often to clean: the interval of least long-run cost for a part that wears out, and whether a schedule pays."""

from collections.abc import Sequence
from typing import Any, Unpack

import numpy as np
import polars as pl

from fleetlens.advice.draws import FloatArray, drawn_lives, limits
from fleetlens.advice.fitted import PER_KM, Fitted, Options, fitted, known, where_known
from fleetlens.advice.optimum import flat_range, rounded, say_flat
from fleetlens.advice.verdicts import WORTH, WORTHWHILE, Verdict, verdict
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import named
from fleetlens.reliability.cleaning_policy import Life
from fleetlens.reliability.renewal import cost_rate, optimal_age, run_to_failure_rate, unscheduled_cost_rate
from fleetlens.store.reader import Snapshot

__all__ = ["cleaning_intervals"]

DRAWS = 2_000
DRAWS_TODAY = 400  # of today's cost, which takes a quadrature each
METHOD = (
    "Age-based renewal at the interval T of least long-run cost per km, (Cp R(T) + Cf F(T)) / integral of R "
    "from 0 to T (Barlow & Hunter 1960), on the group's Weibull fit; 95 % limits from "
    f"{DRAWS:,} draws of the fit's covariance. Advised only where the shape's interval lies above 1, the schedule "
    f"saves {WORTHWHILE:.0%} or more against running to failure, and the limits of that saving lie above 0."
)


def cleaning_intervals(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    **options: Unpack[Options],
) -> Finding:
    """The cleaning interval of each group, its cost per 1,000 km, today's cost, what it saves, and the verdict.

    Without a component, those that the record has seen cleaned; `options` as fitted has them. No interval stands where
    the verdict isn't "worth it". Today's cost is the long-run cost of the fitted life with planned renewals as often
    per km as the record has them, at the same two prices; null without a fit. The rounded interval is the cheaper of
    the two multiples of the service interval next to the exact one. A null upper limit means that the fit's uncertainty
    includes "never". Raises FleetlensError as fitted does. The draws are seeded: the same record gives the same limits.
    """
    case = fitted(snapshot, component, by, **options)
    best = where_known(optimal_age, case.shape, case.scale, case.planned, case.failure)
    draws = drawn_lives(case.shape, case.scale, case.covariance(), DRAWS)
    saving = _saving(case, best)
    saving_limits = limits(_saving(case, best, draws.shape, draws.scale))
    verdicts = _verdicts(case, saving_limits[0])
    worth = np.array([each.word == WORTH for each in verdicts], dtype=bool)
    best = np.where(worth, best, np.nan)

    failure = np.where(worth, case.failure, np.nan)[:, None]
    optimum = where_known(optimal_age, draws.shape, draws.scale, case.planned[:, None], failure)
    interval_limits = limits(np.where(np.isnan(optimum), np.inf, optimum))
    cost, planned_rate = _cost(case, best), _planned_rate(case)
    now = where_known(unscheduled_cost_rate, planned_rate, case.shape, case.scale, case.planned, case.failure)
    now_limits = _now_limits(case, best, planned_rate, draws)
    on_service, dearer = _on_service(case, best, cost)
    shown = {
        "interval_km": best,
        "interval_low": interval_limits[0],
        "interval_high": interval_limits[1],
        "rounded_km": on_service,
        "rounding_cost": dearer,
        "cost_per_1000km": cost * PER_KM,
        "saved_share": saving,
        "saved_low": saving_limits[0],
        "saved_high": saving_limits[1],
        "saved_now_share": 1 - cost / now,
        "saved_now_low": now_limits[0],
        "saved_now_high": now_limits[1],
    }
    rows = case.table.groups.with_columns(
        **{name: known(np.where(worth, values, np.nan)) for name, values in shown.items()},
        cost_per_1000km_now=known(now * PER_KM),
        verdict=pl.Series([each.word for each in verdicts], dtype=pl.String),
        failures=case.fit["failures"],
    )
    keys = ["component", *case.keys]
    flat = _flat(case, best)
    notes = tuple(
        f"{named(row, keys)}: {each.word}; {each.why}{_beside(row, told, case.preferences.service.every_km)}"
        f"{'; ' + doubt if doubt else ''}."
        for row, each, told, doubt in zip(rows.iter_rows(named=True), verdicts, flat, case.doubts, strict=True)
    )
    return case.finding(snapshot, "cleaning intervals", rows, METHOD, assumed=_mixed(case), notes=notes)


def _verdicts(case: Fitted, saving_low: FloatArray) -> list[Verdict]:
    names = ("failures", "shape", "shape_low", "shape_high")
    low_or_none = [None if np.isnan(low) else float(low) for low in saving_low]
    prices = zip(known(case.planned), known(case.failure), low_or_none, strict=True)
    return [
        verdict(
            **{name: row[name] for name in names},
            log_shape_variance=row["var_log_shape"],
            planned=planned,
            failure=failure,
            saving_low=low,
        )
        for row, (planned, failure, low) in zip(case.fit.iter_rows(named=True), prices, strict=True)
    ]


def _cost(
    case: Fitted, age: FloatArray, shape: FloatArray | None = None, scale: FloatArray | None = None
) -> FloatArray:
    """Cost per km of renewing at `age`, by the fit or by drawn lives [group, draw]."""
    if shape is None or scale is None:
        return where_known(cost_rate, age, case.shape, case.scale, case.planned, case.failure)
    return where_known(cost_rate, age[:, None], shape, scale, case.planned[:, None], case.failure[:, None])


def _saving(
    case: Fitted, age: FloatArray, shape: FloatArray | None = None, scale: FloatArray | None = None
) -> FloatArray:
    """Share of the cost of running to failure that renewing at `age` saves."""
    if shape is None or scale is None:
        return 1 - _cost(case, age) / where_known(run_to_failure_rate, case.shape, case.scale, case.failure)
    return 1 - _cost(case, age, shape, scale) / where_known(run_to_failure_rate, shape, scale, case.failure[:, None])


def _planned_rate(case: Fitted) -> FloatArray:
    """Planned renewals per km of today's practice, as the record has them."""
    table, groups = case.table, case.table.groups.height
    preventive = np.bincount(table.group, (table.lives["ended"] == "preventive").to_numpy(), minlength=groups)
    return np.asarray(preventive / np.bincount(table.group, table.end - table.entry, minlength=groups))


def _now_limits(case: Fitted, best: FloatArray, planned_rate: FloatArray, draws: Life) -> tuple[FloatArray, FloatArray]:
    """Limits of what `best` saves against today's practice; one group at a time, as each draw takes a quadrature."""
    low, high = np.full((2, len(best)), np.nan)
    for at in np.flatnonzero(~np.isnan(best)):
        lives = draws.shape[at, :DRAWS_TODAY], draws.scale[at, :DRAWS_TODAY]
        prices = case.planned[at], case.failure[at]
        now = unscheduled_cost_rate(planned_rate[at], *lives, *prices)
        low[at], high[at] = limits(1 - cost_rate(best[at], *lives, *prices) / now)
    return low, high


def _on_service(case: Fitted, best: FloatArray, cost: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The multiple of the service interval that costs least, and what share more than the exact interval."""
    options = np.stack(rounded(best, case.preferences.service.every_km))
    costs = np.stack([_cost(case, each) for each in options])
    cheaper = np.where(costs[0] <= costs[1], 0, 1)[None, :]
    age, price = (np.take_along_axis(each, cheaper, axis=0)[0] for each in (options, costs))
    return age, price / cost - 1


def _flat(case: Fitted, best: FloatArray) -> list[str]:
    """Between which intervals the cost hardly differs, in words; "" where none is advised."""
    told = []
    for at, age in enumerate(best):
        if np.isnan(age):
            told.append("")
            continue
        ages = age * np.geomspace(1 / 8, 8, 600)
        costs = cost_rate(ages, case.shape[at], case.scale[at], case.planned[at], case.failure[at])
        told.append(say_flat(*flat_range(ages, costs)))
    return told


def _beside(row: dict[str, Any], flat: str, every: float) -> str:
    """What an advised schedule saves against today's practice, how sharp it is, and what rounding it costs."""
    if row["interval_km"] is None:
        return ""
    told = ""
    if row["saved_now_share"] is not None:
        told += f", {row['saved_now_share']:.0%} less than today's practice in the long run"
        if row["saved_now_low"] is not None and row["saved_now_high"] is not None:
            told += f" ({row['saved_now_low']:.0%} to {row['saved_now_high']:.0%})"
    told += f"; {flat}; at services every {every:,.0f} km it is {row['rounded_km']:,.0f} km"
    return f"{told}, which costs {row['rounding_cost']:.1%} more"


def _mixed(case: Fitted) -> tuple[str, ...]:
    """A word where cleaned parts stand in one group with others, as they may run shorter."""
    lives = case.table.lives
    cleaned = int((lives["began_as"] == "cleaned").sum())
    if "began_as" in case.keys or cleaned in (0, lives.height):
        return ()
    return (
        f"{cleaned:,} of {lives.height:,} lives began with a cleaning and may run shorter than new parts: the policy "
        "takes the first interval and the one after a cleaning apart.",
    )
