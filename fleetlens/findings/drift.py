"""How measurements move before a failure: values by the distance that was left, and their drift."""

import numpy as np
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.life_table import kept_components
from fleetlens.findings.measurements import CHECK
from fleetlens.reliability.drift import FEWEST_UNITS, lines
from fleetlens.store.reader import Snapshot

__all__ = ["WITHIN_KM", "drift", "drift_by_distance", "drift_rows"]

WITHIN_KM = 50_000.0
STRETCHES = 10  # into which the distance before a failure is cut


def drift(
    snapshot: Snapshot,
    component: str | None = None,
    within_km: float = WITHIN_KM,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """How each measurement moves over the last `within_km` before a failure: its slope towards it, with limits.

    `slope` is the change of the value in 1,000 km driven towards the failure, `at_failure` the line's value there; null
    for fewer vehicles than fleetlens.reliability.drift.FEWEST_UNITS. What the failing job itself measured isn't in it.
    Raises FleetlensError for a distance of 0 or less, and as `measurements` does.
    """
    rows, excluded = _before_failures(snapshot, component, within_km, filters)
    groups, group = evidence.numbered(rows, CHECK)
    line = lines(
        rows["before_km"].to_numpy(),
        rows["value"].to_numpy(),
        rows["vehicle_id"].to_numpy(),
        group.to_numpy(),
        n_groups=groups.height,
    )
    lives = rows.with_columns(group=group).group_by("group").agg(pl.struct("failed_job_id", "vehicle_id").n_unique())
    per_1000 = {
        "slope": -1000 * line["slope"],
        "slope_low": -1000 * line["slope_high"],
        "slope_high": -1000 * line["slope_low"],
    }
    answer = groups.with_columns(
        lives=lives.sort("group")["failed_job_id"].cast(pl.Int64),
        vehicles=line["units"],
        measured=line["points"],
        **per_1000,
        at_failure=line["at_zero"],
        at_failure_low=line["at_zero_low"],
        at_failure_high=line["at_zero_high"],
    ).with_columns(moves=_moves())
    few = answer.filter(pl.col("slope").is_null())
    notes = [
        f"{row['component']} {row['check']}: {row['measured']:,} measurements on {row['vehicles']:,} vehicles before a "
        f"failure, too few for a slope (from {FEWEST_UNITS} vehicles on)."
        for row in few.iter_rows(named=True)
    ]
    notes.append(
        "Only parts that did fail are in it. It shows how they went, not how likely another part is to fail, "
        "and replaces no limit and no inspection."
    )
    return Finding(
        question="drift towards failure",
        rows=answer,
        method=(
            f"Values measured on parts that later failed, by the distance left to the failure, over the last "
            f"{within_km:,.0f} km; those of the failing job itself left out. A straight line that single wild readings "
            "don't pull (Huber 1964), 95 % limits from the spread between vehicles (sandwich, Student's t)."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count(f"within {within_km:,.0f} km of a failure", rows.height, "measurements"),
            Count("with at least one of them", rows["vehicle_id"].n_unique(), "vehicles"),
        ),
        excluded=excluded,
        assumed=evidence.readings(snapshot, filters),
        notes=tuple(notes),
        filters=filters.named(),
    )


def drift_by_distance(
    snapshot: Snapshot,
    component: str | None = None,
    within_km: float = WITHIN_KM,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The measurements before a failure by stretches of distance: median and quartiles of each tenth of `within_km`."""
    rows, excluded = _before_failures(snapshot, component, within_km, filters)
    width = within_km / STRETCHES
    stretch = (pl.col("before_km") / width).floor().clip(0, STRETCHES - 1)
    value = pl.col("value")
    answer = (
        rows.group_by(*CHECK, (stretch * width).alias("stretch_from_km"))
        .agg(
            measured=pl.len().cast(pl.Int64),
            vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
            value_25=value.quantile(0.25, "linear"),
            value_median=value.median(),
            value_75=value.quantile(0.75, "linear"),
            limit_low=pl.col("limit_low").min(),
            limit_high=pl.col("limit_high").max(),
        )
        .with_columns(before_km=pl.col("stretch_from_km") + width / 2, stretch_to_km=pl.col("stretch_from_km") + width)
        .sort(*CHECK, "stretch_from_km", nulls_last=True)
        .select(
            *CHECK, "before_km", "stretch_from_km", "stretch_to_km", "measured", "vehicles", "value_25", "value_median",
            "value_75", "limit_low", "limit_high",
        )
    )  # fmt: skip
    return Finding(
        question="values by distance to failure",
        rows=answer,
        method=(
            f"Values measured on parts that later failed, in stretches of {width:,.0f} km before the failure: median "
            "and quartiles. Those of the failing job itself are left out."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count(f"within {within_km:,.0f} km of a failure", rows.height, "measurements"),),
        excluded=excluded,
        filters=filters.named(),
    )


def drift_rows(
    snapshot: Snapshot,
    component: str | None = None,
    within_km: float = WITHIN_KM,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The measurements on parts that later failed, each with the job that measured and the one that failed."""
    rows, excluded = _before_failures(snapshot, component, within_km, filters)
    return Finding(
        question="measurements before failures",
        rows=rows,
        method="One row is a value measured on a part that failed at a later job, with the distance left to it.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count(f"within {within_km:,.0f} km of a failure", rows.height, "measurements"),),
        excluded=excluded,
        filters=filters.named(),
    )


def _before_failures(
    snapshot: Snapshot, component: str | None, within_km: float, filters: Filters
) -> tuple[pl.DataFrame, tuple[Count, ...]]:
    """The measurements that can be placed before a failure, and what was left out."""
    if not 0 < within_km < np.inf:
        raise FleetlensError(f"a distance of {within_km:g} km holds no measurement", do="more than 0 km")
    components = kept_components(snapshot, component, filters)
    rows = snapshot.frame("findings/drift_rows", components=components, **filters.bound())
    several = rows.filter("several").height
    rows = rows.filter(~pl.col("several")).drop("several")
    unplaced = rows["before_km"].null_count()
    rows = rows.filter(pl.col("before_km").is_not_null())
    far = rows.filter(pl.col("before_km") > within_km).height
    excluded = (
        *evidence.some(several, "of the several on the vehicle the check doesn't say which", "measurements"),
        *evidence.some(unplaced, "an odometer is unknown", "measurements"),
        *evidence.some(far, f"more than {within_km:,.0f} km before the failure", "measurements"),
    )
    return rows.filter(pl.col("before_km") <= within_km), excluded


def _moves() -> pl.Expr:
    return (
        pl.when(pl.col("slope").is_null())
        .then(pl.lit("too few"))
        .when(pl.col("slope_low") > 0)
        .then(pl.lit("rises towards failure"))
        .when(pl.col("slope_high") < 0)
        .then(pl.lit("falls towards failure"))
        .otherwise(pl.lit("can't tell"))
    )
