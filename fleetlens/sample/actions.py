"""What was done at each job: the remedy of the failure and the work around it, with hours and costs."""

import numpy as np
import polars as pl

from fleetlens.sample import scenario
from fleetlens.sample.chance import Ints
from fleetlens.sample.frames import named, where, worded
from fleetlens.sample.jobs import (
    BREAKDOWN,
    CHARGE,
    MINOR_JOB,
    NFF,
    REDO_JOB,
    REGENERATION,
    REPAIR_JOB,
    RETURN_JOB,
    SMALL_REPAIR,
    VISIT,
    WRONG_JOB,
)
from fleetlens.sample.lines import Lines
from fleetlens.sample.lives import FAULT, FOUND, PASSED, PREVENTED
from fleetlens.sample.parts import ACTIONS, CLEAN, COMPONENTS, GRADES, PARTS, PRICE_OF_GRADE, REPLACE
from fleetlens.sample.scene import Scene
from fleetlens.sample.visits import INSPECTION, SCHEDULED
from fleetlens.sample.words import CAUSES, NOTES, REDONE, SMALL_REPAIRS

RECOVERED = 0.6
RECOVERY_COST = 190.0
CAUSE_RECORDED = 0.93
PLANNED_HOURS = 0.7
"""A planned cleaning takes this share of the hours of one after a failure."""
CONSUMABLES = 7.5
REMEDY_HOURS = 1.1
REMEDY_PARTS = 85.0
POSITIONS = tuple(f"cylinder {at}" for at in range(1, 5))

# Places in the job: recovery, diagnosis, the work itself, what came of it, what ends it.
TOW, DIAGNOSE, WORK, RESULT, TEACH, CLEAR, DRIVE, ADVISE = range(8)


def table(scene: Scene) -> pl.DataFrame:
    """Everything done, by job (row of the job)."""
    lines = Lines(scene)
    _around(scene, lines)
    _remedies(scene, lines)
    _wrong_remedies(scene, lines)
    _small_repairs(scene, lines)
    _redone(scene, lines)
    _nothing_found(scene, lines)
    _services(scene, lines)
    _inspections(scene, lines)
    return lines.frame()


def _around(scene: Scene, lines: Lines) -> None:
    """What surrounds every fault job: recovery, diagnosis, clearing the codes."""
    jobs = scene.jobs
    fault = np.nonzero(jobs.source != VISIT)[0]
    towed = fault[(jobs.reason[fault] == BREAKDOWN) & lines.happens(RECOVERED, "recovered", fault)]
    lines.add(towed, TOW, "vehicle", "diagnose", parts=RECOVERY_COST, note="recovered to the workshop")
    lines.add(fault[lines.happens(0.9, "diagnosed", fault)], DIAGNOSE, "vehicle", "diagnose", hours=1.1)
    coded = jobs.source == MINOR_JOB
    for source in (REPAIR_JOB, WRONG_JOB, RETURN_JOB, REDO_JOB):
        row = scene.job_of_life(source)
        coded[row[(row >= 0) & (scene.code >= 0)]] = True
    coded = coded[fault] & lines.happens(0.85, "cleared", fault)
    lines.add(fault[coded], CLEAR, "vehicle", "clear_codes")


def _remedies(scene: Scene, lines: Lines) -> None:
    """The remedy of each failure and each planned cleaning, with its relearning and road test."""
    chance, lives = scene.chance, scene.lives
    at_visit = (lives.how == FOUND) | (lives.how == PREVENTED)
    job = np.where(at_visit, scene.visit_job_of_life(), scene.job_of_life(REPAIR_JOB))
    (life,) = np.nonzero(job >= 0)
    job, part, action, slot = job[life], lives.part[life], lives.action[life], lives.slot[life]
    how, grade = lives.how[life], lives.next_grade[life]
    keys = tuple(key[life] for key in scene.life_keys())

    hours = np.array([part.hours for part in PARTS])[part, action] * np.where(how == PREVENTED, PLANNED_HOURS, 1.0)
    price = np.array([part.price for part in PARTS])[part] * np.array(PRICE_OF_GRADE)[grade]
    gaskets = np.array([part.gaskets for part in PARTS])[part]
    causes = [texts for component in COMPONENTS for texts in CAUSES[component]]
    cause = worded(causes, part * len(ACTIONS) + action, chance.uniform("cause", *keys))
    known = (how == FOUND) | ((how == FAULT) & chance.happens(CAUSE_RECORDED, "cause known", *keys))
    several = np.array([part.count > 1 for part in PARTS])[part]
    replaced = action == REPLACE
    engines = [
        f"{model.engine}-{at:02d}-{grade[0].upper()}"
        for model in scenario.MODELS
        for at in range(len(PARTS))
        for grade in GRADES
    ]
    number = (scene.fleet.model[lives.van[life]] * len(PARTS) + part) * len(GRADES) + grade
    note = worded(NOTES, action, chance.uniform("note", *keys))
    lines.add(
        job,
        WORK,
        named(COMPONENTS, part),
        named(ACTIONS, action),
        hours=hours,
        parts=np.where(action == CLEAN, CONSUMABLES, price) + gaskets,
        cause=where(known, cause),
        position=named(POSITIONS, np.where(several, slot, -1)),
        part_number=named(engines, np.where(replaced, number, -1)),
        part_grade=named(GRADES, np.where(replaced, grade, -1)),
        quantity=where(replaced, pl.Series(np.ones(part.size, np.int64))),
        note=where(chance.happens(0.4, "noted", *keys), note),
    )
    taught = np.array([part.relearn for part in PARTS])[part] & chance.happens(0.75, "taught", *keys)
    lines.add(job[taught], TEACH, named(COMPONENTS, part[taught]), "relearn", hours=0.2)
    driven = (how == FAULT) & (lives.checks[life] == PASSED) & chance.happens(0.8, "driven", *keys)
    lines.add(job[driven], DRIVE, "vehicle", "road_test", hours=0.3)


