"""One vehicle's contradicting readings explained: a wrong unit, tenths, a filler, a typo, or another instrument."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fleetlens.intake.stories import DAY, Floats, Moments, Series, lone, possible_step, series, story
from fleetlens.vocabulary.units import KM_PER_MILE

__all__ = ["Explained", "explain"]

FACTORS = {KM_PER_MILE: "unit", 1 / KM_PER_MILE: "unit", 0.1: "tenths", 10.0: "tenths"}
FILLERS = (0.0, 1.0, 123_456.0, 999_999.0)
FULL = (100_000.0, 1_000_000.0)  # where an odometer of five or six digits starts again
SEGMENT_DAYS = 30
RECENT_DAYS = 90  # as in the mart vehicle_record

Places = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Explained:
    """For each reading of a vehicle: is it used, as what, in which segment (from 1), with which distances.

    `km` is the distance used, or the one read where it isn't; `proposed` is NaN where no correction fits.
    """

    good: Marks
    kind: list[str]
    segment: Places
    km: Floats
    proposed: Floats


def explain(at: Moments, km: Floats, *, apply: bool) -> Explained:
    """The judgement of one vehicle's readings, in the order of time and distance; see `fleetlens.intake.odometer`."""
    readings = series(at, km)
    good, segment, factor = _settle(readings)
    fixed = ~np.isnan(factor)
    used = good | fixed if apply else good
    read = np.where(fixed, km * factor, km)  # what the instrument of the segment should have shown
    offset = _offsets(readings, read, good, used, segment)
    shown = read + offset[segment - 1]
    settled = np.flatnonzero(good)
    inner = (np.arange(at.size) > settled[0]) & (np.arange(at.size) < settled[-1])
    kinds = []
    for place in range(at.size):
        if good[place]:
            kinds.append("as read" if segment[place] == 1 else "runs on")
        elif fixed[place]:
            kinds.append("corrected" if apply else FACTORS[float(factor[place])])
        elif _is_filler(km[place]):
            kinds.append("filler")
        else:
            kinds.append("typo" if inner[place] else "unsettled")
    return Explained(used, kinds, segment, np.where(used, shown, km), np.where(fixed, shown, np.nan))


def _settle(readings: Series) -> tuple[Marks, Places, Floats]:
    """Which readings stand, the segment of each reading, and the factor that mends it (NaN: none).

    The story is told again without any segment that turns out to be none: too short, without distance, or the
    neighbour in another unit, of which the smaller goes. Where more readings are mended by a unit than stand, those
    stand instead.
    """
    km = readings.km
    alive = ~lone(readings)
    turned = False
    while True:
        places = np.flatnonzero(alive)
        segments = [places[found] for found in story(readings.some(places))]
        flawed = _flawed(readings, segments)
        if flawed.size:
            alive[flawed] = False
            continue
        good, segment = _spread(segments, km.size)
        factor = _mended(readings, good, segment)
        if turned:
            return good, segment, factor
        turned = True
        for number, standing in enumerate(segments, 1):
            for by in (KM_PER_MILE, 1 / KM_PER_MILE):
                others = (factor == by) & (segment == number)
                if others.sum() > (km[standing] > 0).sum():
                    alive[standing[km[standing] > 0]] = False
                    alive[others] = True
        if (alive & good).sum() == good.sum():
            return good, segment, factor


def _flawed(readings: Series, segments: list[Places]) -> Places:
    """The readings of one segment that is none; empty where all are sound. A reading of 0 is 0 in every unit."""
    at, km = readings.at, readings.km
    for before, after in pairwise(segments):
        gap = float(at[after[0]] - at[before[-1]])
        for factor in FACTORS:
            if _runs_on(km[after[0]] * factor - km[before[-1]], gap, readings.pace):
                smaller = before if before.size < after.size else after
                if (km[smaller] > 0).any():
                    return smaller[km[smaller] > 0]
    if len(segments) > 1:
        weak = [one for one in segments if at[one[-1]] - at[one[0]] < SEGMENT_DAYS * DAY or km[one[-1]] == km[one[0]]]
        if weak:
            return min(reversed(weak), key=lambda one: one.size)
    return np.empty(0, dtype=np.int64)


