"""How far a component runs before it fails: Kaplan–Meier, Weibull and B10 for each group of lives."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import polars as pl

from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.reliability import survival, weibull
from fleetlens.store.reader import Snapshot

__all__ = ["LIFE_KEYS", "component_lives", "life_rows", "survival_curves"]

LIFE_KEYS = ("model", "duty", "depot", "began_as", "part_grade", "position", "model_year")
METHOD = (
    "A life runs in km from new or a renewal to a confirmed failure; others are censored. Kaplan–Meier with "
    "late entry and 95 % "
    "log–log limits; Weibull by maximum likelihood with 95 % likelihood limits; B10 from the Weibull fit."
)


def component_lives(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    at: Sequence[float] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """Lives and failures of each group, with median life, Weibull fit, B10 and the share surviving `at` these km.

    Without `at`, about five round distances up to the longest life. A null median was not reached; a null share lies
    beyond the last life under observation; a group without failures has no fit. Raises FleetlensError as life_table
    does, and for a key of `by` outside LIFE_KEYS.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    distances = sorted(set(at)) or round_distances(float(table.end.max()) if table.end.size else 0.0)
    rows, fit, curve = _figures(table, distances)
    notes = [*_fit_notes(table, keys, fit), *_curve_notes(table, keys, curve)]
    if table.unknown_starts:
        notes += _difference_notes(table, keys, rows, distances)
    return answer(snapshot, table, filters, question="component life", rows=rows, method=METHOD, notes=tuple(notes))


