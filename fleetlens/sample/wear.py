"""What inspections measure on parts that still work: the value on its way from fresh to failed."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from fleetlens.sample.chance import Bools, Floats, Ints
from fleetlens.sample.frames import named
from fleetlens.sample.parts import COMPONENTS, PARTS, Measure
from fleetlens.sample.scene import Scene
from fleetlens.sample.visits import INSPECTION, stops


@dataclass(frozen=True, slots=True)
class Wear:
    """How a component's measurement moves: from `fresh` by the part of its life that has run, to the power `late`."""

    component: str
    fresh: tuple[float, float]
    late: float
    noise: float


WEARS = (Wear("egr_valve", (0.55, 0.72), 3.0, 0.015), Wear("brakes", (11.0, 13.0), 1.0, 0.25))
MEASURED = 0.3
"""Share of the half-yearly inspections at which each of these is measured."""


def at_inspections(scene: Scene) -> list[pl.DataFrame]:
    """Measurements by job, one frame a component. What still works shows a value inside its limits."""
    return [_measured(scene, wear) for wear in WEARS]


def _measured(scene: Scene, wear: Wear) -> pl.DataFrame:
    chance, lives, visits = scene.chance, scene.lives, scene.visits
    part = COMPONENTS.index(wear.component)
    measure = PARTS[part].measure or Measure("", "", 0.0, 0.0, (0.0, 0.0))
    visit = np.nonzero(visits.kind == INSPECTION)[0]
    life = _running(scene, part, visit)
    job = scene.job_of_visit()[visit] if visit.size else visit
    keys = (scene.fleet.number[visits.van[visit]], np.full(visit.size, part), visits.nth[visit])
    kept = (life >= 0) & (job >= 0) & chance.happens(MEASURED, "measured on the way", *keys)
    visit, life, job = visit[kept], life[kept], job[kept]
    own = tuple(key[life] for key in scene.life_keys())
    fresh = chance.between(*wear.fresh, "fresh value", *own)
    failed = chance.between(*measure.failed, "measured value", *own)
    run = (visits.km[visit] - lives.start_km[life]) / (lives.failed_km[life] - lives.start_km[life])
    value: Floats = fresh + (failed - fresh) * np.clip(run, 0.0, 1.0) ** wear.late
    value = value + wear.noise * chance.normal("reading", *(key[kept] for key in keys))
    return pl.DataFrame(
        {
            "job": job,
            "component": named(COMPONENTS, np.full(job.size, part)),
            "value": np.clip(value.round(2), measure.low, measure.high),
        }
    ).with_columns(
        pl.lit(measure.check).alias("check"),
        unit=pl.lit(measure.unit),
        low=pl.lit(measure.low),
        high=pl.lit(measure.high),
        passed=pl.lit(True),
        order=pl.lit(0, pl.Int64),
    )


def _running(scene: Scene, part: int, visit: Ints) -> Ints:
    """The life of `part` that runs on through each visit (row of lives); -1 where none does."""
    lives, visits = scene.lives, scene.visits
    rows = np.nonzero(lives.part == part)[0]
    begun = stops(lives.van[rows], lives.start_km[rows], rows)
    _, life = begun.before(visits.van[visit], visits.km[visit])
    through: Bools = (life >= 0) & (lives.end_km[life] > visits.km[visit])
    return np.where(through, life, -1)
