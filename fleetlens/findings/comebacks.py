"""Whether repairs held: the share that came back, each repair followed until it did or could no longer."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.life_table import kept_components
from fleetlens.reliability.rates import proportion_exact
from fleetlens.reliability.survival import KaplanMeier, kaplan_meier
from fleetlens.store.reader import Snapshot

__all__ = ["COMEBACK_KEYS", "KINDS", "about_keys", "comebacks", "repair_keys", "repair_rows", "share_at"]

COMEBACK_KEYS = ("action", "part_grade", "cause", "checks_after", "workshop", "model", "duty", "depot")
KINDS = ("same_component", "other_cause", "nothing_found")
SHARE_DAYS = (30, 60, 90)
CHECKS_AFTER = (
    "Checks after the repair: done where a road test, a relearn or reading the codes again stands in the job as passed "
    "or as done, and none as not passed; not done where one stands as not passed; else not recorded, which is not the "
    "same as not done. Clearing codes proves nothing. Easy jobs get the checks: a difference need not be their doing."
)


def comebacks(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("action",),
    *,
    days: int = 90,
    km: float = 5000,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    technicians: bool = False,
) -> Finding:
    """Repairs of each group, the share that came back by 30, 60 and 90 days, and the share fixed at the first visit.

    The share is one minus Kaplan–Meier of the days from repair to comeback, so that repairs of last week don't flatter
    it; null beyond the window or beyond the last repair followed. `first_visit_fix` is one minus it at the end of the
    window. Raises FleetlensError for a window below one day or zero km, for a key outside COMEBACK_KEYS ("technician"
    is one where `technicians` may be named), and for a component or filter value that the store doesn't know.
    """
    keys = repair_keys(by, technicians)
    repairs = repair_rows(snapshot, component, days, km, filters, technicians=technicians)
    followed = repairs.rows
    groups, group = evidence.numbered(followed, ["component", *keys])
    came_back = followed["kind"].is_not_null()
    curve = kaplan_meier(
        followed["followed_days"].cast(pl.Float64).to_numpy(),
        came_back.to_numpy(),
        group=group.to_numpy(),
        n_groups=groups.height,
    )
    counts = (
        followed.with_columns(group=group)
        .group_by("group")
        .agg(
            pl.len().alias("repairs"),
            pl.col("kind").count().alias("comebacks"),
            pl.struct((pl.col("kind") == kind).sum().alias(kind) for kind in KINDS).alias("kinds"),
        )
        .sort("group")
    )
    shares: dict[str, pl.Series] = {}
    for day in SHARE_DAYS:
        told = share_at(curve, day, within=day <= days)
        shares |= {name: told[name] for name in told.columns}
    rows = groups.with_columns(
        repairs=counts["repairs"],
        comebacks=counts["comebacks"],
        **shares,
        **_first_visit_fix(curve, days),
        kinds=counts["kinds"],
    )
    return Finding(
        question="comebacks",
        rows=rows,
        method=repairs.method,
        period=repairs.period,
        snapshot=repairs.snapshot,
        counted=(
            *repairs.counted,
            Count(f"within {days} days and {km:,.0f} km", int(came_back.sum()), "comebacks"),
        ),
        excluded=repairs.excluded,
        assumed=repairs.assumed + about_keys(keys),
        notes=repairs.notes,
        filters=repairs.filters,
    )


def about_keys(keys: Sequence[str]) -> tuple[str, ...]:
    """What must be known of the keys to read a split by them."""
    return (CHECKS_AFTER,) if "checks_after" in keys else ()


def share_at(curve: KaplanMeier, day: int, *, within: bool) -> pl.DataFrame:
    """Comeback share by `day` with its limits, one row a group; null outside the window.

    Where nothing has come back yet the log–log limits don't exist; the upper one is then exact for the repairs still
    followed.
    """
    at = curve.at([float(day)]).sort("group")
    none_yet = proportion_exact(np.zeros(at.height), at["at_risk"].to_numpy())["high"]
    share = 1 - pl.col("survival")
    return at.with_columns(none_yet=none_yet).select(
        pl.when(within).then(share).alias(f"share_{day}d"),
        pl.when(within).then(pl.when(share == 0).then(0.0).otherwise(1 - pl.col("high"))).alias(f"share_{day}d_low"),
        pl.when(within)
        .then(pl.when(share == 0).then("none_yet").otherwise(1 - pl.col("low")))
        .alias(f"share_{day}d_high"),
    )


def _first_visit_fix(curve: KaplanMeier, days: int) -> dict[str, pl.Series]:
    """The share of repairs without a comeback in the whole window, with its limits."""
    share, low, high = share_at(curve, days, within=True).get_columns()
    return {"first_visit_fix": 1 - share, "first_visit_fix_low": 1 - high, "first_visit_fix_high": 1 - low}


def repair_keys(by: Sequence[str], technicians: bool) -> list[str]:
    """The keys of `by` that repairs can be split by; a technician only where he may be named."""
    if "technician" in by and not technicians:
        raise FleetlensError(
            "technicians aren't named here",
            do="with everybody's agreement, set name_technicians = true under [people] in fleetlens.toml",
        )
    return chosen(by, (*COMEBACK_KEYS, *(["technician"] if technicians else [])))


def repair_rows(
    snapshot: Snapshot,
    component: str | None = None,
    days: int = 90,
    km: float = 5000,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    *,
    technicians: bool = False,
) -> Finding:
    """The repairs, each with its comeback or null, and the days it was followed; who did them where he may be named."""
    if days < 1 or not km > 0:
        raise FleetlensError(
            f"a window of {days} days or {km:,.0f} km holds no comeback",
            do="at least 1 day and more than 0 km",
        )
    bound = {"components": kept_components(snapshot, component, filters), **filters.bound()}
    rows = snapshot.frame(
        "findings/repair_rows", window_days=days, window_km=float(km), technicians=technicians, **bound
    ).drop(() if technicians else "technician")
    outside, reasonless = evidence.jobs_left_out(snapshot, filters)
    unread = rows["km"].null_count()
    assumed = [*reasonless, *evidence.readings(snapshot, filters)]
    if unread:
        assumed.append(f"{unread:,} of {rows.height:,} repairs have no odometer and are followed by days alone.")
    return Finding(
        question="repairs",
        rows=rows,
        method=(
            "A repair is a fault job and a component with a repairing action. It comes back with the "
            "vehicle's first later fault job "
            f"within {days} days and {km:,.0f} km that repairs the same component or shares a code; shares "
            "are one minus "
            "Kaplan–Meier with 95 % log–log limits."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("observed and followed", rows.height, "repairs"),),
        excluded=outside,
        assumed=tuple(assumed),
        notes=() if days >= max(SHARE_DAYS) else (f"The window of {days} days ends before {max(SHARE_DAYS)} days.",),
        filters=filters.named(),
    )
