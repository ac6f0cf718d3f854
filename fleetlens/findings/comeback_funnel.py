"""Which workshop's repairs come back more than chance: shares against the overall one, with limits for their number."""

from collections.abc import Sequence

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.comeback_differences import MIX, SURE
from fleetlens.findings.comebacks import about_keys, repair_keys, repair_rows
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.reliability.control import Overdispersion, funnel_rate, funnel_share, overdispersion_shares
from fleetlens.store.reader import Snapshot

__all__ = ["comeback_funnel"]

LEVELS = {0.95: "95 %", 0.998: "99.8 %"}


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

    Only repairs whose window had passed when the record ended, so that each has had its whole chance. `target` is the
    share of all of them; low_95 to high_998 the exact binomial limits around it for the group's number of repairs.
    `expected` are the comebacks of so many repairs of the same components and duties, each coming back as all of its
    like do; `standing_within` judges by exact Poisson limits around that. Raises FleetlensError as `comebacks` does,
    and without a key. Spiegelhalter 2005, Statistics in Medicine 24, 1185-1202.
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
        **{name: funnel[name] for name in ("target", "low_95", "high_95", "low_998", "high_998")},
        standing=_standing(funnel, "share"),
        expected="expected",
        standing_within=_standing(within, "rate"),
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
        notes=(*repairs.notes, *_spread(overdispersion_shares(back, number), rows.height)),
        filters=repairs.filters,
    )


def _standing(funnel: pl.DataFrame, figure: str) -> pl.Series:
    """Within the limits, or above or below the widest ones that the figure lies beyond."""
    side = pl.when(pl.col(figure) > pl.col("target")).then(pl.lit("above ")).otherwise(pl.lit("below "))
    return funnel.select(
        pl.when(pl.col(figure).is_null())
        .then(None)
        .when(pl.col("outside").is_null())
        .then(pl.lit("within chance"))
        .otherwise(side + pl.col("outside").replace_strict(LEVELS, default=None, return_dtype=pl.String))
        .alias("standing")
    ).to_series()


def _spread(spread: Overdispersion, groups: int) -> tuple[str, ...]:
    """Whether the groups differ among themselves more than chance, and how to read single ones then."""
    one_in = f"Of {groups:,} groups about {groups * SURE:.1f} lie outside the 95 % limits by chance alone."
    if spread.p is None or spread.ratio is None:
        return (one_in,)
    if spread.p < SURE and spread.ratio > 1:
        return (
            one_in,
            f"The groups spread {spread.ratio:.1f} times as widely as chance (p {max(spread.p, 0.0001):.2g}): they "
            "differ in something that isn't split here, so single ones outside the limits say little.",
        )
    return (one_in, f"All groups together lie within chance (p {spread.p:.2g}).")
