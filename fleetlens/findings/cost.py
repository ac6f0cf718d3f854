"""Money and time off the road: by component, code, vehicle, model, duty or depot, and for each 1,000 km."""

import numpy as np
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.life_table import kept_components
from fleetlens.reliability.ratios import ratio_of_totals
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.store.reader import Snapshot

__all__ = ["COST_KEYS", "cost_rows", "costs"]

COST_KEYS = ("component", "code", "vehicle", "model", "duty", "depot")
PER_KM = 1000
DIGITS = 12
MONEY = ("labour_cost", "parts_cost")
MEDIANS = ("median_downtime_h", "median_open_h")
ENDS = {"value": "", "low": "_low", "high": "_high"}
SHARED = {
    "component": (
        "A row's money belongs to its component, so that components add up to the whole. A job's downtime counts for "
        "each component repaired in it, so that downtimes don't add up."
    ),
    "code": (
        "A job's whole money and downtime count for each code read at it, so that codes don't add up: two codes of one "
        "job both carry all of it. A code is not a cause."
    ),
}


def costs(
    snapshot: Snapshot,
    by: str = "component",
    *,
    downtime_rate: float = 0.0,
    currency: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Labour, parts, downtime and their sum for each group, for each 1,000 km, and how long fault jobs took.

    All observed jobs, planned ones too; `fault_cost` is what fault jobs cost of it. With a component in `filters` only
    the rows on it. `per_1000km` is over the distance of the vehicles that could have had such a job: those that carry
    the component, all kept ones for a code, else those of the group; its limits come from how much vehicles differ, so
    that one vehicle has none. The medians are Kaplan–Meier of fault jobs, those still open censored at the end of the
    record. `downtime_rate` prices an hour. Raises FleetlensError for another `by`, a price below 0, and a filter value
    that the store doesn't know.
    """
    bound = _bound(snapshot, by, filters)
    if not 0 <= downtime_rate < float("inf"):
        raise FleetlensError(f"an hour of downtime can't cost {downtime_rate:g}", do="0 or more")
    found = snapshot.frame("findings/costs", by=by, downtime_rate=float(downtime_rate), **bound)
    # Threads add up in any order: without the last digits the same question has the same answer.
    found = found.with_columns(pl.col(pl.Float64).round_sig_figs(DIGITS))
    times = snapshot.frame("findings/job_times", by=by, **bound)
    known = found["jobs"] > found["jobs_without_cost"]
    priced = known if not downtime_rate else known | (found["downtime_jobs"] > 0)
    rate = ratio_of_totals(
        found["seen"].to_numpy(),
        found["spent"].to_numpy(),
        found["km"].fill_null(0.0).to_numpy() / PER_KM,
        total_squared=found["spent_spent"].to_numpy(),
        exposure_squared=found["km_km"].fill_null(0.0).to_numpy() / PER_KM**2,
        product=found["spent_km"].to_numpy() / PER_KM,
    )
    name = "vehicle_id" if by == "vehicle" else by
    total = pl.sum_horizontal(*MONEY, "downtime_cost")
    rows = (
        found.with_columns(_times(times, found))
        .select(
            pl.col("name").alias(name),
            "jobs",
            total_cost=pl.when(priced).then(total),
            per_1000km=pl.when(priced).then(rate["ratio"]),
            per_1000km_low=pl.when(priced).then(rate["low"]),
            per_1000km_high=pl.when(priced).then(rate["high"]),
            fault_cost=pl.when(priced).then("fault_cost"),
            **{part: part for part in (*MONEY, *(["downtime_cost"] if downtime_rate else []))},
            jobs_without_cost="jobs_without_cost",
            vehicles="vehicles",
            km="km",
            downtime_h="downtime_h",
            downtime_jobs="downtime_jobs",
            fault_jobs="fault_jobs",
            open_jobs="open_jobs",
            **{f"{kind}{end}": f"{kind}{end}" for kind in MEDIANS for end in ENDS.values()},
        )
        .sort("total_cost", name, descending=[True, False], nulls_last=True)
    )
    counts = evidence.one_row(snapshot, "findings/costed_jobs", **bound)
    _, unread, driven = evidence.exposure(snapshot, filters)
    outside, reasonless = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question="cost",
        rows=rows,
        method=(
            "Labour and parts of all observed jobs as recorded, credits netted"
            f"{f', and {downtime_rate:,.2f} for each hour of downtime recorded' if downtime_rate else ''}. Cost per "
            "1,000 km: total over the distance of the vehicles that could have had such a job, with 95 % limits from "
            "the spread between vehicles (ratio estimate, log scale). Median hours of fault jobs: Kaplan–Meier, open "
            "jobs censored, 95 % log–log limits."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("with money recorded", counts["jobs"] - counts["without_cost"], "jobs"),
            *evidence.some(counts["without_cost"], "without any money, so that their cost isn't known", "jobs"),
            *evidence.some(counts["open_jobs"], "not closed yet, taken as open to the end of the record", "fault jobs"),
        ),
        excluded=outside + unread,
        assumed=(
            f"Amounts are in {currency}, as this workshop has set."
            if currency
            else "Amounts are in the store's one currency, which isn't named.",
            *((SHARED[by],) if by in SHARED else ()),
            *driven,
            *reasonless,
        ),
        notes=(),
        filters=filters.named(),
    )


def cost_rows(
    snapshot: Snapshot,
    by: str = "component",
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The jobs behind the figures, one row a job and component, a job and code, or a job."""
    bound = _bound(snapshot, by, filters)
    kind = by if by in SHARED else "vehicle"
    rows = snapshot.frame("findings/job_costs", by=kind, **bound)
    rows = rows.drop([name for name in SHARED if name != kind])
    outside, reasonless = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question="jobs with their cost",
        rows=rows,
        method=f"One row is an observed job{f' and a {kind}' if kind in SHARED else ''}; credits netted.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("observed", rows["job_id"].n_unique(), "jobs"),),
        excluded=outside,
        assumed=reasonless,
        filters=filters.named(),
    )


def _bound(snapshot: Snapshot, by: str, filters: Filters) -> dict[str, list[str] | None]:
    if by not in COST_KEYS:
        raise FleetlensError(f"can't split cost by {by!r}", do=f"one of: {', '.join(COST_KEYS)}")
    return {"components": kept_components(snapshot, None, filters), **filters.bound()}


def _times(times: pl.DataFrame, found: pl.DataFrame) -> list[pl.Series]:
    """For each row of `found`: its fault jobs, those open, and median hours off the road and from opened to closed."""
    places = found.select("name").with_row_index("place")
    at = times.join(places, on="name", how="inner", nulls_equal=True, maintain_order="left")
    place, size = at["place"].cast(pl.Int64).to_numpy(), found.height
    closed = at["closed"].to_numpy()
    columns = [
        pl.Series("fault_jobs", np.bincount(place, minlength=size)),
        pl.Series("open_jobs", np.bincount(place[~closed], minlength=size)),
    ]
    for name, kept in (
        ("median_downtime_h", at["downtime_h"].is_not_null().to_numpy()),
        ("median_open_h", np.ones(len(place), dtype=np.bool_)),
    ):
        hours = at["downtime_h" if name == "median_downtime_h" else "open_h"].to_numpy()[kept]
        curve = kaplan_meier(hours, closed[kept], group=place[kept], n_groups=size)
        median = curve.quantile(0.5)
        columns += [median[end].alias(f"{name}{tail}") for end, tail in ENDS.items()]
    return columns
