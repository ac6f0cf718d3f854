"""Which task in which week: the packing that saves most under hours, bays and one visit a vehicle.

A mixed-integer program, solved by HiGHS through SciPy. It knows nothing of parts and money but the numbers given.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from fleetlens.errors import FleetlensError

__all__ = ["NO_WEEK", "Packing", "Room", "Tasks", "pack"]

NO_WEEK = -1  # not done within the plan
SECONDS = 20.0
GAP = 1e-3
_ALL_SETS = 5  # tasks on a vehicle, up to which every set of them is tried

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Tasks:
    """One row a task.

    `vehicle`: number of its vehicle, 0, 1, ...; `hours`: what it takes; `saving`: [task, week] money saved by doing it
    in that week, against not doing it within the plan; `allowed`: [task, week] whether it may be done then; `pinned`:
    the week it must be done in, or NO_WEEK.
    """

    vehicle: Ints
    hours: Floats
    saving: Floats
    allowed: Bools
    pinned: Ints


@dataclass(frozen=True, slots=True)
class Room:
    """What the workshop and the vehicles can take.

    `hours` and `visits`: [week] hours and vehicles it has room for. `visit_cost`: [vehicle, week] what bringing the
    vehicle in costs then: 0 where it comes anyway, more where a date that was agreed would move.
    """

    hours: Floats
    visits: Ints
    visit_cost: Floats


@dataclass(frozen=True, slots=True)
class Packing:
    """The week of each task (or NO_WEEK), the money saved, and how much more no plan could save, as a share of it."""

    week: Ints
    saved: float
    gap: float


def pack(tasks: Tasks, room: Room, *, seconds: float = SECONDS, gap: float = GAP) -> Packing:
    """The packing that saves most: each task once at most, one visit a vehicle, within the hours and visits of a week.

    Chosen among visits: a vehicle, a week and a set of its tasks. With up to five tasks on a vehicle every set that
    could be best is there; with more, those that some price of an hour would choose. Stops at a plan proved to be
    within `gap` of the best of these, or after `seconds`; `Packing.gap` says what was reached.
    Raises FleetlensError where what is pinned doesn't fit, naming the week by its number from 1.
    """
    _pinned_fits(tasks, room)
    visits = _visits(tasks, room)
    where = np.full(len(tasks.hours), NO_WEEK)
    if not len(visits.gain):
        return Packing(where, 0.0, 0.0)
    weeks, n = len(room.hours), len(visits.gain)
    each = np.arange(n)
    vehicle, row = np.unique(visits.vehicle, return_inverse=True)
    must = np.isin(vehicle, tasks.vehicle[tasks.pinned != NO_WEEK])
    found = milp(
        -visits.gain,
        integrality=np.ones(n, dtype=np.int64),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(csr_array((np.ones(n), (row, each)), shape=(len(vehicle), n)), must.astype(float), 1),
            LinearConstraint(csr_array((visits.hours, (visits.week, each)), shape=(weeks, n)), -np.inf, room.hours),
            LinearConstraint(csr_array((np.ones(n), (visits.week, each)), shape=(weeks, n)), -np.inf, room.visits),
        ],
        options={"time_limit": seconds, "mip_rel_gap": gap},
    )
    if found.x is None:
        raise FleetlensError(
            f"no plan was found in {seconds:g} seconds: {found.message}",
            do="plan fewer weeks or fewer components, or pin fewer tasks",
        )
    for visit in np.flatnonzero(found.x > 0.5):
        where[visits.members[visit]] = visits.week[visit]
    return Packing(where, float(-found.fun), max(0.0, float(found.mip_gap)))


@dataclass(frozen=True, slots=True)
class _Visits:
    """One row a possible visit: its vehicle, week, hours, what it saves, and its tasks."""

    vehicle: Ints
    week: Ints
    hours: Floats
    gain: Floats
    members: list[Ints]


def _visits(tasks: Tasks, room: Room) -> _Visits:
    """The visits that a best plan may hold."""
    order = np.argsort(tasks.vehicle, kind="stable")
    vehicles, begins, counts = np.unique(tasks.vehicle[order], return_index=True, return_counts=True)
    found: list[tuple[Ints, Ints, Floats, Floats, Ints, Bools]] = []
    for count in np.unique(counts):
        alike = counts == count  # all vehicles with so many tasks at once
        of = order[begins[alike][:, None] + np.arange(count)]  # [vehicle, task]
        pinned = tasks.pinned[of]
        saving = np.moveaxis(tasks.saving[of], 1, 2)  # [vehicle, week, task]
        per_hour = np.where(pinned != NO_WEEK, np.inf, saving.swapaxes(0, 1) / tasks.hours[of]).swapaxes(0, 1)
        sets = _sets(per_hour)  # [vehicle, week, set, task]
        hours = np.einsum("vwst,vt->vws", sets, tasks.hours[of])
        gain = np.einsum("vwst,vwt->vws", sets, saving) - room.visit_cost[vehicles[alike]][:, :, None]
        # A task may stand in a visit where it may be done then, or must be; a pinned task stands in no other visit.
        week = np.arange(len(room.hours))[None, :, None]
        at_pin = pinned[:, None, :] == week
        allowed = np.moveaxis(tasks.allowed[of], 1, 2) & (pinned[:, None, :] == NO_WEEK)
        holds = (~sets | (allowed | at_pin)[:, :, None, :]).all(axis=3)
        holds &= (sets | ~at_pin[:, :, None, :]).all(axis=3)
        has_pin = (pinned != NO_WEEK).any(axis=1)[:, None, None]
        holds &= ~has_pin | at_pin.any(axis=2)[:, :, None]
        holds &= has_pin | (gain > 0)
        kept = np.nonzero(holds & _undominated(hours, np.where(holds, gain, -np.inf)))
        found.append((vehicles[alike][kept[0]], kept[1], hours[kept], gain[kept], of[kept[0]], sets[kept]))
    if not found:
        return _Visits(*(np.empty(0, dtype=np.int64),) * 2, *(np.empty(0),) * 2, [])
    vehicle, in_week, hours_, gain_ = (np.concatenate([each[part] for each in found]) for part in range(4))
    members = [task[chosen] for *_, rows, masks in found for task, chosen in zip(rows, masks, strict=True)]
    return _Visits(vehicle, in_week, hours_, gain_, members)


def _sets(per_hour: Floats) -> Bools:
    """Sets of a vehicle's tasks, [vehicle, week, set, task]: all of them for few tasks, else by saving per hour."""
    vehicles, weeks, count = per_hour.shape
    if count <= _ALL_SETS:
        number = np.arange(1, 2**count)
        every = (number[:, None] >> np.arange(count)) % 2 == 1
        return np.broadcast_to(every, (vehicles, weeks, *every.shape))
    rank = np.argsort(np.argsort(-per_hour, axis=2, kind="stable"), axis=2)
    return np.asarray(rank[:, :, None, :] <= np.arange(count)[:, None])


