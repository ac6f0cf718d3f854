"""What a planned renewal and a failure cost: as the user says, else learned from the store's own jobs."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.store.reader import Snapshot

__all__ = ["Costs", "costs"]


@dataclass(frozen=True, slots=True)
class Costs:
    """`rows` has component, planned and failure (currency; null where unknown); `told` says where each came from."""

    rows: pl.DataFrame
    told: tuple[str, ...]


def costs(
    snapshot: Snapshot,
    components: list[str],
    filters: Filters,
    *,
    planned_cost: float | None,
    failure_cost: float | None,
    downtime_rate: float,
) -> Costs:
    """Cost of a planned renewal and of a failure on the road for each of `components`.

    Learned ones are medians of labour and parts, amounts of 0 and credits left out. Planned: the component's rows of
    preventive cleanings, without any of the other preventive renewals, without any of the cleanings after a failure.
    Failure: the whole jobs that ended a life in failure, diagnosis and recovery included, with `downtime_rate` for each
    hour of downtime. Raises FleetlensError for an amount of 0 or less, and for a negative downtime rate.
    """
    for name, amount in (("planned cost", planned_cost), ("failure cost", failure_cost)):
        if amount is not None and not 0 < amount < float("inf"):
            raise FleetlensError(f"a {name} of {amount} can't be", do="an amount above 0")
    if not 0 <= downtime_rate < float("inf"):
        raise FleetlensError(f"a downtime rate of {downtime_rate} can't be", do="an amount of 0 or more")
    endings = snapshot.frame("findings/ending_costs", components=components, **filters.bound())
    rows, told = [], []
    for component in components:
        own = endings.filter(pl.col("component") == component)
        planned, planned_words = _given(planned_cost) or _planned(own)
        failure, failure_words = _given(failure_cost) or _failure(own, downtime_rate)
        rows.append({"component": component, "planned": planned, "failure": failure})
        told.append(f"{component}: planned renewal {planned_words}; failure {failure_words}.")
    if failure_cost is None and not downtime_rate:
        told.append("Hours off the road are not priced; with a rate for them a schedule pays sooner.")
    schema = {"component": pl.String, "planned": pl.Float64, "failure": pl.Float64}
    return Costs(pl.DataFrame(rows, schema=schema), tuple(told))


def _given(amount: float | None) -> tuple[float | None, str] | None:
    return None if amount is None else (amount, f"{amount:,.2f} as set")


def _planned(own: pl.DataFrame) -> tuple[float | None, str]:
    preventive, cleaned = pl.col("ended") == "preventive", pl.col("began_as") == "cleaned"
    for rule, words in (
        (preventive & cleaned, "preventive cleanings"),
        (preventive, "preventive renewals"),
        (cleaned, "cleanings after a failure, there being no planned ones"),
    ):
        amounts = own.filter(rule & (pl.col("cost") > 0))["cost"]
        if len(amounts):
            return _median(amounts), f"{_median(amounts):,.2f}, the median of {len(amounts):,} {words}"
    return None, "unknown: no cost is recorded; set a planned cost"


def _failure(own: pl.DataFrame, downtime_rate: float) -> tuple[float | None, str]:
    failed = own.filter((pl.col("ended") == "failed") & (pl.col("job_cost") > 0)).select(
        cost=pl.col("job_cost") + downtime_rate * pl.col("downtime_h").fill_null(0)
    )["cost"]
    if not len(failed):
        return None, "unknown: no cost is recorded; set a failure cost"
    priced = f", with downtime at {downtime_rate:,.2f} an hour" if downtime_rate else ""
    return _median(failed), f"{_median(failed):,.2f}, the median of {len(failed):,} whole jobs{priced}"


def _median(amounts: pl.Series) -> float:
    middle: Any = amounts.median()
    return float(middle)
