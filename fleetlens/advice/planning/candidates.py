"""The running parts that a plan may hold: by which policy, at what age, due when, how likely to fail before that."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from fleetlens.advice.planning.weeks import Week
from fleetlens.store.preferences import Service

__all__ = ["STALE_DAYS", "Candidates", "Strata", "candidates", "staged"]

STALE_DAYS = 60  # without an odometer for longer, a vehicle's distance is a guess (common practice, no source)
_FARTHEST_DAYS = 36_500


@dataclass(frozen=True, slots=True)
class Strata:
    """The policies by component and `keys`: the columns of `policies.Policies.strata`."""

    rows: pl.DataFrame
    keys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Candidates:
    """`rows`, one a part with a due age and a day; `apart`, those that can't be dated, with the reason; `unscheduled`,
    how many run in a stratum whose schedule isn't worth it.
    """

    rows: pl.DataFrame
    apart: pl.DataFrame
    unscheduled: int


def candidates(
    parts: pl.DataFrame,
    strata: Strata,
    rates: pl.DataFrame,
    weeks: Sequence[Week],
    service: Service,
) -> Candidates:
    """The parts that a plan of these weeks may hold.

    `parts` as findings/running_parts gives them, `rates` as findings/quarter_rates. Added to their columns: shape,
    scale and the fit's covariance for the life the part is in; action (clean or replace) with its hours; age_km now;
    due_age, due_km and due_on with due_low and due_high, by the slowest and the fastest quarter of the last year;
    overdue (when the plan begins) and due_in_plan (before it ends); next_service_on and chance_before_service;
    later_age, at the first service after the plan.
    """
    spread = rates.group_by("vehicle_id").agg(slow=pl.col("km_per_day").min(), fast=pl.col("km_per_day").max())
    rows = staged(parts, strata).join(spread, on="vehicle_id", how="left", maintain_order="left")
    worth = pl.col("verdict").eq("worth it").fill_null(False) & pl.col("due_age").is_not_null()
    kept = rows.filter(worth)
    apart = kept.with_columns(because=_undated()).filter(pl.col("because").is_not_null())
    kept = _dated(kept.filter(_undated().is_null()), weeks, service)
    return Candidates(kept, apart, rows.height - kept.height - apart.height)


def staged(parts: pl.DataFrame, strata: Strata) -> pl.DataFrame:
    """Running parts beside their policies: shape, scale and covariance of the life each is in, due_age, action, age_km,
    hours and most_cleanings. All are null for a part of a stratum that has none.
    """
    policies = strata.rows.rename({"cleanings": "most_cleanings"})
    joined = parts.join(
        policies, on=["component", *strata.keys], how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(_stage())
    replaced = pl.col("action") == "replace"
    return joined.with_columns(pl.when(replaced).then("replace_hours").otherwise("clean_hours").alias("hours"))


def _stage() -> list[pl.Expr]:
    """By which life the part runs, and what is planned for it: cleaning, or replacing once cleaned often enough."""
    cleaned = pl.col("began_as") == "cleaned"
    fitted = cleaned & pl.col("cleaned_shape").is_not_null()
    last = pl.col("cleanings") >= pl.col("most_cleanings")
    return [
        *(
            pl.when(fitted).then(f"cleaned_{name}").otherwise(f"new_{name}").alias(name)
            for name in ("shape", "scale", "var_log_shape", "var_log_scale", "cov_log")
        ),
        pl.when(cleaned).then("after_km").otherwise("first_km").alias("due_age"),
        pl.when(last.fill_null(False)).then(pl.lit("replace")).otherwise(pl.lit("clean")).alias("action"),
        (pl.col("now_km") - pl.col("start_km")).clip(lower_bound=0).alias("age_km"),
    ]


def _undated() -> pl.Expr:
    """Why a part can't be dated; null where it can."""
    return (
        pl.when(pl.col("now_km").is_null())
        .then(pl.lit("the vehicle has no usable odometer reading"))
        .when(pl.col("last_on").is_null() | ((pl.col("record_to") - pl.col("last_on")).dt.total_days() > STALE_DAYS))
        .then(pl.format("no odometer reading for more than {} days", pl.lit(STALE_DAYS)))
        .when(~(pl.col("km_per_day") > 0))
        .then(pl.lit("the vehicle isn't being driven"))
    )


def _dated(rows: pl.DataFrame, weeks: Sequence[Week], service: Service) -> pl.DataFrame:
    """With the day each part reaches its due age, the next service, and the chance of failing before that."""
    left = pl.col("due_age") - pl.col("age_km")
    next_km = pl.col("service_km") + service.every_km
    by_distance = _day("record_to", (next_km - pl.col("now_km")) / pl.col("km_per_day"))
    by_time = pl.col("service_on").dt.offset_by(f"{service.every_days}d")
    rows = rows.with_columns(
        due_km=pl.col("start_km") + pl.col("due_age"),
        due_on=_day("record_to", left / pl.col("km_per_day")),
        # A part past its due age was due on a day that the slowest and the fastest rate see differently, too.
        due_low=_day("record_to", left / pl.when(left > 0).then("fast").otherwise("slow")),
        due_high=_day("record_to", left / pl.when(left > 0).then("slow").otherwise("fast")),
        next_service_on=pl.min_horizontal(by_distance, by_time),
        overdue=pl.col("due_age") <= _age_on(pl.lit(weeks[0].monday)),
    )
    rows = rows.with_columns(
        later_age=_age_on(_service_after(weeks[-1].last_day, service)),
        due_in_plan=pl.col("due_age") <= _age_on(pl.lit(weeks[-1].last_day)),
    )
    ahead = (pl.col("next_service_on") - pl.col("record_to")).dt.total_days() * pl.col("km_per_day")
    hazard = ((pl.col("age_km") + ahead) / pl.col("scale")) ** pl.col("shape") - (
        pl.col("age_km") / pl.col("scale")
    ) ** pl.col("shape")
    # A service that was due already may come any day: no chance is told of failing before it.
    ahead_of_us = pl.col("next_service_on") > pl.col("record_to")
    return rows.with_columns(chance_before_service=pl.when(ahead_of_us).then(1 - (-hazard).exp()))


def _service_after(last: date, service: Service) -> pl.Expr:
    """The day of the first service after `last`; without a known one, a service's time after it."""
    days = pl.min_horizontal(pl.lit(float(service.every_days)), service.every_km / pl.col("km_per_day"))
    gone = (pl.lit(last) - pl.col("next_service_on")).dt.total_days()
    further = pl.when(gone < 0).then(0.0).otherwise((gone / days).floor() + 1) * days
    known = pl.col("next_service_on") + pl.duration(days=further.ceil().cast(pl.Int64))
    return pl.coalesce(known, pl.lit(last) + pl.duration(days=days.ceil().cast(pl.Int64)))


def _age_on(day: pl.Expr) -> pl.Expr:
    """The age of the part on that day, at the vehicle's recent distance a day."""
    return pl.col("age_km") + pl.col("km_per_day") * (day - pl.col("record_to")).dt.total_days()


def _day(since: str, days: pl.Expr) -> pl.Expr:
    """The date so many days after `since`; null where that is unknown, or a lifetime away."""
    known = days.is_finite() & (days.abs() < _FARTHEST_DAYS)
    return pl.col(since) + pl.duration(days=pl.when(known).then(days.floor()).cast(pl.Int64))
