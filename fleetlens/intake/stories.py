"""The likeliest story of one vehicle's odometer readings: which belong together, and where it starts anew."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleetlens.vocabulary.units import KM_PER_MILE

__all__ = ["DAY", "MAX_KM_PER_DAY", "Floats", "Moments", "Series", "lone", "possible_step", "series", "story"]

Floats = npt.NDArray[np.float64]
Moments = npt.NDArray[np.int64]  # microseconds

MAX_KM_PER_DAY = (
    2_000.0  # for each day begun between two readings: two drivers on a motorway round the clock stay below it
)
DAY = 86_400_000_000  # microseconds

# What each thing costs that a story has to explain away, in tenths of a reading set aside.
ASIDE = 10
RUN = 25  # a run of any length between two readings that an ordinary step joins: less than a break
BREAK = 29  # so that no block of fewer than three readings is worth one
JUMP = 15  # more than the one reading that a jump from one unit to the other may gain
_CELLS = 4_000_000  # of the matrix of steps that is held at once


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one vehicle in the order of time, then distance, and the vehicle's typical km per day."""

    at: Moments
    km: Floats
    pace: float

    def some(self, places: npt.NDArray[np.int64]) -> "Series":
        """These readings alone, with the same pace."""
        return Series(self.at[places], self.km[places], self.pace)


@dataclass(frozen=True, slots=True)
class _Best:
    """For each reading the best story that starts there: its cost, its readings set aside, its end, what comes next."""

    cost: npt.NDArray[np.int64]
    lost: npt.NDArray[np.int64]
    end: Floats
    onward: npt.NDArray[np.int64]


def possible_step(step: Floats | float, begun: Floats | float) -> npt.NDArray[np.bool_]:
    """Whether a vehicle can have gone so far in so many days begun; never backwards."""
    return np.asarray((np.asarray(step) >= 0) & (np.asarray(step) <= MAX_KM_PER_DAY * np.asarray(begun)))


