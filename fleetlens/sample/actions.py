"""What was done at each job, line by line: the remedy of the failure and the work around it, with hours and costs."""

from collections.abc import Mapping

import numpy as np
import polars as pl

from fleetlens.sample import scenario
from fleetlens.sample.chance import Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.frames import named, where, worded
from fleetlens.sample.jobs import (
    BREAKDOWN,
    NUISANCE_JOB,
    REPAIR_JOB,
    RETURN_JOB,
    VISIT,
    WARRANTY,
    WRONG_JOB,
    Jobs,
)
from fleetlens.sample.lives import FOUND, PASSED, PREVENTED, Lives
from fleetlens.sample.parts import (
    ACTIONS,
    CLEAN,
    COMPONENTS,
    GRADES,
    PARTS,
    PRICE_OF_GRADE,
    REPAIR,
    REPLACE,
)
from fleetlens.sample.visits import INSPECTION, SCHEDULED, Visits
from fleetlens.sample.words import CAUSES, NOTES

SCHEMA = {
    "job": pl.Int64, "order": pl.Int64, "component": pl.String, "action": pl.String, "cause": pl.String,
    "position": pl.String, "part_number": pl.String, "part_grade": pl.String, "quantity": pl.Int64,
    "labour_h": pl.Float64, "labour_cost": pl.Float64, "parts_cost": pl.Float64, "note": pl.String,
}  # fmt: skip

RECOVERED = 0.45
RECOVERY_COST = 165.0
CAUSE_RECORDED = 0.93
PLANNED_HOURS = 0.85
"""A planned cleaning takes this share of the hours of one after a failure."""
CONSUMABLES = 7.5
GASKETS = 11.0
REMEDY_HOURS = 1.1
REMEDY_PARTS = 85.0

Columns = Mapping[str, object]


class Lines:
    """Job lines in the making: every line knows its job, its place in it, and its workshop's labour rate."""

    def __init__(self, chance: Chance, fleet: Fleet, jobs: Jobs) -> None:
        self._chance, self._fleet, self._jobs = chance, fleet, jobs
        self._rates = np.array([place.labour_rate for place in scenario.WORKSHOPS])
        self._frames: list[pl.DataFrame] = []

    def happens(self, share: float, what: str, job: Ints) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Which jobs have something, by a draw of each job's own."""
        return self._chance.happens(share, what, *(key[job] for key in self._jobs.keys(self._fleet)))

    def add(
        self,
        job: Ints,
        order: int,
        component: str | pl.Series,
        action: str | pl.Series,
        hours: Floats | float | None = None,
        parts: Floats | float | None = None,
        **more: object,
    ) -> None:
        """Add a line to each of the jobs; hours and parts vary a little around what is given."""
        count = job.size
        columns: dict[str, object] = {"job": job, "order": np.full(count, order)}
        what = f"line {order} {component if isinstance(component, str) else ''}"
        own = [key[job] for key in self._jobs.keys(self._fleet)]
        if hours is not None:
            spent = (hours * np.exp(0.15 * self._chance.normal(what + " hours", *own))).round(1)
            columns["labour_h"] = spent
            columns["labour_cost"] = (spent * self._rates[self._jobs.workshop[job]]).round(2)
        if parts is not None:
            paid = (parts * np.exp(0.05 * self._chance.normal(what + " parts", *own))).round(2)
            free = self._jobs.reason[job] == WARRANTY
            columns["parts_cost"] = np.where(free, 0.0, paid)
        frame = pl.DataFrame(columns | {name: value for name, value in more.items() if isinstance(value, pl.Series)})
        plain = {"component": component, "action": action} | more
        frame = frame.with_columns(
            **{name: value if isinstance(value, pl.Series) else pl.lit(value) for name, value in plain.items()}
        )
        self._frames.append(frame.cast({name: SCHEMA[name] for name in frame.columns}))

    def frame(self) -> pl.DataFrame:
        """All lines, by job and place in it, numbered from 1 within the job."""
        lines = pl.concat(self._frames, how="diagonal").select(SCHEMA.keys())
        lines = lines.sort("job", "order", "component", "position", maintain_order=True)
        return lines.with_columns(line=pl.int_range(1, pl.len() + 1).over("job")).drop("order")


