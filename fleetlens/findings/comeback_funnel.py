"""Which workshop's repairs come back more than chance: shares against the overall one, with limits for their number."""

from collections.abc import Sequence

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.comeback_differences import MIX
from fleetlens.findings.comebacks import about_keys, repair_keys, repair_rows
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.funnels import LEVELS, spread, standing
from fleetlens.reliability.control import funnel_rate, funnel_share, overdispersion_shares
from fleetlens.store.reader import Snapshot

__all__ = ["comeback_funnel"]


def comeback_funnel(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("workshop",),
    *,
    days: int = 90,
    km: float = 5000,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    technicians: bool = False,
) -> Finding:
    """The share of each group's repairs that came back, and whether it lies outside what chance gives so many repairs.

    Only repairs whose window had passed when the record ended, so that each has had its whole chance. `share_of_all`
    is that of all of them; share_low_95 to share_high_998 the exact binomial limits around it for the group's number
    of repairs. `expected_within` are the comebacks of so many repairs of the same components and duties, each coming
    back as all of its like do; `standing_within` judges by exact Poisson limits around that. Raises FleetlensError as
    `comebacks` does, and without a key. Spiegelhalter 2005, Statistics in Medicine 24, 1185-1202.
    """
    keys = repair_keys(by, technicians)
    if not keys:
        raise FleetlensError("a funnel needs groups", do="name a key to split by, such as workshop")
    mix = [name for name in MIX if name not in keys]
    repairs = repair_rows(snapshot, component, days, km, filters, technicians=technicians)
    whole = repairs.rows.filter("window_over").with_columns(back=pl.col("kind").is_not_null())
    counted = (
        whole.with_columns(likely=pl.col("back").mean().over(mix))
        .group_by(keys)
        .agg(repairs=pl.len(), comebacks=pl.col("back").sum(), expected=pl.col("likely").sum())
        .sort("repairs", *keys, descending=[True, *(False for _ in keys)], nulls_last=True)
    )
    back, number = counted["comebacks"].to_numpy(), counted["repairs"].to_numpy()
    funnel = funnel_share(back, number, tuple(LEVELS))
    within = funnel_rate(back, counted["expected"].to_numpy(), tuple(LEVELS))
    rows = counted.select(
        *(*keys, "repairs", "comebacks"),
        comeback_share=funnel["share"],
        share_of_all=funnel["target"],
        **{f"share_{name}": funnel[name] for name in ("low_95", "high_95", "low_998", "high_998")},
        standing=standing(funnel, "share", funnel["target"] * counted["repairs"]),
        expected_within="expected",
        standing_within=standing(within, "rate", counted["expected"]),
    )
    running = repairs.rows.height - whole.height
    return Finding(
        question="comebacks against chance",
        rows=rows,
        method=(
            f"Repairs with a comeback within {days} days and {km:,.0f} km, of those whose window had passed when the "
            "record ended, against the share of all, with exact binomial limits for so many repairs. Within: against "
            f"the comebacks that repairs of the same {' and '.join(mix)} had, with exact Poisson limits."
        ),
        period=repairs.period,
        snapshot=repairs.snapshot,
        counted=(Count("followed for their whole window", whole.height, "repairs"),),
        excluded=(*repairs.excluded, *evidence.some(running, "their window hadn't passed yet", "repairs")),
        assumed=repairs.assumed + about_keys(keys),
        notes=(*repairs.notes, *spread(overdispersion_shares(back, number), rows.height)),
        filters=repairs.filters,
    )
