"""The hidden truth: each component's lives, one after the other, by renewal."""

from dataclasses import dataclass, fields

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet, day_number
from fleetlens.sample.parts import (
    BEGAN_AS,
    BEGINS,
    CLEAN,
    CLEANED,
    COMPONENTS,
    GRADES,
    NEW,
    ORIGINAL,
    PARTS,
    RECONDITIONED_SHARE,
    REPLACE,
    Part,
)
from fleetlens.sample.visits import CAMPAIGN, INSPECTION, SCHEDULED, Stops, Visits, chosen, stops

RUNNING, FAULT, FOUND, PREVENTED, MISTAKEN = 0, 1, 2, 3, 4
"""How a life ends: not at all, in a fault job, found failed at a visit, cleaned in time, cleaned by wrong diagnosis."""

PASSED, NOT_PASSED, NOT_RECORDED = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Lives:
    """Lives of components, a row each. `failed_km` is the true failure, `end_km` where the record sees the end.

    `slot` counts the several of one component on a van, `nth` the lives of one slot. `remedy` is the wrong first remedy
    (row of the part's `remedies`, -1: none); `visit` the planned visit where it ended (-1: none); `action` what was
    done at the end (-1: nothing); `bad`: the life is the short one after a bad repair; `loose`: the repair at its end
    was bad, but an adjustment puts it right.
    """

    part: Ints
    van: Ints
    slot: Ints
    nth: Ints
    began: Ints
    grade: Ints
    start_km: Floats
    failed_km: Floats
    end_km: Floats
    how: Ints
    remedy: Ints
    visit: Ints
    action: Ints
    next_grade: Ints
    workshop: Ints
    checks: Ints
    bad: Bools
    loose: Bools

    def keys(self, fleet: Fleet) -> tuple[Ints, ...]:
        """The keys of each life's own draws."""
        return fleet.number[self.van], self.part, self.slot, self.nth


def _joined(pieces: list[Lives]) -> Lives:
    return Lives(*(np.concatenate([getattr(piece, field.name) for piece in pieces]) for field in fields(Lives)))


def soon_after(chance: Chance, fleet: Fleet, van: Ints, km: Floats, what: str, *keys: Ints) -> Floats:
    """The odometer a few days or km after `km`, well inside the window of a comeback."""
    days = chance.between(*scenario.SLIP_DAYS, what + " days", *keys)
    run = chance.between(0.05, 1.0, what + " km", *keys) * scenario.SLIP_KM
    later = fleet.odometer(van, fleet.day_of(van, km) + days)
    return np.minimum(np.maximum(later, km + 10.0), km + run)


def workshop_of(chance: Chance, fleet: Fleet, van: Ints, what: str, *keys: Ints) -> Ints:
    """The workshop of a job: mostly the depot's own."""
    own = np.array([depot.workshop for depot in scenario.DEPOTS])[fleet.depot[van]]
    other = chance.pick([1.0] * len(scenario.WORKSHOPS), what + " other", *keys)
    return np.where(chance.happens(scenario.OWN_WORKSHOP, what + " own", *keys), own, other)


@dataclass(frozen=True, slots=True)
class _Calls:
    """What may end a life of one component beside its own failure."""

    inspections: Stops
    planned: Stops
    campaign: Stops
    mistakes: Stops


@dataclass(frozen=True, slots=True)
class _Running:
    """The lives that begin in one round, and the keys of their draws."""

    van: Ints
    slot: Ints
    began: Ints
    grade: Ints
    start: Floats
    bad: Bools
    keys: tuple[Ints, ...]


def simulate(chance: Chance, fleet: Fleet, visits: Visits) -> Lives:
    """All lives of all followed components, from going into service to the end of the record."""
    service = (visits.kind == SCHEDULED) & (visits.day >= day_number(scenario.PROGRAMME_FROM))
    planned = chosen(visits, service & fleet.programme[visits.van])
    inspections = chosen(visits, visits.kind == INSPECTION)
    campaign = chosen(visits, visits.kind == CAMPAIGN)
    nothing = chosen(visits, np.zeros(visits.van.size, np.bool_))
    done: list[Lives] = []
    for index, part in enumerate(PARTS):
        calls = _Calls(
            inspections if part.hidden else nothing,
            planned if part.planned_km else nothing,
            campaign if part.component == scenario.CAMPAIGN_COMPONENT else nothing,
            _mistakes(part.component, done),
        )
        done += _renewals(chance, fleet, index, calls)
    return _joined(done)


def _mistakes(component: str, done: list[Lives]) -> Stops:
    """Where `component` was treated for the failure of another one."""
    van, km = [np.empty(0, np.int64)], [np.empty(0)]
    for lives in done:
        remedies = PARTS[int(lives.part[0])].remedies
        hit = np.isin(lives.remedy, [row for row, (name, _) in enumerate(remedies) if name == component])
        hit &= lives.failed_km < lives.end_km
        van.append(lives.van[hit])
        km.append(lives.failed_km[hit])
    vans = np.concatenate(van)
    return stops(vans, np.concatenate(km), np.full(vans.size, -1, np.int64))


