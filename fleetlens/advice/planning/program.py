"""Running parts, wishes and weeks as the numbers that the packing takes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.advice.planning.packing import NO_WEEK, Room, Tasks
from fleetlens.advice.planning.weeks import Week
from fleetlens.advice.planning.wishes import EXCLUDE, PIN, Wish, matching
from fleetlens.store.preferences import Preferences

__all__ = ["Program", "program", "without"]

UNKNOWN_HOURS = 2.0  # where neither the preferences nor the jobs tell (no source; said in the answer)


@dataclass(frozen=True, slots=True)
class Program:
    """Tasks and room for the packing, with what was assumed and what became of the wishes, in sentences."""

    tasks: Tasks
    room: Room
    assumed: tuple[str, ...]
    notes: tuple[str, ...]


def without(rows: pl.DataFrame, wishes: Sequence[Wish]) -> tuple[pl.DataFrame, list[str]]:
    """The rows without those that a wish leaves out, and what was left out."""
    out: set[int] = set()
    notes = []
    for wish in wishes:
        if wish.kind == EXCLUDE:
            about = matching(wish, rows)
            out.update(about)
            notes.append(f"{wish}: left out as asked ({_tasks(len(about))}).")
    return rows.with_row_index("row").filter(~pl.col("row").is_in(sorted(out))).drop("row"), notes


def program(
    rows: pl.DataFrame,
    saving: npt.NDArray[np.float64],
    over: Sequence[Week],
    wishes: Sequence[Wish],
    wanted: Preferences,
) -> Program:
    """The numbers for `rows`, whose `saving` is [row, week]. A vehicle's visit is free in the week of its service."""
    vehicles = rows["vehicle_id"].unique(maintain_order=True)
    number = {vehicle: at for at, vehicle in enumerate(vehicles)}
    of = np.array([number[vehicle] for vehicle in rows["vehicle_id"]], dtype=np.int64)
    cost = np.full((len(vehicles), len(over)), wanted.plan.visit_cost)
    for vehicle, day in rows.select("vehicle_id", "next_service_on").unique().iter_rows():
        if day is not None and day <= over[-1].last_day:
            cost[number[vehicle], _week_of(max(day, over[0].monday), over)] = 0.0
    pinned, notes, agreed = np.full(rows.height, NO_WEEK), [], set()
    for wish in wishes:
        if wish.kind == EXCLUDE or wish.monday is None:
            continue
        about = list(matching(wish, rows))
        if not about:
            notes.append(f"{wish}: no task of this plan, so the wish ({wish.kind}) holds nothing.")
        elif not over[0].monday <= wish.monday <= over[-1].monday:
            notes.append(f"{wish}: the week from {wish.monday} lies outside this plan.")
        elif wish.kind == PIN:
            pinned[about] = _week_of(wish.monday, over)
        else:
            agreed.add((int(of[about[0]]), _week_of(wish.monday, over)))
    for vehicle_number, week in agreed:
        cost[vehicle_number, week] -= wanted.plan.move_cost
    open_ = np.array([bool(week.open_days) for week in over])
    unknown = rows["hours"].null_count()
    return Program(
        Tasks(
            of,
            rows["hours"].fill_null(UNKNOWN_HOURS).to_numpy(),
            saving,
            open_ & (saving >= wanted.plan.least_saving),
            pinned,
        ),
        Room(np.array([week.hours for week in over]), np.array([week.visits for week in over]), cost),
        (f"{_tasks(unknown)} without known hours take {UNKNOWN_HOURS:g} hours each here; preferences can say.",)
        if unknown
        else (),
        tuple(notes),
    )


def _week_of(day: date, over: Sequence[Week]) -> int:
    return (day - over[0].monday).days // 7


def _tasks(count: int) -> str:
    return "1 task" if count == 1 else f"{count:,} tasks"
