"""The parts that were running on a past day: what their policy and life told of them then, and how they went on."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from fleetlens.advice.planning.candidates import Strata, staged
from fleetlens.findings.filters import Filters
from fleetlens.store.reader import Snapshot

__all__ = ["Tried", "tried_parts"]

_PART = ("vehicle_id", "component", "position", "began_job_id")


@dataclass(frozen=True, slots=True)
class Tried:
    """`rows`, one a part that can be tried; and how many can't, by reason: not found again (another position was named
    since, or a job corrected), without an odometer, in a stratum without a fit.
    """

    rows: pl.DataFrame
    lost: int
    unread: int
    unfitted: int


def tried_parts(then: Snapshot, now: Snapshot, strata: Strata, window: tuple[date, date], filters: Filters) -> Tried:
    """Parts running on the first day of the window as the record told of them `then`, with their outcome as of `now`.

    Added to the columns of candidates.staged: exit_age (where the part ended or was last under observation), failed,
    exit_days (from the first day), acts_at (the age at which the policy acts, null where it doesn't within the window),
    chance (of failing within the window at the vehicle's recent distance a day) and expected (failures expected over
    the distance that was really driven: the growth of the cumulative hazard).
    """
    since, until = window
    bound = {"components": strata.rows["component"].unique().sort().to_list(), **filters.bound()}
    running = staged(then.frame("findings/running_parts", **bound), strata)
    outcomes = now.frame("findings/life_outcomes", since=since, until=until, **bound)
    joined = running.join(outcomes, on=_PART, how="left", nulls_equal=True, maintain_order="left")
    found = joined.filter(pl.col("until_on").is_not_null())
    read = found.filter(pl.col("age_km").is_not_null() & pl.col("until_km").is_not_null())
    fitted = read.filter(pl.col("shape").is_not_null())
    days = (until - since).days
    exit_km = pl.coalesce("ended_km", "until_km")
    told = fitted.with_columns(
        pl.lit(since).alias("until"),
        pl.lit(until).alias("window_to"),
        days=pl.lit(days),
        exit_age=pl.max_horizontal(exit_km - pl.col("start_km"), "age_km"),
        until_age=pl.max_horizontal(pl.col("until_km") - pl.col("start_km"), "age_km"),
        failed=pl.col("ended").eq("failed").fill_null(False),
        exit_days=(pl.coalesce("ended_on", "until_on") - pl.lit(since)).dt.total_days().cast(pl.Float64),
    ).with_columns(
        expected=_hazard(pl.col("exit_age")) - _hazard(pl.col("age_km")),
        chance=1
        - (_hazard(pl.col("age_km")) - _hazard(pl.col("age_km") + pl.col("km_per_day").fill_null(0) * days)).exp(),
        acts_at=_acts_at(),
    )
    return Tried(told, joined.height - found.height, found.height - read.height, read.height - fitted.height)


def _hazard(age: pl.Expr) -> pl.Expr:
    """Cumulative hazard of the part's life at an age."""
    return (age / pl.col("scale")) ** pl.col("shape")


def _acts_at() -> pl.Expr:
    """The age at which a policy that is worth it acts, if the part gets there within the window."""
    at = pl.max_horizontal("due_age", "age_km")
    acts = pl.col("verdict").eq("worth it") & pl.col("due_age").is_not_null() & (at < pl.col("exit_age"))
    return pl.when(acts.fill_null(False)).then(at)
