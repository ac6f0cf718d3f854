"""Histories of repairable units as arrays: when each was under observation, and its events."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray, Lives, check, floats

__all__ = ["Histories", "histories", "owners"]


@dataclass(frozen=True, slots=True, eq=False)
class Histories:
    """Units from the age `start` to `end`, their `group`, and one event an index: its unit (`owner`) and age.

    `last` marks the event that ended each unit's observation, where one did: it tells nothing about a trend.
    """

    start: FloatArray
    end: FloatArray
    group: IntArray
    n_groups: int
    owner: IntArray
    time: FloatArray
    last: BoolArray

    def per_group(self, of_events: FloatArray | None = None) -> FloatArray:
        """Sum over the events of each group, or their number."""
        groups = self.group[self.owner]
        return np.bincount(groups, of_events, minlength=self.n_groups).astype(np.float64)


def owners(unit: npt.ArrayLike, times: FloatArray, units: Lives) -> IntArray:
    """The unit of each event; raises FleetlensError where one is not under observation then."""
    owner = np.asarray(unit, dtype=np.int64) if len(times) else np.empty(0, dtype=np.int64)
    if owner.shape != times.shape or (owner < 0).any() or (owner >= len(units.end)).any():
        raise FleetlensError("'unit' must be one index of a unit for each event", do="number the units from 0")
    outside = (times <= units.entry[owner]) | (times > units.end[owner])
    if outside.any():
        row = int(np.flatnonzero(outside)[0])
        raise FleetlensError(
            f"{int(outside.sum())} events lie outside their unit's time under observation",
            where=f"event {row}: time {times[row]:g}, unit {owner[row]}",
            do="leave them out and list them, or correct start and end",
        )
    return owner


def histories(
    unit: npt.ArrayLike,
    time: npt.ArrayLike,
    start: npt.ArrayLike | None,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None,
    *,
    ended_by_event: npt.ArrayLike,
    n_groups: int | None,
) -> Histories:
    """The histories, checked; `start` None is age 0. `ended_by_event`: one for all units or one a unit.

    Raises FleetlensError for arrays that don't match, ages below 0, units that end at or before their start, events
    outside their unit's time under observation, and units said to end by an event that don't.
    """
    ends = floats(end, "end")
    begun = np.zeros(len(ends)) if start is None else floats(start, "start", len(ends))
    if (begun < 0).any():
        raise FleetlensError("a unit's age at the start is below 0", do="count its age from when it was new")
    units = check(ends, np.zeros(len(ends), dtype=np.bool_), begun, group, n_groups)
    times = floats(time, "time")
    owner = owners(unit, times, units)
    ended = np.asarray(ended_by_event, dtype=np.bool_)
    if ended.shape not in ((), ends.shape):
        raise FleetlensError("'ended_by_event' must be one for all units or one a unit", do="False: ended by a date")
    marked = np.broadcast_to(ended, ends.shape)
    at_end = np.flatnonzero(marked[owner] & (times == ends[owner]))
    ending, first = np.unique(owner[at_end], return_index=True)
    if len(ending) < marked.sum():
        raise FleetlensError(
            f"{int(marked.sum()) - len(ending)} units end by an event, but have none at their end",
            do="give the age of the last event as their end, or say that they ended by a date",
        )
    last = np.zeros(len(times), dtype=np.bool_)
    last[at_end[first]] = True
    return Histories(begun, ends, units.group, units.n_groups, owner, times, last)