def _runs_on(step: float, gap: float, pace: float) -> bool:
    """Whether a step is one that the vehicle makes: forward, at no more than twice its own pace."""
    begun = gap // DAY + 1
    return 0 <= step <= 2 * pace * begun and bool(possible_step(step, begun))


def _spread(segments: list[Places], count: int) -> tuple[Marks, Places]:
    """Which readings stand, and for each the segment: its own, else that of the one before, else the first."""
    good, segment = np.zeros(count, dtype=bool), np.zeros(count, dtype=np.int64)
    for number, places in enumerate(segments, 1):
        good[places], segment[places] = True, number
    return good, np.maximum(np.maximum.accumulate(segment), 1)


def _mended(readings: Series, good: Marks, segment: Places) -> Floats:
    """The factor by which each reading set aside fits between its neighbours, those mended before it included.

    Where a neighbour is missing, or belongs to another instrument, it must run on from the other. Of several factors
    the one that comes closest to the line between the neighbours.
    """
    at, km, pace = readings.at, readings.km, readings.pace
    factor = np.full(at.size, np.nan)
    settled = np.flatnonzero(good)
    first = before = int(settled[0])
    low = high = float(km[first])
    for place in range(first + 1, at.size):
        if good[place]:
            before, low = place, float(km[place])
            continue
        gap = float(at[place] - at[before])
        later = settled[np.searchsorted(settled, place) :][:1]
        if later.size and segment[later[0]] == segment[place]:
            ahead, top = float(at[later[0]] - at[place]), float(km[later[0]])
            expected = low + (top - low) * (gap / (gap + ahead) if gap + ahead else 0.5)
            fits = [by for by in FACTORS if _between(km[place] * by, low, gap, top, ahead)]
        else:
            expected = low + pace * gap / DAY
            fits = [by for by in FACTORS if _runs_on(km[place] * by - low, gap, pace)]
        if fits and not _is_filler(km[place]):
            factor[place] = _closest(fits, km[place], expected)
            before, low = place, float(km[place] * factor[place])
    after = first
    for place in range(first - 1, -1, -1):
        gap = float(at[after] - at[place])
        fits = [by for by in FACTORS if _runs_on(high - km[place] * by, gap, pace)]
        if fits and not _is_filler(km[place]):
            factor[place] = _closest(fits, km[place], high - pace * gap / DAY)
            after, high = place, float(km[place] * factor[place])
    return factor


def _between(value: float, low: float, gap: float, top: float, ahead: float) -> bool:
    """Whether a distance can have been read `gap` after `low` and `ahead` before `top` (microseconds)."""
    return bool(possible_step(value - low, gap // DAY + 1) and possible_step(top - value, ahead // DAY + 1))


def _closest(factors: list[float], km: float, expected: float) -> float:
    return min(factors, key=lambda by: (abs(km * by - expected), by))


def _offsets(readings: Series, read: Floats, good: Marks, used: Marks, segment: Places) -> Floats:
    """What each segment's readings need on top, so that it runs on from the one before at its recent rate."""
    at = readings.at
    offsets = np.zeros(int(segment.max()))
    for number in range(2, offsets.size + 1):
        earlier = np.flatnonzero(used & (segment == number - 1))
        first, last = int(np.flatnonzero(good & (segment == number))[0]), int(earlier[-1])
        gap = float(at[first] - at[last])
        span = at[last] - at[earlier]
        base = earlier[span >= RECENT_DAYS * DAY][-1:] if (span >= RECENT_DAYS * DAY).any() else earlier[:1]
        days = float(at[last] - at[base[0]]) / DAY
        rate = float(read[last] - read[base[0]]) / days if days else 0.0
        way = rate * gap / DAY
        joined = float(read[last]) + way - float(read[first])
        for full in (whole * unit for whole in FULL for unit in (1.0, KM_PER_MILE)):
            if 0.9 * full <= read[last] <= full and abs(full - joined) <= way / 2 + rate:
                joined = full
        offsets[number - 1] = offsets[number - 2] + joined
    return offsets


def _is_filler(km: float) -> bool:
    """Whether the figure, in km or in miles, is one that people type where they have none."""
    return any(abs(km - figure * unit) < 1e-6 * max(figure, 1.0) for figure in FILLERS for unit in (1.0, KM_PER_MILE))