def table(chance: Chance, fleet: Fleet, visits: Visits, lives: Lives, jobs: Jobs) -> pl.DataFrame:
    """Everything done, by job (row of the job)."""
    lines = Lines(chance, fleet, jobs)
    visit_row = jobs.row_of(VISIT, visits.van.size)
    _around(lines, jobs)
    _remedies(chance, fleet, lives, jobs, visit_row, lines)
    _wrong_remedies(chance, fleet, lives, jobs, lines)
    _nothing_found(lives, jobs, lines)
    _planned_work(fleet, visits, lives, visit_row, lines)
    return lines.frame()


def _around(lines: Lines, jobs: Jobs) -> None:
    """What surrounds every fault job: recovery, diagnosis, clearing the codes."""
    every = np.arange(jobs.van.size)
    fault = every[jobs.source != VISIT]
    towed = fault[(jobs.reason[fault] == BREAKDOWN) & lines.happens(RECOVERED, "recovered", fault)]
    lines.add(towed, 0, "vehicle", "diagnose", parts=RECOVERY_COST, note="recovered to the workshop")
    diagnosed = fault[lines.happens(0.9, "diagnosed", fault)]
    lines.add(diagnosed, 1, "vehicle", "diagnose", hours=0.7)
    cleared = fault[lines.happens(0.85, "cleared", fault)]
    lines.add(cleared, 6, "vehicle", "clear_codes")


def _remedies(chance: Chance, fleet: Fleet, lives: Lives, jobs: Jobs, visit_row: Ints, lines: Lines) -> None:
    """The remedy of each failure and each planned cleaning, with its gaskets, relearning and road test."""
    repair = jobs.row_of(REPAIR_JOB, lives.van.size)
    at_visit = (lives.how == FOUND) | (lives.how == PREVENTED)
    job = np.where(at_visit, visit_row[lives.visit], repair)
    (life,) = np.nonzero(job >= 0)
    job, part, action = job[life], lives.part[life], lives.action[life]
    how, grade, slot = lives.how[life], lives.next_grade[life], lives.slot[life]
    keys = (fleet.number[lives.van[life]], part, slot, lives.nth[life])

    hours = np.array([part.hours for part in PARTS])[part, action] * np.where(how == PREVENTED, PLANNED_HOURS, 1.0)
    price = np.array([part.price for part in PARTS])[part] * np.array(PRICE_OF_GRADE)[grade]
    causes = [CAUSES[component][done] for component in COMPONENTS for done in range(len(ACTIONS))]
    known = (how == FOUND) | ((how != PREVENTED) & chance.happens(CAUSE_RECORDED, "cause known", *keys))
    noted = chance.happens(0.4, "noted", *keys)
    many = np.array([part.count for part in PARTS])[part] > 1
    replaced = action == REPLACE
    engines = [
        f"{model.engine}-{at:02d}-{name[0].upper()}"
        for model in scenario.MODELS for at in range(len(PARTS)) for name in GRADES
    ]  # fmt: skip
    number = (fleet.model[lives.van[life]] * len(PARTS) + part) * len(GRADES) + grade
    lines.add(
        job, 3, named(COMPONENTS, part), named(ACTIONS, action), hours,
        np.where(action == CLEAN, CONSUMABLES, price),
        cause=where(known, worded(causes, part * len(ACTIONS) + action, chance.uniform("cause", *keys))),
        position=named([f"cylinder {at}" for at in range(1, 5)], np.where(many, slot, -1)),
        part_number=named(engines, np.where(replaced, number, -1)),
        part_grade=named(GRADES, np.where(replaced, grade, -1)),
        quantity=where(replaced, pl.Series(np.ones(part.size, np.int64))),
        note=where(noted, worded(NOTES, action, chance.uniform("note", *keys))),
    )  # fmt: skip

    sealed = np.array([part.gasket for part in PARTS])[part] & (action != REPAIR)
    lines.add(job[sealed], 4, "gasket_seal", "replace", parts=GASKETS, quantity=1)
    taught = np.array([part.relearn for part in PARTS])[part] & chance.happens(0.75, "taught", *keys)
    lines.add(job[taught], 5, named(COMPONENTS, part[taught]), "relearn", hours=0.2)
    driven = (how != PREVENTED) & (how != FOUND) & (lives.checks[life] == PASSED)
    driven &= chance.happens(0.8, "driven", *keys)
    lines.add(job[driven], 7, "vehicle", "road_test", hours=0.3)


