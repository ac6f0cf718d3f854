"""The tables of a plan: tasks with their reasons, weeks and how full they are, parts to order, and what is left."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.advice.planning.packing import NO_WEEK, Tasks
from fleetlens.advice.planning.reasons import reason
from fleetlens.advice.planning.savings import drawn_savings
from fleetlens.advice.planning.weeks import Week
from fleetlens.advice.planning.wishes import PIN
from fleetlens.store.preferences import Preferences

__all__ = ["apart", "left", "parts", "planned", "week_rows"]

_TOLD = (
    "week_from",
    "vehicle_id",
    "registration",
    "component",
    "position",
    "action",
    "hours",
    "saving",
    "saving_low",
    "saving_high",
    "chance_before_service",
    "next_service_on",
    "age_km",
    "due_age",
    "due_on",
    "due_low",
    "due_high",
    "overdue",
    "wish",
    "why",
    "model",
    "duty",
    "depot",
    "advised_on",
)


Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


def planned(
    rows: pl.DataFrame, week: Ints, tasks: Tasks, over: Sequence[Week], wanted: Preferences
) -> tuple[pl.DataFrame, Floats]:
    """The planned tasks in the order of weeks and vehicles, and what they save together by draws, [draw]."""
    chosen = np.flatnonzero(week != NO_WEEK)
    own = rows[chosen.tolist()].with_columns(hours=pl.Series(tasks.hours[chosen], dtype=pl.Float64))
    drawn = drawn_savings(own, over, week[chosen], wanted.plan.visit_cost) if len(chosen) else np.zeros((1, 0))
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0) if len(chosen) else (np.empty(0), np.empty(0))
    told = own.with_columns(
        week_from=pl.Series([over[at].monday for at in week[chosen]], dtype=pl.Date),
        saving=pl.Series(tasks.saving[chosen, week[chosen]], dtype=pl.Float64),
        saving_low=pl.Series(low, dtype=pl.Float64),
        saving_high=pl.Series(high, dtype=pl.Float64),
        wish=pl.Series([PIN if at != NO_WEEK else None for at in tasks.pinned[chosen]], dtype=pl.String),
        visits=pl.len().over("vehicle_id"),
    )
    why = [reason(row, wanted) for row in told.iter_rows(named=True)]
    told = told.with_columns(why=pl.Series(why, dtype=pl.String))
    return told.select(_TOLD).sort("week_from", "vehicle_id", "component", "position"), drawn.sum(axis=1)


def left(rows: pl.DataFrame, week: Ints, tasks: Tasks, least: float) -> pl.DataFrame:
    """Tasks without a week that would save `least` or more in one, and all overdue ones; the greatest saving first."""
    best = np.where(tasks.allowed, tasks.saving, -np.inf).max(axis=1, initial=-np.inf)
    overdue = rows["overdue"].to_numpy().astype(bool)
    without = np.flatnonzero((week == NO_WEEK) & ((best > 0) | overdue))
    saving = pl.Series(np.where(best[without] > 0, best[without], tasks.saving[without].max(axis=1, initial=-np.inf)))
    because = [
        "no room in these weeks" if best[at] > 0 else f"overdue, but doing it now saves less than {least:,.0f}"
        for at in without
    ]
    told = rows[without.tolist()].with_columns(
        saving=saving.cast(pl.Float64), because=pl.Series(because, dtype=pl.String)
    )
    names = ["because", *(name for name in _TOLD if name in told.columns)]
    return told.select(names).sort(["saving", "vehicle_id", "component"], descending=[True, False, False])


def apart(rows: pl.DataFrame) -> pl.DataFrame:
    """Parts that can't be dated, by their reason."""
    names = ("vehicle_id", "registration", "component", "position", "because", "last_on", "last_km", "model", "depot")
    return rows.select(names).sort("because", "vehicle_id", "component")


def week_rows(planned: pl.DataFrame, over: Sequence[Week]) -> pl.DataFrame:
    """How full each week is."""
    room = pl.DataFrame(
        {
            "week_from": [week.monday for week in over],
            "first_open_day": [min(week.open_days, default=None) for week in over],
            "last_open_day": [max(week.open_days, default=None) for week in over],
            "open_days": [len(week.open_days) for week in over],
            "hours_room": [float(week.hours) for week in over],
            "vehicles_room": [week.visits for week in over],
        },
        schema_overrides={"first_open_day": pl.Date, "last_open_day": pl.Date},
    )
    taken = planned.group_by("week_from").agg(
        tasks=pl.len(),
        hours=pl.col("hours").sum(),
        vehicles=pl.col("vehicle_id").n_unique(),
        saving=pl.col("saving").sum(),
    )
    joined = room.join(taken, on="week_from", how="left", maintain_order="left")
    return joined.select(
        "week_from",
        "first_open_day",
        "last_open_day",
        "open_days",
        pl.col("tasks").fill_null(0).cast(pl.Int64),
        pl.col("vehicles").fill_null(0).cast(pl.Int64),
        "vehicles_room",
        pl.col("hours").fill_null(0.0),
        "hours_room",
        pl.col("saving").fill_null(0.0),
    )


def parts(planned: pl.DataFrame, numbers: pl.DataFrame) -> pl.DataFrame:
    """What to have ready for each week: parts to fit, with the number fitted most often, and parts to clean."""
    counted = planned.group_by("week_from", "component", "model", "action").agg(quantity=pl.len().cast(pl.Int64))
    return (
        counted.join(numbers.drop("fitted"), on=["component", "model"], how="left", nulls_equal=True)
        .with_columns(pl.when(pl.col("action") == "replace").then("part_number").alias("part_number"))
        .select("week_from", "component", "model", "action", "quantity", "part_number")
        .sort("week_from", "component", "model", "action", nulls_last=True)
    )
