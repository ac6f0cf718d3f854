"""The visits to workshops that the record shows: planned visits, fault jobs, and the visits where little was found."""

from dataclasses import dataclass

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.lives import FAULT, Lives, soon_after, workshop_of
from fleetlens.sample.parts import PARTS, REPLACED
from fleetlens.sample.visits import Visits

VISIT, REPAIR_JOB, WRONG_JOB, RETURN_JOB, REDO_JOB, MINOR_JOB = 0, 1, 2, 3, 4, 5
"""Where a job comes from: a planned visit, a failure, a failure treated as something else, a return where nothing was
found, a return to adjust a bad repair, a complaint of no followed failure. Its `ref` is the row of the visit or of the
life it belongs to; of the last kind, what it turned out to be."""

REASONS = ("breakdown", "defect", "scheduled", "inspection", "campaign", "warranty")
BREAKDOWN, DEFECT, WARRANTY = 0, 1, 5
REASON_OF_VISIT = np.array([2, 3, 4])

NFF, REGENERATION, CHARGE, SMALL_REPAIR = 0, 1, 2, 3
"""What a visit for no followed failure turns out to be."""

HALF_YEAR = 182
WARRANTY_KM = 20_000
CLAIMED = 0.6  # of the replaced parts that fail younger than that


@dataclass(frozen=True, slots=True)
class Jobs:
    """Jobs, a row each, by van and time; `nth` counts those of one van, `ref` see above, `day` since 1970."""

    van: Ints
    day: Floats
    km: Floats
    source: Ints
    ref: Ints
    reason: Ints
    workshop: Ints
    hours: Floats
    nth: Ints

    def row_of(self, source: int, size: int) -> Ints:
        """For each visit or life (`size` of them) the row of its job of this source; -1 where the record has none."""
        rows = np.full(size, -1, np.int64)
        mine = np.nonzero(self.source == source)[0]
        rows[self.ref[mine]] = mine
        return rows


@dataclass(frozen=True, slots=True)
class _Some:
    """Jobs of one source, in any order and whether recorded or not."""

    source: int
    van: Ints
    day: Floats
    km: Floats
    ref: Ints
    reason: Ints
    workshop: Ints


def build(chance: Chance, fleet: Fleet, visits: Visits, lives: Lives, coded: Bools) -> Jobs:
    """The jobs inside each van's record, in the order of time; `coded`: the life's failure sets a code."""
    pieces = [
        _planned(chance, fleet, visits),
        *_failures(chance, fleet, lives),
        *_returns(chance, fleet, lives, coded),
        _minor(chance, fleet),
    ]
    source = np.concatenate([np.full(piece.van.size, piece.source) for piece in pieces])
    van, ref, reason, workshop = (
        np.concatenate([getattr(piece, name) for piece in pieces]) for name in ("van", "ref", "reason", "workshop")
    )
    day, km = (np.concatenate([getattr(piece, name) for piece in pieces]) for name in ("day", "km"))
    order = np.nonzero((day >= fleet.seen_from[van]) & (day < fleet.until[van]))[0]
    order = order[np.lexsort((ref[order], source[order], day[order], van[order]))]
    van, reason = van[order], reason[order]
    nth = np.arange(van.size) - np.searchsorted(van, van) + 1
    hours = _downtime(chance, reason, fleet.number[van], nth)
    return Jobs(van, day[order], km[order], source[order], ref[order], reason, workshop[order], hours, nth)


def _downtime(chance: Chance, reason: Ints, *keys: Ints) -> Floats:
    """Hours off the road: breakdowns wait longest; never more than three days."""
    least = np.array([6.0, 3.0, 2.0, 1.0, 3.0, 4.0])[reason]
    mean = np.array([16.0, 9.0, 1.0, 0.5, 2.0, 10.0])[reason]
    hours: Floats = np.minimum(least - mean * np.log(chance.uniform("downtime", *keys)), 72.0).round(1)
    return hours


def _planned(chance: Chance, fleet: Fleet, visits: Visits) -> _Some:
    """A job for each planned visit."""
    workshop = workshop_of(chance, fleet, visits.van, "visit", fleet.number[visits.van], visits.kind, visits.nth)
    every = np.arange(visits.van.size)
    return _Some(VISIT, visits.van, visits.day, visits.km, every, REASON_OF_VISIT[visits.kind], workshop)


def _of_lives(fleet: Fleet, lives: Lives, source: int, rows: Ints, *, km: Floats, reason: Ints) -> _Some:
    """Jobs that belong to some of the lives, at the workshop that ended the life."""
    van = lives.van[rows]
    return _Some(source, van, fleet.day_of(van, km), km, rows, reason, lives.workshop[rows])


def _failures(chance: Chance, fleet: Fleet, lives: Lives) -> list[_Some]:
    """The job that mends each failure a driver noticed, and the one before it that missed the cause."""
    keys = lives.keys(fleet)
    stranded = chance.happens(np.array([part.breakdown for part in PARTS])[lives.part], "breakdown", *keys)
    urgent = np.where(stranded, BREAKDOWN, DEFECT)
    young = (lives.began == REPLACED) & (lives.end_km - lives.start_km < WARRANTY_KM)
    reason = np.where(young & chance.happens(CLAIMED, "warranty", *keys), WARRANTY, urgent)
    mended = np.nonzero(lives.how == FAULT)[0]
    missed = np.nonzero((lives.remedy >= 0) & (lives.failed_km < lives.end_km))[0]
    return [
        _of_lives(fleet, lives, REPAIR_JOB, mended, km=lives.end_km[mended], reason=reason[mended]),
        _of_lives(fleet, lives, WRONG_JOB, missed, km=lives.failed_km[missed], reason=urgent[missed]),
    ]


def _returns(chance: Chance, fleet: Fleet, lives: Lives, coded: Bools) -> list[_Some]:
    """Visits soon after a repair: its code is back and nothing is found, or it was bad and is adjusted."""
    keys = lives.keys(fleet)
    back = (lives.how == FAULT) & coded & chance.happens(scenario.NOTHING_FOUND, "nothing found", *keys)
    found = []
    for source, which, claimed in ((RETURN_JOB, back, 0.0), (REDO_JOB, lives.loose, 0.3)):
        rows = np.nonzero(which)[0]
        own = tuple(key[rows] for key in keys)
        km = soon_after(chance, fleet, lives.van[rows], lives.end_km[rows], f"return {source}", *own)
        reason = np.where(chance.happens(claimed, f"return claimed {source}", *own), WARRANTY, DEFECT)
        found.append(_of_lives(fleet, lives, source, rows, km=km, reason=reason))
    return found


def _minor(chance: Chance, fleet: Fleet) -> _Some:
    """Visits for no failure that is followed."""
    halves = int((fleet.until - fleet.in_service).max() // HALF_YEAR) + 1
    van, half = np.divmod(np.arange(fleet.number.size * halves), halves)
    keys = (fleet.number[van], half)
    day = fleet.in_service[van] + HALF_YEAR * (half + chance.uniform("minor day", *keys))
    hit = (day < fleet.until[van]) & chance.happens(scenario.MINOR_JOBS_PER_HALF_YEAR, "minor", *keys)
    van, day, keys = van[hit], day[hit], (keys[0][hit], half[hit])
    kind = chance.pick((0.3, 0.2, 0.1, 0.4), "minor kind", *keys)
    place = workshop_of(chance, fleet, van, "minor", *keys)
    return _Some(MINOR_JOB, van, day, fleet.odometer(van, day), kind, np.full(van.size, DEFECT), place)