def _renewals(chance: Chance, fleet: Fleet, index: int, calls: _Calls) -> list[Lives]:
    """Rounds of renewal: in round n every slot that is still running lives its n-th life."""
    part = PARTS[index]
    carried = np.nonzero(np.array(part.by_model)[fleet.model] > 0)[0].astype(np.int64)
    van = np.repeat(carried, part.count)
    slot = np.tile(np.arange(part.count, dtype=np.int64), carried.size)
    began, grade = np.full(van.size, NEW), np.full(van.size, ORIGINAL)
    start, bad = fleet.in_service_km[van], np.zeros(van.size, np.bool_)
    rounds: list[Lives] = []
    while van.size:
        nth = np.full(van.size, len(rounds), np.int64)
        now = _Running(van, slot, began, grade, start, bad, (fleet.number[van], slot, nth))
        failed, hidden, remedy = _failures(chance, fleet, part, now)
        end, how, visit = _ends(chance, fleet, part, calls, now, failed=failed, hidden=hidden, wrong=remedy >= 0)
        workshop, action, next_grade, checks = _work(chance, fleet, part, now, how)
        slips = np.array([place.slips for place in scenario.WORKSHOPS])[workshop] * np.array(scenario.SLIP)[checks]
        slipped = (how == FAULT) & chance.happens(slips, part.component + " slipped", *now.keys)
        short = chance.happens(scenario.SLIP_IS_SHORT_LIFE, part.component + " short", *now.keys)
        lived = Lives(
            np.full(van.size, index), van, slot, nth, began, grade, start, failed, end, how, remedy, visit,
            action, next_grade, workshop, checks, bad, slipped & ~short,
        )  # fmt: skip
        rounds.append(lived)
        on = how != RUNNING
        van, slot, start, bad = van[on], slot[on], end[on], (slipped & short)[on]
        began, grade = np.array(BEGINS)[action[on]], next_grade[on]
    return rounds


def _failures(chance: Chance, fleet: Fleet, part: Part, now: _Running) -> tuple[Floats, Bools, Ints]:
    """The km at which each life fails, whether nobody notices, and the wrong remedy that is tried first (-1: none)."""
    name = part.component
    factors = np.array([[part.factor(b, g) for g in range(len(GRADES))] for b in range(len(BEGAN_AS))])
    scale = part.scale_km * np.array(part.by_model)[fleet.model] * np.array(part.by_duty)[fleet.duty]
    life = chance.weibull(part.shape, scale[now.van] * factors[now.began, now.grade], name + " life", *now.keys)
    short = soon_after(chance, fleet, now.van, now.start, name + " slip", *now.keys)
    failed = np.where(now.bad, short, now.start + life)
    hidden = ~now.bad & chance.happens(part.hidden, name + " hidden", *now.keys)
    remedy = np.full(now.van.size, -1, np.int64)
    if part.remedies:
        wrong = ~now.bad & ~hidden & chance.happens(part.wrong, name + " wrong", *now.keys)
        model = fleet.model[now.van]
        carries = {
            component: np.array(other.by_model)[model] > 0 for component, other in zip(COMPONENTS, PARTS, strict=True)
        }
        everyone = np.ones(now.van.size, np.bool_)
        weights = np.stack([carries.get(component, everyone) for component, _ in part.remedies], axis=1)
        first = chance.pick_by_row(weights.astype(np.float64), name + " remedy", *now.keys)
        remedy = np.where(wrong, first, -1)
    return failed, hidden, remedy


def _ends(
    chance: Chance,
    fleet: Fleet,
    part: Part,
    calls: _Calls,
    now: _Running,
    *,
    failed: Floats,
    hidden: Bools,
    wrong: Bools,
) -> tuple[Floats, Ints, Ints]:
    """The km at which each life ends for the record, how, and the row of the planned visit (-1: none)."""
    gap = soon_after(chance, fleet, now.van, failed, part.component + " gap", *now.keys)
    found_km, found_at = calls.inspections.after(now.van, failed)
    end = np.where(hidden, found_km, np.where(wrong, gap, failed))
    how = np.where(hidden, FOUND, FAULT)
    visit = np.where(hidden, found_at, -1)
    # Whatever comes first ends it; a planned cleaning of a part that has failed unseen finds the failure.
    for stop, age, kind in (
        (calls.planned, part.planned_km, PREVENTED),
        (calls.campaign, 0.0, PREVENTED),
        (calls.mistakes, 0.0, MISTAKEN),
    ):
        km, at = stop.after(now.van, now.start + age)
        first = km < end
        seen = hidden & (failed < km) & (kind == PREVENTED)
        end, visit = np.where(first, km, end), np.where(first, at, visit)
        how = np.where(first, np.where(seen, FOUND, kind), how)
    last = fleet.end_km[now.van]
    running = end >= last
    return np.where(running, last, end), np.where(running, RUNNING, how), np.where(running, -1, visit)


def _work(chance: Chance, fleet: Fleet, part: Part, now: _Running, how: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """What is done where a life ends: workshop, action, grade of the part fitted, state of the checks."""
    name = part.component
    workshop = workshop_of(chance, fleet, now.van, name, *now.keys)
    shares = np.array([part.choices, part.after_clean])[(now.began == CLEANED).astype(np.int64)]
    action = chance.pick_by_row(shares, name + " action", *now.keys)
    action = np.where(how == PREVENTED, part.planned, np.where(how == MISTAKEN, CLEAN, action))
    action = np.where(how == RUNNING, -1, action)
    equivalent = np.array([place.equivalent for place in scenario.WORKSHOPS])[workshop]
    used = np.full(now.van.size, RECONDITIONED_SHARE)
    grades = np.stack([1 - equivalent - used, equivalent, used], axis=1)
    grade = np.where(action == REPLACE, chance.pick_by_row(grades, name + " grade", *now.keys), ORIGINAL)
    states = np.array([place.checks for place in scenario.WORKSHOPS])[workshop]
    return workshop, action, grade, chance.pick_by_row(states, name + " checks", *now.keys)
