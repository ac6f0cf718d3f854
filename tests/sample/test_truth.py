"""What was drawn follows the truth that is written down, and the record shows what was drawn."""

import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy import stats

from fleetlens.sample import scenario
from fleetlens.sample.chance import Chance, Floats
from fleetlens.sample.frames import seconds
from fleetlens.sample.lives import FAULT, FOUND, MISTAKEN, PREVENTED, RUNNING
from fleetlens.sample.parts import (
    ACTIONS,
    BEGAN_AS,
    CLEANED,
    COMPONENTS,
    GRADES,
    NEW,
    ORIGINAL,
    PARTS,
    REPAIRED,
    REPLACED,
)
from fleetlens.sample.scene import Scene, play
from fleetlens.sample.tables import written
from fleetlens.vocabulary.actions import FAULT_REASONS, LIFE_STARTING, REPAIRING
from fleetlens.vocabulary.components import carbon_prone


def scale_km(scene: Scene) -> Floats:
    """The true characteristic life of each life of a scene, looked up one by one."""
    lives, fleet = scene.lives, scene.fleet
    rows = zip(lives.part, fleet.model[lives.van], fleet.duty[lives.van], lives.began, lives.grade, strict=True)
    return np.array([PARTS[part].life_km(*of) for part, *of in rows])


def shape(scene: Scene) -> Floats:
    return np.array([part.shape for part in PARTS])[scene.lives.part]


@pytest.mark.parametrize("began", [NEW, REPLACED, CLEANED, REPAIRED], ids=BEGAN_AS)
def test_hidden_lives_are_weibull_as_stated(scene: Scene, began: int) -> None:
    # A life drawn from its own Weibull law has (life / scale) ** shape exponential with mean 1: SciPy's test.
    lives = scene.lives
    drawn = (lives.failed_km - lives.start_km) / scale_km(scene)
    chosen = ~lives.bad & (lives.began == began)
    assert chosen.sum() > 300
    assert stats.kstest((drawn ** shape(scene))[chosen], stats.expon().cdf).pvalue > 1e-3


def test_censoring_tells_nothing_about_the_failure_it_forestalls(scene: Scene) -> None:
    # At the moment of a planned cleaning, or of the end of the record, what is left of the hazard is again exponential.
    lives, scale, power = scene.lives, scale_km(scene), shape(scene)
    for how in (PREVENTED, RUNNING):
        kept = (lives.how == how) & (lives.failed_km > lives.end_km) & ~lives.bad
        spent = ((lives.end_km - lives.start_km) / scale) ** power
        left = ((lives.failed_km - lives.start_km) / scale) ** power - spent
        assert kept.sum() > 300
        assert stats.kstest(left[kept], stats.expon().cdf).pvalue > 1e-3


@pytest.mark.parametrize("component", ["egr_valve", "dpf", "egt_sensor", "dpf_pressure_sensor"])
def test_an_outside_fit_finds_the_truth(scene: Scene, component: str) -> None:
    # SciPy's maximum likelihood of censored Weibull lives, first lives only, in units of each life's own scale.
    lives = scene.lives
    part = PARTS[COMPONENTS.index(component)]
    first = (lives.part == COMPONENTS.index(component)) & (lives.nth == 0)
    age = (np.minimum(lives.failed_km, lives.end_km) - lives.start_km)[first] / scale_km(scene)[first]
    failed = (lives.failed_km <= lives.end_km)[first]
    fitted, _, scale = stats.weibull_min.fit(stats.CensoredData.right_censored(age, ~failed), floc=0)
    failures = failed.sum()
    assert failures > 250
    # Four standard errors; for complete samples that of log shape is 0.78 / sqrt(failures).
    assert math.log(fitted / part.shape) == pytest.approx(0, abs=4 * 0.9 / math.sqrt(failures))
    assert math.log(scale) == pytest.approx(0, abs=4 * 1.6 / (part.shape * math.sqrt(failures)))