def _wrong_remedies(scene: Scene, lines: Lines) -> None:
    """What was done first where the first diagnosis was wrong."""
    chance, lives = scene.chance, scene.lives
    job = scene.job_of_life(WRONG_JOB)
    (life,) = np.nonzero(job >= 0)
    keys = tuple(key[life] for key in scene.life_keys())
    told, draw = chance.happens(0.6, "wrong cause", *keys), chance.uniform("wrong cause text", *keys)
    for index, part in enumerate(PARTS):
        for at, (component, action) in enumerate(part.remedies):
            mine = (lives.part[life] == index) & (lives.remedy[life] == at)
            rows = job[life[mine]]
            carbon = CAUSES[component][CLEAN] if component in CAUSES else ()
            cause = where(told[mine], worded([carbon], np.zeros(rows.size, np.int64), draw[mine]))
            _small_repair(rows, component, action, lines, cause)


def _redone(scene: Scene, lines: Lines) -> None:
    """Bad repairs put right without touching the part itself."""
    job = scene.job_of_life(REDO_JOB)
    (life,) = np.nonzero(job >= 0)
    part, lives = scene.lives.part[life], scene.lives
    note = worded([REDONE], np.zeros(life.size, np.int64), scene.chance.uniform("redone", *scene.life_keys())[life])
    several = np.array([part.count > 1 for part in PARTS])[part]
    lines.add(
        job[life],
        WORK,
        named(COMPONENTS, part),
        "adjust",
        hours=0.6,
        position=named(POSITIONS, np.where(several, lives.slot[life], -1)),
        note=note,
    )


def _nothing_found(scene: Scene, lines: Lines) -> None:
    """Visits that ended without a repair."""
    back = scene.job_of_life(RETURN_JOB)
    (life,) = np.nonzero(back >= 0)
    again = named(COMPONENTS, scene.lives.part[life])
    lines.add(back[life], WORK, again, "inspect", note="checked again, in order")
    lines.add(back[life], RESULT, "vehicle", "no_fault_found", hours=0.6)
    minor = np.nonzero(scene.jobs.source == MINOR_JOB)[0]
    kind = scene.jobs.ref[minor]
    lines.add(minor[kind == NFF], WORK, "vehicle", "no_fault_found", hours=0.6)
    soot = minor[kind == REGENERATION]
    lines.add(soot, WORK, "dpf", "regenerate", hours=1.0, note="parked regeneration, soot down")
    lines.add(minor[kind == CHARGE], WORK, "battery", "charge", hours=0.4)


def _small_repairs(scene: Scene, lines: Lines) -> None:
    """Repairs of components whose lives are not followed."""
    small = (scene.jobs.source == MINOR_JOB) & (scene.jobs.ref == SMALL_REPAIR)
    which = scene.small_repair()
    for at, (component, action, _) in enumerate(SMALL_REPAIRS):
        _small_repair(np.nonzero(small & (which == at))[0], component, action, lines)


def _small_repair(job: Ints, component: str, action: str, lines: Lines, cause: pl.Series | None = None) -> None:
    replaced = action == "replace"
    lines.add(
        job,
        WORK,
        component,
        action,
        hours=REMEDY_HOURS,
        parts={"replace": REMEDY_PARTS, "clean": CONSUMABLES}.get(action),
        cause=cause,
        quantity=1 if replaced else None,
        part_grade="original" if replaced else None,
    )


def _services(scene: Scene, lines: Lines) -> None:
    """Services by distance, and the advice given there that nobody has acted on."""
    visits, job = scene.visits, scene.job_of_visit()
    service = (job >= 0) & (visits.kind == SCHEDULED)
    small, big = job[service], job[service & (visits.nth % 2 == 0)]
    lines.add(small, DIAGNOSE, "engine_oil", "replace", hours=0.6, parts=46.0, quantity=7)
    lines.add(small, DIAGNOSE, "oil_filter", "replace", parts=9.5, quantity=1)
    lines.add(big, DIAGNOSE, "air_filter", "replace", hours=0.2, parts=14.0, quantity=1)
    lines.add(big, DIAGNOSE, "fuel_filter", "replace", hours=0.3, parts=22.0, quantity=1)
    lines.add(small, CLEAR, "vehicle", "inspect", hours=0.4)
    for share, action, note in (
        (0.040, "advise", "valve sooting up, clean soon"),
        (0.015, "decline", "clean offered, not wanted"),
        (0.015, "defer", "clean put off to the next visit"),
    ):
        lines.add(small[lines.happens(share, action, small)], ADVISE, "egr_valve", action, note=note)


def _inspections(scene: Scene, lines: Lines) -> None:
    """Inspections by date, component by component; where one was found failed its remedy's own line says so."""
    visits, lives, job = scene.visits, scene.lives, scene.job_of_visit()
    looked = (job >= 0) & (visits.kind == INSPECTION)
    lines.add(job[looked], DIAGNOSE, "vehicle", "inspect", hours=0.9)
    for index, part in enumerate(PARTS):
        if part.hidden:
            failed = np.zeros(visits.van.size, np.bool_)
            failed[lives.visit[(lives.part == index) & (lives.how == FOUND)]] = True
            carries = np.array(part.by_model)[scene.fleet.model[visits.van]] > 0
            lines.add(job[looked & ~failed & carries], WORK, part.component, "inspect")