def series(at: Moments, km: Floats) -> Series:
    """The readings with their pace: the lower median of the rising slopes to the next five readings; 0 without."""
    slopes = []
    for lag in range(1, min(6, at.size)):
        days = np.maximum((at[lag:] - at[:-lag]) / DAY, 1.0)
        slope = (km[lag:] - km[:-lag]) / days
        slopes.append(slope[slope > 0])
    rising = np.sort(np.concatenate(slopes)) if slopes else np.empty(0)
    return Series(at, km, float(rising[(rising.size - 1) // 2]) if rising.size else 0.0)


def lone(readings: Series) -> npt.NDArray[np.bool_]:
    """The single readings that contradict a neighbour where two before and two after go on without them.

    Going on is a possible step that is no jump (see `story`). Of two neighbours that could each be the wrong one none
    is told. Most contradictions are of this kind, and need no search.
    """
    at, km = readings.at, readings.km
    found = np.zeros(at.size, dtype=bool)
    if at.size < 5:
        return found

    def goes_on(over: int) -> npt.NDArray[np.bool_]:
        step, begun = km[over:] - km[:-over], _begun(at[over:] - at[:-over])
        return possible_step(step, begun) & ~_jumps(km[:-over], step, begun, readings.pace)

    onward, across = goes_on(1), goes_on(2)
    contradicts = ~possible_step(np.diff(km), _begun(np.diff(at)))
    found[2:-2] = onward[:-3] & onward[3:] & across[1:-1] & (contradicts[1:-2] | contradicts[2:-1])
    beside = np.zeros_like(found)
    beside[1:] |= found[:-1]
    beside[:-1] |= found[1:]
    return found & ~beside


def story(readings: Series) -> list[npt.NDArray[np.int64]]:
    """The readings kept, as segments; within one the distance never falls and no step is too fast.

    Of all stories the cheapest is told: a reading set aside costs 10, a break between segments 29, a jump (a step at
    more than three times the vehicle's own pace, but at no more than twice with the reading before it times 1.609344 or
    10) 15. A run of readings set aside costs at most 25 where an ordinary step (half to twice the pace) joins the
    readings around it, none of the run lies between these, and the next reading goes on from there, no faster than
    three times the pace. Of equally cheap stories: the one that sets aside fewer, then ends lowest, then is lowest from
    the first reading on. Readings that contradict nowhere are all kept. Quadratic in the readings.
    """
    at, km = readings.at, readings.km
    count = at.size
    if possible_step(np.diff(km), _begun(np.diff(at))).all():
        return [np.arange(count)]
    whole = np.zeros(count, dtype=np.int64)
    best = _Best(whole.copy(), whole.copy(), np.zeros(count), whole.copy())
    rows = max(_CELLS // count, 1)
    firm = _firm(readings)
    for first in reversed(range(0, count, rows)):
        last = min(first + rows, count)
        cost = _costs(readings, firm, first, last)
        for here in range(last - 1, first - 1, -1):
            _choose(best, km, cost[here - first], here)
    places = np.arange(count)
    here = _least(places * ASIDE + best.cost, places + best.lost, best.end, km)
    segments = [[here]]
    while best.onward[here] >= 0:
        later = int(best.onward[here])
        if possible_step(km[later] - km[here], _begun(at[later] - at[here])):
            segments[-1].append(later)
        else:
            segments.append([later])
        here = later
    return [np.array(segment) for segment in segments]


def _choose(best: _Best, km: Floats, cost: npt.NDArray[np.int64], here: int) -> None:
    """Fill in the best story from `here` on; those of the later readings are known."""
    rest = km.size - 1 - here
    best.cost[here], best.lost[here], best.end[here], best.onward[here] = rest * ASIDE, rest, km[here], -1
    if not rest:
        return
    later = slice(here + 1, None)
    total = cost[later] + best.cost[later]
    if total.min() > best.cost[here]:
        return
    lost = np.arange(rest) + best.lost[later]
    place = _least(total, lost, best.end[later], km[later])
    mine = (int(total[place]), int(lost[place]), float(best.end[later][place]))
    if mine <= (int(best.cost[here]), int(best.lost[here]), float(best.end[here])):
        best.cost[here], best.lost[here], best.end[here] = mine
        best.onward[here] = here + 1 + place


def _least(cost: npt.NDArray[np.int64], lost: npt.NDArray[np.int64], end: Floats, km: Floats) -> int:
    """The place of the least cost; of several the fewest lost, then the lowest end, the lowest distance, the first."""
    among = np.flatnonzero(cost == cost.min())
    for values in (lost, end, km):
        if among.size == 1:
            break
        mine = values[among]
        among = among[mine == mine.min()]
    return int(among[0])


def _costs(readings: Series, firm: npt.NDArray[np.bool_], first: int, last: int) -> npt.NDArray[np.int64]:
    """What going on from each reading of `first` to `last` (a row) to each reading (a column) costs."""
    at, km, pace = readings.at, readings.km, readings.pace
    places = np.arange(at.size)
    skipped = places - places[first:last, None] - 1
    gap, step = at - at[first:last, None], km - km[first:last, None]
    begun = _begun(gap)
    possible = possible_step(step, begun)
    ordinary = (step >= pace / 2 * (gap / DAY)) & (step <= 2 * pace * begun)
    above = np.where((skipped >= 0) & (step >= 0), km, np.inf)
    lowest = np.full_like(above, np.inf)
    np.minimum.accumulate(above[:, :-1], axis=1, out=lowest[:, 1:])
    run = possible & ordinary & firm & (km < lowest)
    between = np.where(run, np.minimum(skipped * ASIDE, RUN), skipped * ASIDE)
    jump = _jumps(km[first:last, None], step, begun, pace)
    return between + np.where(possible, np.where(jump, JUMP, 0), BREAK)


def _firm(readings: Series) -> npt.NDArray[np.bool_]:
    """Which readings are borne out by the next one in time: it goes on at no more than three times the pace."""
    step, begun = np.diff(readings.km), _begun(np.diff(readings.at))
    borne_out = possible_step(step, begun) & (step <= 3 * readings.pace * begun)
    return np.append(borne_out, False)


def _jumps(km: Floats, step: Floats, begun: Floats, pace: float) -> npt.NDArray[np.bool_]:
    """Whether a step is far beyond the pace, and an ordinary one if the reading before is in another unit."""
    jump = np.zeros(np.shape(step), dtype=bool)
    for factor in (KM_PER_MILE, 10.0):
        rest = km + step - factor * km
        jump |= (rest >= 0) & (rest <= 2 * pace * begun)
    return np.asarray(jump & (step > 3 * pace * begun))


def _begun(gap: Moments) -> Floats:
    """Days begun in so many microseconds."""
    days: Floats = (gap // DAY + 1).astype(np.float64)
    return days