def test_the_truth_is_what_a_maintenance_engineer_would_expect() -> None:
    for part in PARTS:
        assert part.component == "dpf_pressure_sensor" or part.shape >= 1
        cleaned, new = (part.life_km(1, 0, began, ORIGINAL) for began in (CLEANED, NEW))
        if (CLEANED, ORIGINAL) in part.begins():
            assert carbon_prone(part.component)
            assert cleaned < new
            assert part.life_km(1, 0, NEW, ORIGINAL) < part.life_km(1, 1, NEW, ORIGINAL)
        assert part.life_km(1, 0, REPLACED, GRADES.index("equivalent")) < new
        assert (part.planned_km > 0 and ACTIONS[part.planned] == "clean") <= (part.shape > 2)
    carbon = [part for part in PARTS if part.cleaned < 1]
    assert {part.component for part in carbon} >= {"egr_valve", "egr_cooler", "dpf", "intake_manifold", "turbo_vanes"}


def test_truth_json_states_every_life_that_occurs(scene: Scene, sample: Path) -> None:
    truth = json.loads((sample / "truth.json").read_text(encoding="utf-8"))
    stated = {
        (row["component"], row["model"], row["duty"], row["began_as"], row["part_grade"]): row
        for row in truth["lives"]["rows"]
    }
    assert len(stated) == len(truth["lives"]["rows"])
    lives, fleet, scale = scene.lives, scene.fleet, scale_km(scene)
    for at in range(0, lives.van.size, 7):
        part, van, began = PARTS[lives.part[at]], lives.van[at], lives.began[at]
        grade = GRADES[lives.grade[at]] if began == REPLACED else None
        model, duty = scenario.MODELS[fleet.model[van]].name, scenario.DUTIES[fleet.duty[van]].name
        row = stated[part.component, model, duty, BEGAN_AS[began], grade]
        assert row["shape"] == part.shape
        assert row["scale_km"] == pytest.approx(scale[at], abs=0.1)


def test_remedies_and_slips_come_with_the_stated_chances(scene: Scene) -> None:
    lives = scene.lives
    valve = (lives.part == COMPONENTS.index("egr_valve")) & (lives.how == FAULT)
    for after_clean, stated in ((False, 0.6), (True, 0.35)):
        chosen = valve & ((lives.began == CLEANED) == after_clean)
        cleaned = int((lives.action[chosen] == ACTIONS.index("clean")).sum())
        assert stats.binomtest(cleaned, int(chosen.sum()), stated).pvalue > 1e-3
    slots = {key: at for at, key in enumerate(zip(lives.part, lives.van, lives.slot, lives.nth, strict=True))}
    fault = np.nonzero(lives.how == FAULT)[0]
    follow = [slots[lives.part[at], lives.van[at], lives.slot[at], lives.nth[at] + 1] for at in fault]
    for checks, chance in enumerate(scenario.SLIP):
        for workshop, place in enumerate(scenario.WORKSHOPS):
            chosen = (lives.checks[fault] == checks) & (lives.workshop[fault] == workshop)
            slipped = int((lives.bad[follow] | lives.loose[fault])[chosen].sum())
            assert stats.binomtest(slipped, int(chosen.sum()), chance * place.slips).pvalue > 1e-4
    bad = lives.bad & (lives.how == FAULT)
    run = (lives.end_km - lives.start_km)[bad]
    assert run.min() > 0
    assert run.max() <= scenario.SLIP_KM
    assert 0.003 < bad.sum() / (lives.how == FAULT).sum() < 0.015
    short, slipped = int(lives.bad.sum()), int(lives.bad.sum() + lives.loose.sum())
    assert stats.binomtest(short, slipped, scenario.SLIP_IS_SHORT_LIFE).pvalue > 1e-3


def ends_by_the_rules(tables: dict[str, pl.DataFrame]) -> dict[tuple[str, str, str | None], list[tuple[object, ...]]]:
    """How lives end, straight from the rules of classification: by vehicle, component and position, in time order."""
    jobs = {job["job_id"]: job for job in tables["jobs"].iter_rows(named=True)}
    by_job = defaultdict(list)
    for line in tables["job_actions"].iter_rows(named=True):
        if line["action"] in LIFE_STARTING and line["component"] in COMPONENTS:
            by_job[line["job_id"], line["component"], line["position"]].append(line)
    ends = defaultdict(list)
    for (job_id, component, position), lines in by_job.items():
        job = jobs[job_id]
        failed = job["reason"] in FAULT_REASONS or any(line["cause"] for line in lines)
        action = min((line["action"] for line in lines), key=LIFE_STARTING.index)
        ends[job["vehicle_id"], component, position].append((job["opened_at"], failed, action))
    return {key: sorted(found) for key, found in ends.items()}


