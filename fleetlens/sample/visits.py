"""Planned visits: services by distance, inspections by date, one campaign; none of them knows what has failed."""

from dataclasses import dataclass

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import KM_STRIDE, Fleet, day_number

SCHEDULED, INSPECTION, CAMPAIGN = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Visits:
    """Planned visits, a row each, by van and km; `nth` counts those of one kind on one van."""

    van: Ints
    day: Floats
    km: Floats
    kind: Ints
    nth: Ints


@dataclass(frozen=True, slots=True)
class Stops:
    """Moments of vans to search in: `key` is van and km in one sorted number, `ref` what stands there."""

    key: Floats
    km: Floats
    van: Ints
    ref: Ints

    def after(self, van: Ints, km: Floats) -> tuple[Floats, Ints]:
        """The first stop of each van beyond `km`: its km (infinite where there is none) and its ref (else -1)."""
        if not self.key.size:
            return np.full(van.size, np.inf), np.full(van.size, -1, np.int64)
        at = np.searchsorted(self.key, van * KM_STRIDE + km, side="right")
        inside = np.minimum(at, self.key.size - 1)
        there = (at < self.key.size) & (self.van[inside] == van)
        return np.where(there, self.km[inside], np.inf), np.where(there, self.ref[inside], -1)

    def before(self, van: Ints, km: Floats) -> tuple[Floats, Ints]:
        """The last stop of each van short of `km`: its km (minus infinity if there is none) and its ref (else -1)."""
        if not self.key.size:
            return np.full(van.size, -np.inf), np.full(van.size, -1, np.int64)
        at = np.searchsorted(self.key, van * KM_STRIDE + km, side="left") - 1
        inside = np.maximum(at, 0)
        there = (at >= 0) & (self.van[inside] == van)
        return np.where(there, self.km[inside], -np.inf), np.where(there, self.ref[inside], -1)


def stops(van: Ints, km: Floats, ref: Ints) -> Stops:
    """Stops in any order, made ready to search."""
    key = van * KM_STRIDE + km
    order = np.argsort(key, kind="stable")
    return Stops(key[order], km[order], van[order], ref[order])


def chosen(visits: Visits, which: Bools) -> Stops:
    """The stops at some of the visits; ref is the row of the visit."""
    (rows,) = np.nonzero(which)
    return Stops(visits.van[rows] * KM_STRIDE + visits.km[rows], visits.km[rows], visits.van[rows], rows)


def _working_day(day: Floats) -> Floats:
    """The day itself, or the Monday after a weekend (1970-01-01 was a Thursday)."""
    weekday = (np.floor(day) + 3) % 7
    return np.asarray(day + np.where(weekday >= 5, 7 - weekday, 0))


def _counted(limit: Ints) -> tuple[Ints, Ints]:
    """Row numbers repeated `limit` times, and 1, 2, ... within each."""
    row = np.repeat(np.arange(limit.size, dtype=np.int64), limit)
    first = np.repeat(np.cumsum(limit) - limit, limit)
    return row, np.arange(row.size, dtype=np.int64) - first + 1


def plan(chance: Chance, fleet: Fleet) -> Visits:
    """All planned visits of the vans, from going into service to the end."""
    interval = np.array([model.service_km for model in scenario.MODELS])[fleet.model]
    van, nth = _counted(((fleet.end_km - fleet.in_service_km) // interval).astype(np.int64) + 1)
    slack = chance.between(-0.05, 0.05, "service slack", fleet.number[van], nth)
    scheduled = _working_day(fleet.day_of(van, fleet.in_service_km[van] + interval[van] * (nth + slack)))
    parts = [(van, scheduled, np.full(van.size, SCHEDULED), nth)]

    van, nth = _counted((fleet.until - fleet.in_service) // scenario.INSPECTION_DAYS)
    slack = chance.between(-12, 12, "inspection slack", fleet.number[van], nth)
    inspected = _working_day(fleet.in_service[van] + scenario.INSPECTION_DAYS * nth + slack)
    parts.append((van, inspected, np.full(van.size, INSPECTION), nth))

    start = day_number(scenario.CAMPAIGN_FROM)
    called = (
        (fleet.model == scenario.CAMPAIGN_MODEL)
        & (fleet.in_service < start - 365)
        & chance.happens(scenario.CAMPAIGN_SHARE, "campaign", fleet.number)
    )
    van = np.nonzero(called)[0].astype(np.int64)
    called_in = _working_day(chance.between(start, start + scenario.CAMPAIGN_DAYS, "campaign day", fleet.number[van]))
    parts.append((van, called_in, np.full(van.size, CAMPAIGN), np.ones(van.size, np.int64)))

    van, day, kind, nth = (np.concatenate(column) for column in zip(*parts, strict=True))
    km = fleet.odometer(van, day)
    keep = (day < fleet.until[van]) & (km < fleet.end_km[van]) & (day > fleet.in_service[van] + 1)
    order = np.lexsort((kind[keep], km[keep], van[keep]))
    return Visits(van[keep][order], day[keep][order], km[keep][order], kind[keep][order], nth[keep][order])
