"""The visits to workshops that the record shows: planned visits, fault jobs, and the visits where little was found."""

from dataclasses import dataclass

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.lives import FAULT, Lives, soon_after, workshop_of
from fleetlens.sample.parts import PARTS, REPLACED
from fleetlens.sample.visits import Visits

VISIT, REPAIR_JOB, WRONG_JOB, RETURN_JOB, NUISANCE_JOB = 0, 1, 2, 3, 4
"""Where a job comes from: a planned visit, a failure, a failure treated as something else, a return where nothing was
found, a complaint of no known failure. Its `ref` is the row of the visit or the life it belongs to."""

REASONS = ("breakdown", "defect", "scheduled", "inspection", "campaign", "warranty")
BREAKDOWN, DEFECT, WARRANTY = 0, 1, 5
REASON_OF_VISIT = np.array([2, 3, 4])

NFF, REGENERATION, CHARGE = 0, 1, 2
"""What a visit of no known failure turns out to be."""


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


def _downtime(chance: Chance, reason: Ints, *keys: Ints) -> Floats:
    """Hours off the road: breakdowns wait longest; never more than three days."""
    least = np.array([6.0, 3.0, 2.0, 1.0, 3.0, 4.0])[reason]
    mean = np.array([16.0, 9.0, 1.0, 0.5, 2.0, 10.0])[reason]
    hours: Floats = np.minimum(least - mean * np.log(chance.uniform("downtime", *keys)), 72.0).round(1)
    return hours


def build(chance: Chance, fleet: Fleet, visits: Visits, lives: Lives, coded: Bools) -> Jobs:
    """The jobs inside each van's record, in the order of time; `coded`: the life's failure sets a code."""
    number = fleet.number
    pieces = [
        (
            visits.van, visits.day, visits.km, VISIT, np.arange(visits.van.size), REASON_OF_VISIT[visits.kind],
            workshop_of(chance, fleet, visits.van, "visit", number[visits.van], visits.kind, visits.nth),
        )
    ]  # fmt: skip

    breakdown = np.array([part.breakdown for part in PARTS])[lives.part]
    keys = lives.keys(fleet)
    urgent = np.where(chance.happens(breakdown, "breakdown", *keys), BREAKDOWN, DEFECT)
    young = (lives.began == REPLACED) & (lives.end_km - lives.start_km < 20_000)
    reason = np.where(young & chance.happens(0.6, "warranty", *keys), WARRANTY, urgent)
    (rows,) = np.nonzero(lives.how == FAULT)
    van, km = lives.van[rows], lives.end_km[rows]
    pieces.append((van, fleet.day_of(van, km), km, REPAIR_JOB, rows, reason[rows], lives.workshop[rows]))

    (rows,) = np.nonzero((lives.remedy >= 0) & (lives.failed_km < lives.end_km))
    van, km = lives.van[rows], lives.failed_km[rows]
    pieces.append((van, fleet.day_of(van, km), km, WRONG_JOB, rows, urgent[rows], lives.workshop[rows]))

    back = (lives.how == FAULT) & coded & chance.happens(scenario.NOTHING_FOUND, "nothing found", *keys)
    (rows,) = np.nonzero(back)
    van = lives.van[rows]
    km = soon_after(chance, fleet, van, lives.end_km[rows], "nothing found", *(key[rows] for key in keys))
    pieces.append((van, fleet.day_of(van, km), km, RETURN_JOB, rows, np.full(van.size, DEFECT), lives.workshop[rows]))

    halves = int((fleet.until - fleet.in_service).max() // 182) + 1
    van, half = np.divmod(np.arange(number.size * halves), halves)
    day = fleet.in_service[van] + 182.0 * (half + chance.uniform("nuisance day", number[van], half))
    hit = (day < fleet.until[van]) & chance.happens(scenario.NUISANCE_PER_HALF_YEAR, "nuisance", number[van], half)
    van, half, day = van[hit], half[hit], day[hit]
    kind = chance.pick((0.5, 0.35, 0.15), "nuisance kind", number[van], half)
    place = workshop_of(chance, fleet, van, "nuisance", number[van], half)
    pieces.append((van, day, fleet.odometer(van, day), NUISANCE_JOB, kind, np.full(van.size, DEFECT), place))

    source = np.concatenate([np.full(piece[0].size, piece[3]) for piece in pieces])
    van, day, km, ref, reason, workshop = (
        np.concatenate([np.asarray(piece[at]) for piece in pieces]) for at in (0, 1, 2, 4, 5, 6)
    )
    recorded = (day >= fleet.seen_from[van]) & (day < fleet.until[van])
    order = np.nonzero(recorded)[0]
    order = order[np.lexsort((ref[order], source[order], day[order], van[order]))]
    van = van[order]
    nth = np.arange(van.size) - np.searchsorted(van, van) + 1
    return Jobs(
        van, day[order], km[order], source[order], ref[order], reason[order], workshop[order],
        _downtime(chance, reason[order], number[van], nth), nth,
    )  # fmt: skip