def test_the_record_shows_exactly_the_lives_that_ended_in_it() -> None:
    scene = play(Chance(21), 1, 120)
    lives, fleet = scene.lives, scene.fleet
    moment = fleet.day_of(lives.van, lives.end_km)
    moment = np.where(lives.visit >= 0, scene.visits.day[lives.visit], moment)
    opened = pl.Series(seconds(moment) * 1_000_000).cast(pl.Datetime("us")).to_list()
    expected = defaultdict(list)
    for at in np.nonzero((lives.how != RUNNING) & (moment >= fleet.seen_from[lives.van]))[0]:
        part = PARTS[lives.part[at]]
        position = f"cylinder {lives.slot[at] + 1}" if part.count > 1 else None
        failed = lives.how[at] in (FAULT, FOUND, MISTAKEN)
        key = (f"V{fleet.number[lives.van[at]]:06d}", part.component, position)
        expected[key].append((opened[at], failed, ACTIONS[lives.action[at]]))
    assert ends_by_the_rules(written(scene)) == {key: sorted(found) for key, found in expected.items()}
    assert {FAULT, FOUND, MISTAKEN, PREVENTED, RUNNING} == set(lives.how)


def comebacks_by_the_rules(folder: Path, days: int = 90, km: float = 5_000) -> Iterator[str]:
    """The kind of every comeback, by plain loops; jobs without an odometer are left to the days alone."""
    jobs = pl.read_csv(folder / "jobs.csv", try_parse_dates=True).filter(pl.col("reason").is_in(FAULT_REASONS))
    mended, codes = defaultdict(set), defaultdict(set)
    for line in pl.read_csv(folder / "job_actions.csv").iter_rows(named=True):
        if line["action"] in REPAIRING:
            mended[line["job_id"]].add(line["component"])
    for line in pl.read_csv(folder / "job_codes.csv").iter_rows(named=True):
        codes[line["job_id"]].add(line["code"])
    for _, history in jobs.group_by("vehicle_id"):
        rows = list(history.sort("opened_at").iter_rows(named=True))
        for at, job in enumerate(rows):
            ended: datetime = job["closed_at"] or job["opened_at"]
            inside = [
                later["job_id"]
                for later in rows[at + 1 :]
                if (later["opened_at"] - ended).days <= days and not run(later) - run(job) > km
            ]
            same = [bool(codes[job["job_id"]] & codes[later]) for later in inside]
            for component in mended[job["job_id"]]:
                kinds = [
                    kind_of(component in mended[later], bool(mended[later]), shared)
                    for later, shared in zip(inside, same, strict=True)
                ]
                yield from [kind for kind in kinds if kind][:1]


def kind_of(again: bool, mended: bool, shared: bool) -> str:
    """The kind of comeback that a later fault job is; "" where it is none."""
    if again:
        return "same component again"
    if shared:
        return "same code, other cause found" if mended else "repeat code, nothing found"
    return ""


def run(job: dict[str, object]) -> float:
    """Kilometres on the odometer of a job; NaN compares as inside any window."""
    shown, unit = job["odometer"], job["odometer_unit"]
    return math.nan if shown is None else float(str(shown)) * (1.609344 if unit == "mi" else 1.0)


def test_all_kinds_of_comebacks_are_there(sample: Path) -> None:
    kinds = Counter(comebacks_by_the_rules(sample))
    assert kinds.keys() == {"same component again", "same code, other cause found", "repeat code, nothing found"}
    assert min(kinds.values()) >= 10
    truth = json.loads((sample / "truth.json").read_text(encoding="utf-8"))["came_of_it"]
    assert kinds.total() < 0.25 * truth["repair_jobs"]


def test_what_came_of_it_adds_up(sample: Path) -> None:
    truth = json.loads((sample / "truth.json").read_text(encoding="utf-8"))["came_of_it"]
    ends = [name for name in truth if name.startswith("ended_")]
    assert sum(truth[name] for name in ends) + truth["still_running"] == truth["lives_in_the_record"]
    assert 0 < truth["ended_by_a_wrong_diagnosis"] < 0.03 * truth["ended_in_a_fault_job"]
    assert truth["ended_in_a_fault_job"] == truth["repair_jobs"]