def _undominated(hours: Floats, gain: Floats) -> Bools:
    """Sets that save more than every other set of the same vehicle and week with as few hours."""
    by_hours = np.lexsort((-gain, hours), axis=2)
    ordered = np.take_along_axis(gain, by_hours, axis=2)
    before = np.maximum.accumulate(ordered, axis=2)[:, :, :-1]
    better = np.concatenate([np.full((*ordered.shape[:2], 1), True), ordered[:, :, 1:] > before], axis=2)
    kept = np.empty_like(better)
    np.put_along_axis(kept, by_hours, better, axis=2)
    return kept


def _pinned_fits(tasks: Tasks, room: Room) -> None:
    """Raise FleetlensError for pins that no plan can hold."""
    pinned = tasks.pinned != NO_WEEK
    week, vehicle = tasks.pinned[pinned], tasks.vehicle[pinned]
    hours = np.bincount(week, tasks.hours[pinned], minlength=len(room.hours))
    visits = np.unique(np.stack([vehicle, week]), axis=1)
    if visits.shape[1] != len(np.unique(vehicle)):
        raise FleetlensError(
            "a vehicle has tasks pinned to different weeks, and comes in once in a plan",
            do="pin all tasks of a vehicle to one week",
        )
    for name, taken, room_for in (
        ("hours", hours, room.hours),
        ("vehicles", np.bincount(visits[1], minlength=len(room.visits)), room.visits),
    ):
        for over in np.flatnonzero(taken > room_for + 1e-9)[:1]:
            raise FleetlensError(
                f"what is pinned to week {over + 1} takes {taken[over]:g} {name}, and there is room for "
                f"{room_for[over]:g}",
                do="pin fewer tasks to that week, or set more room in the preferences",
            )