def _wrong_remedies(chance: Chance, fleet: Fleet, lives: Lives, jobs: Jobs, lines: Lines) -> None:
    """What was done first where the first diagnosis was wrong."""
    job = jobs.row_of(WRONG_JOB, lives.van.size)
    (life,) = np.nonzero(job >= 0)
    names = [remedy for part in PARTS for remedy in part.remedies]
    sizes = np.array([len(part.remedies) for part in PARTS])
    index = (np.cumsum(sizes) - sizes)[lives.part[life]] + lives.remedy[life]
    keys = (fleet.number[lives.van[life]], lives.part[life], lives.slot[life], lives.nth[life])
    for at, (component, action) in enumerate(names):
        mine = index == at
        rows = job[life[mine]]
        cause: object = None
        if component in CAUSES and action == "clean":
            told = chance.happens(0.6, "wrong cause", *keys)[mine]
            draw = chance.uniform("wrong cause text", *keys)[mine]
            cause = where(told, worded([CAUSES[component][CLEAN]], np.zeros(rows.size, np.int64), draw))
        fitted = REMEDY_PARTS if action == "replace" else CONSUMABLES if action == "clean" else 0.0
        more = {"quantity": 1, "part_grade": "original"} if action == "replace" else {}
        lines.add(rows, 3, component, action, REMEDY_HOURS, fitted, cause=cause, **more)


def _nothing_found(lives: Lives, jobs: Jobs, lines: Lines) -> None:
    """Visits that ended without a repair."""
    back = jobs.row_of(RETURN_JOB, lives.van.size)
    (life,) = np.nonzero(back >= 0)
    lines.add(back[life], 2, named(COMPONENTS, lives.part[life]), "inspect", note="checked again, in order")
    lines.add(back[life], 3, "vehicle", "no_fault_found", hours=0.6)
    nuisance = np.nonzero(jobs.source == NUISANCE_JOB)[0]
    kind = jobs.ref[nuisance]
    lines.add(nuisance[kind == 0], 3, "vehicle", "no_fault_found", hours=0.6)
    lines.add(nuisance[kind == 1], 3, "dpf", "regenerate", hours=1.0, note="parked regeneration, soot down")
    lines.add(nuisance[kind == 2], 3, "battery", "charge", hours=0.4)


def _planned_work(fleet: Fleet, visits: Visits, lives: Lives, visit_row: Ints, lines: Lines) -> None:
    """Services and inspections, and the advice given there that nobody has acted on."""
    kept = visit_row >= 0
    service = visit_row[kept & (visits.kind == SCHEDULED)]
    lines.add(service, 1, "engine_oil", "replace", hours=0.6, parts=46.0, quantity=7)
    lines.add(service, 1, "oil_filter", "replace", parts=9.5, quantity=1)
    big = visit_row[kept & (visits.kind == SCHEDULED) & (visits.nth % 2 == 0)]
    lines.add(big, 2, "air_filter", "replace", hours=0.2, parts=14.0, quantity=1)
    lines.add(big, 2, "fuel_filter", "replace", hours=0.3, parts=22.0, quantity=1)
    lines.add(service, 8, "vehicle", "inspect", hours=0.4)
    for share, action, note in (
        (0.04, "advise", "valve sooting up, clean soon"),
        (0.015, "decline", "clean offered, not wanted"),
        (0.015, "defer", "clean put off to the next visit"),
    ):
        told = service[lines.happens(share, action, service)]
        lines.add(told, 9, "egr_valve", action, note=note)

    looked = kept & (visits.kind == INSPECTION)
    lines.add(visit_row[looked], 1, "vehicle", "inspect", hours=0.9)
    for index, part in enumerate(PARTS):
        if part.hidden:
            # Where the look found a failure, the remedy's own line says so.
            failed = np.zeros(visits.van.size, np.bool_)
            failed[lives.visit[(lives.part == index) & (lives.how == FOUND)]] = True
            carries = np.array(part.by_model)[fleet.model[visits.van]] > 0
            lines.add(visit_row[looked & ~failed & carries], 2, part.component, "inspect")
