"""What the generator knows and a workshop doesn't: the lives, chances and prices behind the record."""

import math
from typing import Any

import numpy as np

from fleetlens.sample import scenario, wear
from fleetlens.sample.jobs import REDO_JOB, REPAIR_JOB, RETURN_JOB, WRONG_JOB
from fleetlens.sample.lives import FAULT, FOUND, MISTAKEN, PREVENTED, RUNNING
from fleetlens.sample.parts import (
    ACTIONS,
    BEGAN_AS,
    GRADES,
    NEW,
    PARTS,
    PRICE_OF_GRADE,
    RECONDITIONED_SHARE,
    REPLACED,
)
from fleetlens.sample.scene import Scene


def assumptions(seed: int, vehicles: int) -> dict[str, Any]:
    """The truth that was set: true for a fleet of any size."""
    return {
        "invented": "Every vehicle, place, firm, person and figure here is made up.",
        "seed": seed,
        "vehicles": vehicles,
        "record_from": scenario.RECORD_FROM.isoformat(),
        "record_to": scenario.RECORD_TO.isoformat(),
        "lives": {
            "law": "Weibull in km since the life began: share surviving = exp(-(km / scale_km) ** shape)",
            "rows": _lives(),
        },
        "remedies": [_remedies(at) for at in range(len(PARTS))],
        "part_grades": {
            "shares": {
                place.name: {
                    "original": round(1 - place.equivalent - RECONDITIONED_SHARE, 4),
                    "equivalent": place.equivalent,
                    "reconditioned": RECONDITIONED_SHARE,
                }
                for place in scenario.WORKSHOPS
            },
            "price_of_grade": dict(zip(GRADES, PRICE_OF_GRADE, strict=True)),
        },
        "measured_on_the_way": {
            "law": "value = fresh + (failed - fresh) * (share of the life that has run) ** power, normal noise, "
            "kept inside the limits; fresh and failed are drawn evenly for each life",
            "share_of_inspections": wear.MEASURED,
            "rows": [_wear(one) for one in wear.WEARS],
        },
        "comebacks": {
            "same_component_again": {
                "chance_by_checks": dict(zip(("passed", "not_passed", "not_recorded"), scenario.SLIP, strict=True)),
                "times_by_workshop": {place.name: place.slips for place in scenario.WORKSHOPS},
                "after_days": scenario.SLIP_DAYS,
                "or_after_km": [0.05 * scenario.SLIP_KM, scenario.SLIP_KM],
                "share_that_ends_a_life": scenario.SLIP_IS_SHORT_LIFE,
                "note": "Most bad repairs are put right by an adjustment, which ends no life; after the others the "
                "part has this short life, not its Weibull life: a small mixture.",
            },
            "same_code_other_cause": {part.component: part.wrong for part in PARTS if part.wrong},
            "repeat_code_nothing_found": scenario.NOTHING_FOUND,
            "checks_by_workshop": {place.name: place.checks for place in scenario.WORKSHOPS},
        },
        "found_at_visits": {part.component: part.hidden for part in PARTS if part.hidden},
        "programme": {
            "renews": [
                {"component": part.component, "action": ACTIONS[part.planned], "at_km": part.planned_km}
                for part in PARTS
                if part.planned_km
            ],
            "from": scenario.PROGRAMME_FROM.isoformat(),
            "depots": [depot.name for depot in scenario.DEPOTS if depot.programme],
            "share_of_their_vehicles": scenario.PROGRAMME_SHARE,
        },
        "campaign": {
            "model": scenario.MODELS[scenario.CAMPAIGN_MODEL].name,
            "component": scenario.CAMPAIGN_COMPONENT,
            "from": scenario.CAMPAIGN_FROM.isoformat(),
            "days": scenario.CAMPAIGN_DAYS,
            "share": scenario.CAMPAIGN_SHARE,
        },
        "labour_rate_per_h": {place.name: place.labour_rate for place in scenario.WORKSHOPS},
    }


def _wear(moved: wear.Wear) -> dict[str, Any]:
    measure = next(part.measure for part in PARTS if part.component == moved.component)
    assert measure is not None
    return {
        "component": moved.component,
        "check": measure.check,
        "unit": measure.unit,
        "fresh": moved.fresh,
        "failed": measure.failed,
        "power": moved.late,
        "noise": moved.noise,
    }


def _lives() -> list[dict[str, Any]]:
    return [
        {
            "component": part.component,
            "model": model.name,
            "duty": duty.name,
            "began_as": BEGAN_AS[began],
            "part_grade": GRADES[grade] if began == REPLACED else None,
            "shape": part.shape,
            "scale_km": round(part.life_km(at_model, at_duty, began, grade), 1),
        }
        for part in PARTS
        for at_model, model in enumerate(scenario.MODELS)
        for at_duty, duty in enumerate(scenario.DUTIES)
        for began, grade in part.begins()
        if part.by_model[at_model]
    ]


def _remedies(at: int) -> dict[str, Any]:
    part = PARTS[at]
    return {
        "component": part.component,
        "fitted": part.count,
        "shape": part.shape,
        "first": dict(zip(ACTIONS, part.choices, strict=True)),
        "after_a_cleaning": dict(zip(ACTIONS, part.after_clean, strict=True)),
        "labour_h": dict(zip(ACTIONS, part.hours, strict=True)),
        "price_of_original_part": part.price,
        "breakdown_share": part.breakdown,
        "mean_km_of_new_part": round(part.scale_km * math.gamma(1 + 1 / part.shape), 0),
    }


def counts(scene: Scene) -> dict[str, int]:
    """What came of it in one batch of vans; batches add up."""
    fleet, lives, jobs = scene.fleet, scene.lives, scene.jobs
    seen = fleet.odometer(lives.van, fleet.seen_from[lives.van].astype(np.float64))
    running_in = fleet.late[lives.van] & (lives.start_km < seen) & (lives.end_km >= seen)
    recorded = lives.end_km >= seen
    return {
        "late_vehicles": int(fleet.late.sum()),
        "vehicles_that_left": int(fleet.left.sum()),
        "second_hand_vehicles": int((fleet.in_service_km > 1_000).sum()),
        "lives_under_way_when_a_late_record_began": int(running_in.sum()),
        "of_these_not_the_first_on_the_vehicle": int((running_in & (lives.began != NEW)).sum()),
        "lives_in_the_record": int(recorded.sum()),
        "ended_in_a_fault_job": int((recorded & (lives.how == FAULT)).sum()),
        "of_these_short_lives_after_a_bad_repair": int((recorded & (lives.how == FAULT) & lives.bad).sum()),
        "ended_found_failed_at_a_visit": int((recorded & (lives.how == FOUND)).sum()),
        "ended_by_planned_renewal": int((recorded & (lives.how == PREVENTED)).sum()),
        "ended_by_a_wrong_diagnosis": int((recorded & (lives.how == MISTAKEN)).sum()),
        "still_running": int((recorded & (lives.how == RUNNING)).sum()),
        "repair_jobs": int((jobs.source == REPAIR_JOB).sum()),
        "wrong_first_diagnoses": int((jobs.source == WRONG_JOB).sum()),
        "bad_repairs_put_right_by_adjustment": int((jobs.source == REDO_JOB).sum()),
        "returns_where_nothing_was_found": int((jobs.source == RETURN_JOB).sum()),
    }
