"""How often a component fails on one vehicle over its distance: the mean cumulative function."""

import numpy as np
import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.life_table import kept_components
from fleetlens.reliability.recurrence import mean_cumulative
from fleetlens.store.reader import Snapshot

__all__ = ["recurrent_failures"]


def recurrent_failures(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Mean number of confirmed failures per vehicle by odometer, for each component.

    A vehicle is observed between the odometers of its record, so one that joined late counts only from there. It
    describes the vehicle, which is repaired, not the part, which is renewed: don't read part life from it. Source:
    Nelson 1995, Technometrics 37, 147-157, with robust variance.
    """
    bound = {"components": kept_components(snapshot, component, filters), **filters.bound()}
    carriers = snapshot.frame("findings/carriers", **bound)
    events = snapshot.frame("findings/failure_events", **bound)
    seen = carriers.filter(pl.col("km") > 0)
    unread = evidence.some(carriers.height - seen.height, "no distance under observation", "vehicles")
    groups, group = evidence.numbered(seen, ["component"])
    units = seen.with_columns(group=group).with_row_index("unit")
    placed = events.join(units, on=["component", "vehicle_id"], how="inner", maintain_order="left").filter(
        pl.col("observed") & (pl.col("km") > pl.col("from_km")) & (pl.col("km") <= pl.col("to_km"))
    )
    outside = evidence.some(
        events.height - placed.height,
        "outside the vehicle's record, at its very start, or without odometer",
        "failures",
    )
    function = mean_cumulative(
        placed["unit"].cast(pl.Int64).to_numpy(),
        placed["km"].to_numpy(),
        units["from_km"].to_numpy(),
        units["to_km"].to_numpy(),
        group=group.to_numpy(),
        n_groups=groups.height,
    )
    rows = (
        groups.with_row_index("group")
        .with_columns(pl.col("group").cast(pl.Int64))
        .join(
            function.steps.with_columns(pl.col("group").cast(pl.Int64)),
            on="group",
            maintain_order="left_right",
        )
        .select(
            "component",
            km="time",
            vehicles_at_risk="at_risk",
            events="events",
            mean_events="mean",
            low="low",
            high="high",
        )
    )
    return Finding(
        question="recurrent failures",
        rows=rows,
        method=(
            "Mean cumulative number of confirmed failures per vehicle by odometer, with robust variance and "
            "staggered entry "
            "(Nelson 1995); 95 % limits on the log scale."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("under observation", seen["vehicle_id"].n_unique(), "vehicles"),
            Count("confirmed", int(np.sum(rows["events"].to_numpy())), "failures"),
        ),
        excluded=unread + outside,
        filters=filters.named(),
    )
