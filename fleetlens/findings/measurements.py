"""What was measured on components: against the limits that came with the job, and on the way to a failure."""

import numpy as np
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.life_table import kept_components
from fleetlens.reliability.drift import FEWEST_UNITS, lines
from fleetlens.reliability.rates import proportion_exact
from fleetlens.store.reader import Snapshot

__all__ = ["WITHIN_KM", "check_rows", "drift", "drift_by_distance", "drift_rows", "measurements"]

CHECK = ["component", "check", "unit"]
WITHIN_KM = 50_000.0
STRETCHES = 10  # into which the distance before a failure is cut
LIMITS = "Limits are those that came with each job, never ours."


def measurements(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Each check of each component: how often it failed and passed its limits, and what values it showed.

    The outcome is the recorded one, else that of the limits; `unjudged` has neither. Quantiles are of all values, of
    parts in order and not. Raises FleetlensError for a component or filter value that the store doesn't know.
    """
    found = _checks(snapshot, component, filters)
    failed, passed = ((pl.col("passed") == outcome).sum().cast(pl.Int64) for outcome in (False, True))
    value = pl.col("value")
    without = value.is_not_null() & pl.col("limit_low").is_null() & pl.col("limit_high").is_null()
    counted = (
        found.group_by(CHECK)
        .agg(
            checks=pl.len().cast(pl.Int64),
            vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
            failed=failed,
            judged=failed + passed,
            without_limits=without.sum().cast(pl.Int64),
            values=value.count().cast(pl.Int64),
            value_lowest=value.min(),
            value_10=value.quantile(0.1, "linear"),
            value_median=value.median(),
            value_90=value.quantile(0.9, "linear"),
            value_highest=value.max(),
            limit_low=pl.col("limit_low").min(),
            limit_high=pl.col("limit_high").max(),
        )
        .sort(["checks", *CHECK], descending=[True, False, False, False], nulls_last=True)
    )
    share = proportion_exact(counted["failed"].to_numpy(), counted["judged"].to_numpy())
    rows = counted.select(
        *CHECK,
        "checks",
        "vehicles",
        "failed",
        "judged",
        share["share"].alias("share_failed"),
        share["low"].alias("share_failed_low"),
        share["high"].alias("share_failed_high"),
        unjudged=pl.col("checks") - pl.col("judged"),
        without_limits="without_limits",
        values="values",
        **{name: name for name in ("value_lowest", "value_10", "value_median", "value_90", "value_highest")},
        limit_low="limit_low",
        limit_high="limit_high",
    )
    outside, _ = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question="measurements",
        rows=rows,
        method=(
            f"Checks and measurements of observed jobs against their limits. {LIMITS} Failed and passed are as "
            "recorded, else by the limits; share failed with exact 95 % limits (Clopper–Pearson). Quantiles are of all "
            "values, of parts in order and not."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("at observed jobs", found.height, "checks"),
            Count("with a value", found["value"].count(), "measurements"),
        ),
        excluded=outside,
        assumed=_assumed(found),
        notes=_notes(found),
        filters=filters.named(),
    )


def check_rows(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The checks and measurements, each with its job, vehicle, odometer and limits."""
    found = _checks(snapshot, component, filters)
    outside, _ = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question="checks and measurements",
        rows=found,
        method=f"One row is a check or measurement at an observed job. {LIMITS}",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("at observed jobs", found.height, "checks"),),
        excluded=outside,
        filters=filters.named(),
    )


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


def _checks(snapshot: Snapshot, component: str | None, filters: Filters) -> pl.DataFrame:
    components = kept_components(snapshot, component, filters)
    return snapshot.frame("findings/check_rows", codes=None, components=components, **filters.bound())


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


def _assumed(found: pl.DataFrame) -> tuple[str, ...]:
    judged = int(found["by_limits"].sum())
    return (f"Outcomes not recorded, taken from value and limits: {judged:,}.",) if judged else ()


def _notes(found: pl.DataFrame) -> tuple[str, ...]:
    """Checks whose limits differ from job to job, and outcomes that contradict the limits."""
    limits = pl.col("limit_low", "limit_high")
    several = (
        found.filter(pl.any_horizontal(limits.is_not_null()))
        .group_by(CHECK)
        .agg(limits=pl.struct(limits).n_unique())
        .filter(pl.col("limits") > 1)
        .sort(CHECK, nulls_last=True)
    )
    notes = []
    if several.height:
        told = ", ".join(" ".join(filter(None, row)) for row in several.select("component", "check").iter_rows())
        notes.append(f"Limits differ between jobs; the outermost are shown: {told}.")
    if contradicting := int(found["contradicts"].sum()):
        notes.append(f"Outcomes recorded against their own limits, where the recorded one counts: {contradicting:,}.")
    return tuple(notes)
