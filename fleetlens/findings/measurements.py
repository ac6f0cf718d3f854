"""What checks and measurements showed on components, against the limits that came with the job."""

import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.life_table import kept_components
from fleetlens.reliability.rates import proportion_exact
from fleetlens.store.reader import Snapshot

__all__ = ["CHECK", "check_rows", "measurements"]

CHECK = ["component", "check", "unit"]
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


def _checks(snapshot: Snapshot, component: str | None, filters: Filters) -> pl.DataFrame:
    components = kept_components(snapshot, component, filters)
    return snapshot.frame("findings/check_rows", codes=None, components=components, **filters.bound())


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
