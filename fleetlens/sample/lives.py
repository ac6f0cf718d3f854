"""The hidden truth: each component's lives, one after the other, by renewal."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet, day_number
from fleetlens.sample.parts import (
    BEGINS,
    CLEAN,
    CLEANED,
    COMPONENTS,
    GRADES,
    NEW,
    PARTS,
    RECONDITIONED_SHARE,
    REPLACE,
    Part,
)
from fleetlens.sample.visits import CAMPAIGN, INSPECTION, SCHEDULED, Stops, Visits, chosen, stops

RUNNING, FAULT, FOUND, PREVENTED, MISTAKEN = 0, 1, 2, 3, 4
"""How a life ends: not at all, in a fault job, found failed at a visit, cleaned in time, cleaned by a wrong diagnosis."""

PASSED, NOT_PASSED, NOT_RECORDED = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Lives:
    """Lives of components, a row each. `failed_km` is the true failure, `end_km` where the record sees the end.

    `slot` counts the several of one component on a van, `nth` the lives of one slot. `remedy` is the wrong first remedy
    (row of the part's `remedies`, -1: none); `visit` the planned visit where it ended (-1: none); `action` what was
    done at the end (-1: nothing); `bad`: the life is the short one after a bad repair.
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


def simulate(chance: Chance, fleet: Fleet, visits: Visits) -> Lives:
    """All lives of all followed components, from going into service to the end of the record."""
    inspections = chosen(visits, visits.kind == INSPECTION)
    planned = chosen(
        visits,
        (visits.kind == SCHEDULED) & fleet.programme[visits.van] & (visits.day >= day_number(scenario.PROGRAMME_FROM)),
    )
    campaign = chosen(visits, visits.kind == CAMPAIGN)
    nothing = chosen(visits, np.zeros(visits.van.size, np.bool_))
    done: list[Lives] = []
    for index, part in enumerate(PARTS):
        done += _simulate_part(
            chance, fleet, index, part,
            inspections if part.hidden else nothing,
            planned if part.planned_km else nothing,
            campaign if part.component == scenario.CAMPAIGN_COMPONENT else nothing,
            _mistakes(part.component, done),
        )  # fmt: skip
    return _joined(done)


def _mistakes(component: str, done: list[Lives]) -> Stops:
    """Where `component` was cleaned for the failure of another one."""
    van, km = [np.empty(0, np.int64)], [np.empty(0)]
    for lives in done:
        names = [remedy for remedy, _ in PARTS[int(lives.part[0])].remedies] if lives.part.size else []
        hit = np.isin(lives.remedy, [row for row, name in enumerate(names) if name == component])
        hit &= lives.failed_km < lives.end_km
        van.append(lives.van[hit])
        km.append(lives.failed_km[hit])
    vans = np.concatenate(van)
    return stops(vans, np.concatenate(km), np.full(vans.size, -1, np.int64))


def _remedy(chance: Chance, fleet: Fleet, part: Part, van: Ints, keys: tuple[Ints, ...]) -> Ints:
    """The wrong remedy for each failure, among those that the van's model allows."""
    carries: Mapping[str, Floats] = {
        name: np.array(other.by_model)[fleet.model[van]] > 0 for name, other in zip(COMPONENTS, PARTS, strict=True)
    }
    everyone = np.ones(van.size)
    weights = np.stack([carries.get(name, everyone).astype(np.float64) for name, _ in part.remedies], axis=1)
    return chance.pick_by_row(weights, part.component + " remedy", *keys)


def _simulate_part(
    chance: Chance,
    fleet: Fleet,
    index: int,
    part: Part,
    inspections: Stops,
    planned: Stops,
    campaign: Stops,
    mistakes: Stops,
) -> list[Lives]:
    """Rounds of renewal: in round n every slot that is still running lives its n-th life."""
    name = part.component
    size = fleet.number.size
    carried = np.nonzero(np.array(part.by_model)[fleet.model] > 0)[0].astype(np.int64)
    van = np.repeat(carried, part.count)
    slot = np.tile(np.arange(part.count, dtype=np.int64), carried.size)
    began, grade = np.full(van.size, NEW), np.zeros(van.size, np.int64)
    start, bad = fleet.in_service_km[van], np.zeros(van.size, np.bool_)
    factors = np.array([[part.factor(b, g) for g in range(len(GRADES))] for b in range(4)])
    scale = part.scale_km * np.array(part.by_model)[fleet.model] * np.array(part.by_duty)[fleet.duty]
    assert scale.size == size
    shares = np.array([part.choices, part.after_clean])
    rounds: list[Lives] = []
    while van.size:
        nth = np.full(van.size, len(rounds), np.int64)
        keys = (fleet.number[van], slot, nth)
        life = chance.weibull(part.shape, scale[van] * factors[began, grade], name + " life", *keys)
        failed = np.where(bad, soon_after(chance, fleet, van, start, name + " slip", *keys), start + life)
        hidden = ~bad & chance.happens(part.hidden, name + " hidden", *keys)
        wrong = ~bad & ~hidden & chance.happens(part.wrong, name + " wrong", *keys)
        remedy = np.full(van.size, -1, np.int64)
        if part.remedies:
            remedy[wrong] = _remedy(chance, fleet, part, van[wrong], tuple(key[wrong] for key in keys))

        found_km, found_at = inspections.after(van, failed)
        end = np.where(hidden, found_km, failed)
        end[wrong] = soon_after(chance, fleet, van[wrong], failed[wrong], name + " gap", *(k[wrong] for k in keys))
        how = np.where(hidden, FOUND, FAULT)
        visit = np.where(hidden, found_at, -1)

        # Whatever comes first ends it; cleaning a part that has failed unseen finds the failure.
        for interruption, age, kind in (
            (planned, part.planned_km, PREVENTED),
            (campaign, 0.0, PREVENTED),
            (mistakes, 0.0, MISTAKEN),
        ):
            km, at = interruption.after(van, start + age)
            first = km < end
            end = np.where(first, km, end)
            visit = np.where(first, at, visit)
            how = np.where(first, np.where(hidden & (failed < km) & (kind == PREVENTED), FOUND, kind), how)
        running = end >= fleet.end_km[van]
        end = np.where(running, fleet.end_km[van], end)
        how = np.where(running, RUNNING, how)
        visit = np.where(running, -1, visit)

        workshop = workshop_of(chance, fleet, van, name, *keys)
        action = chance.pick_by_row(shares[(began == CLEANED).astype(np.int64)], name + " action", *keys)
        action = np.where((how == PREVENTED) | (how == MISTAKEN), CLEAN, action)
        action = np.where(running, -1, action)
        equal = np.array([place.equivalent for place in scenario.WORKSHOPS])[workshop]
        used = np.full(van.size, RECONDITIONED_SHARE)
        next_grade = chance.pick_by_row(np.stack([1 - equal - used, equal, used], axis=1), name + " grade", *keys)
        next_grade = np.where(action == REPLACE, next_grade, 0)
        checks = chance.pick_by_row(
            np.array([place.checks for place in scenario.WORKSHOPS])[workshop], name + " checks", *keys
        )
        rounds.append(
            Lives(
                np.full(van.size, index),
                van,
                slot,
                nth,
                began,
                grade,
                start,
                failed,
                end,
                how,
                remedy,
                visit,
                action,
                next_grade,
                workshop,
                checks,
                bad,
            )  # fmt: skip
        )

        slips = np.array([place.slips for place in scenario.WORKSHOPS])[workshop]
        bad = (how == FAULT) & chance.happens(np.array(scenario.SLIP)[checks] * slips, name + " badly done", *keys)
        on = ~running
        van, slot, start, bad = van[on], slot[on], end[on], bad[on]
        began, grade = np.array(BEGINS)[action[on]], next_grade[on]
    return rounds