def survival_curves(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The Kaplan–Meier steps of each group: one row a distance at which a life failed, from share 1 at 0 km.

    The last row of a curve stands where its last life was under observation.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    steps = table.kaplan_meier().steps.select(
        "group", km="time", at_risk="at_risk", failures="failures", share="survival", low="low", high="high"
    )
    sizes = pl.DataFrame({"group": table.group, "end": table.end}).group_by("group").agg(pl.col("end").max())
    fresh = sizes.select("group", km=pl.lit(0.0), at_risk=pl.lit(None, pl.Int64), failures=pl.lit(0, pl.Int64))
    ends = sizes.select("group", km=pl.col("end"), at_risk=pl.lit(None, pl.Int64), failures=pl.lit(None, pl.Int64))
    whole = (
        pl.concat(
            [
                fresh.with_columns(share=1.0, low=1.0, high=1.0),
                steps.with_columns(pl.col("at_risk", "failures").cast(pl.Int64)),
                ends.with_columns(pl.lit(None, pl.Float64).alias(name) for name in ("share", "low", "high")),
            ],
            how="vertical_relaxed",
        )
        .sort("group", "km", "failures", nulls_last=True)
        .with_columns(pl.col("share", "low", "high").forward_fill().over("group"))
        .unique(["group", "km", "share"], keep="first", maintain_order=True)
    )
    rows = table.numbered.join(
        whole.with_columns(pl.col("group").cast(pl.Int64)), on="group", maintain_order="left_right"
    ).drop("group")
    return answer(snapshot, table, filters, question="survival curves", rows=rows, method=METHOD, counted=())


def life_rows(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The lives that count, each with the jobs that began and ended it."""
    table = life_table(snapshot, component, [], filters, unknown_start, named=True)
    return answer(
        snapshot, table, filters, question="lives", rows=table.lives, method=METHOD, counted=table.counted[:1]
    )


def round_distances(longest: float, steps: int = 5) -> list[float]:
    """About `steps` round distances up to `longest`: multiples of 1, 2, 2.5 or 5 times a power of ten."""
    if longest <= 0:
        return []
    power = 10 ** np.floor(np.log10(longest / steps))
    step = float(min((m * power for m in (1, 2, 2.5, 5, 10)), key=lambda width: abs(longest / width - steps)))
    return [float(km) for km in np.arange(step, longest + step / 1e6, step)]


def _figures(
    table: LifeTable, distances: Sequence[float]
) -> tuple[pl.DataFrame, weibull.WeibullFit, survival.KaplanMeier]:
    """One row a group, in the order of `table.groups`."""
    curve, fit = table.kaplan_meier(), table.weibull()
    median, b10 = curve.quantile(0.5), fit.life(0.10)
    shares = (
        curve.at(distances)
        .sort("group", "time")
        .group_by("group", maintain_order=True)
        .agg(pl.struct(km="time", share="survival", low="low", high="high").alias("survival"))
    )
    rows = table.groups.with_columns(
        lives=fit.rows["lives"],
        failures=fit.rows["failures"],
        median_km=median["value"],
        median_low=median["low"],
        median_high=median["high"],
        shape=fit.rows["shape"],
        shape_low=fit.rows["shape_low"],
        shape_high=fit.rows["shape_high"],
        characteristic_life_km=fit.rows["scale"],
        characteristic_life_low=fit.rows["scale_low"],
        characteristic_life_high=fit.rows["scale_high"],
        b10_km=b10["value"],
        b10_low=b10["low"],
        b10_high=b10["high"],
        survival=shares["survival"] if distances else pl.lit([], dtype=_SHARES),
    )
    return rows, fit, curve


_SHARES = pl.List(pl.Struct({"km": pl.Float64, "share": pl.Float64, "low": pl.Float64, "high": pl.Float64}))


def _fit_notes(table: LifeTable, keys: list[str], fit: weibull.WeibullFit) -> list[str]:
    """What the shapes say, group by group, and which groups have no fit."""
    said: dict[str, list[str]] = {reading: [] for reading in (WEAR_OUT, EARLY, UNSURE, FEW, NO_FIT)}
    for group, row in zip(table.groups.iter_rows(named=True), fit.rows.iter_rows(named=True), strict=True):
        who = f"{named(group, ['component', *keys])} ({row['failures']:,} of {row['lives']:,})"
        said[_reading(row)].append(who)
    return [f"{reading}: {'; '.join(groups)}." for reading, groups in said.items() if groups]


# Fewer failures than this fit too high a shape too often to call it wear-out. Common practice, no source.
ENOUGH_FAILURES = 6
WEAR_OUT = "Wear-out, the shape's interval lies above 1 (failures of lives)"
EARLY = "Early-life failures, the shape's interval lies below 1 (failures of lives)"
UNSURE = "Can't tell wear-out from chance, the shape's interval includes 1 (failures of lives)"
FEW = f"Fewer than {ENOUGH_FAILURES} failures, too few to tell wear-out from chance (failures of lives)"
NO_FIT = "No fit, for want of failures at two distances or more; their B-lives tell a lower limit (failures of lives)"


def _reading(row: dict[str, Any]) -> str:
    if row["shape"] is None:
        return NO_FIT
    if row["failures"] < ENOUGH_FAILURES:
        return FEW
    if row["shape_low"] is not None and row["shape_low"] > 1:
        return WEAR_OUT
    return EARLY if row["shape_high"] is not None and row["shape_high"] < 1 else UNSURE


def _curve_notes(table: LifeTable, keys: list[str], curve: survival.KaplanMeier) -> list[str]:
    """Groups whose curve fell to 0 early, next to nobody being under observation yet, as late entry can make it."""
    return [
        f"{named(table.groups.row(group, named=True), ['component', *keys])}: every life under observation at "
        f"{km:,.0f} km failed while others entered later; the Kaplan–Meier curve can't be read beyond it, the fit can."
        for group, km in curve.risk.filter(pl.col("zero_at").is_not_null()).select("group", "zero_at").iter_rows()
    ]


def _told(name: str, value: float) -> str:
    return f"{value:.2f}" if name == "shape" else f"{value:,.0f} km"


def _difference_notes(table: LifeTable, keys: list[str], rows: pl.DataFrame, distances: Sequence[float]) -> list[str]:
    """Groups whose figures leave their interval when the lives of unknown start are left out."""
    without, _, _ = _figures(table.without_unknown_starts(), distances)
    notes = []
    for here, there in zip(rows.iter_rows(named=True), without.iter_rows(named=True), strict=True):
        for name, low, high, words in (
            ("shape", "shape_low", "shape_high", "shape"),
            (
                "characteristic_life_km",
                "characteristic_life_low",
                "characteristic_life_high",
                "characteristic life",
            ),
            ("b10_km", "b10_low", "b10_high", "B10"),
            ("median_km", "median_low", "median_high", "median"),
        ):
            value = there[name]
            if value is None or here[low] is None:
                continue
            if value < here[low] or (here[high] is not None and value > here[high]):
                notes.append(
                    f"{named(here, ['component', *keys])}: without the lives of unknown start the {words} is "
                    f"{_told(name, value)}, "
                    f"outside the interval shown; don't rely on it."
                )
    return notes
