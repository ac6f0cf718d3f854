"""Checks after the repair (passed, not passed, not recorded), and measurements with the limits of the job."""

import numpy as np
import polars as pl

from fleetlens.sample.chance import Bools, Floats, Ints
from fleetlens.sample.frames import named
from fleetlens.sample.jobs import REPAIR_JOB
from fleetlens.sample.lives import FOUND, NOT_PASSED, NOT_RECORDED, PASSED
from fleetlens.sample.parts import COMPONENTS, PARTS, Measure
from fleetlens.sample.scene import Scene
from fleetlens.sample.wear import at_inspections

SCHEMA = {
    "job": pl.Int64, "order": pl.Int64, "component": pl.String, "check": pl.String, "value": pl.Float64,
    "unit": pl.String, "low": pl.Float64, "high": pl.Float64, "passed": pl.Boolean,
}  # fmt: skip


NOTHING = Measure("", "", 0.0, 0.0, (0.0, 0.0))
SUPPLY = Measure("reference_voltage", "V", 4.75, 5.25, (0.0, 0.0))


def table(scene: Scene) -> pl.DataFrame:
    """Checks by job (row of the job), in the order they were done."""
    frames = [*at_inspections(scene), *_measurements(scene), *_after_repair(scene)]
    return (
        pl.concat([frame.cast({name: SCHEMA[name] for name in frame.columns}) for frame in frames], how="diagonal")
        .select(SCHEMA.keys())
        .sort("job", "order", "component", maintain_order=True)
        .drop("order")
    )


def _measurements(scene: Scene) -> list[pl.DataFrame]:
    """What a failed component showed, its supply where that was measured too, and what it showed once mended."""
    chance, lives, keys = scene.chance, scene.lives, scene.life_keys()
    repair = scene.job_of_life(REPAIR_JOB)
    found = np.where(lives.how == FOUND, scene.visit_job_of_life(), -1)
    job = np.where(repair >= 0, repair, found)
    can = (job >= 0) & np.array([part.measure is not None for part in PARTS])[lives.part]
    draw = chance.uniform("measured value", *keys)

    def between(ends: list[tuple[float, float]], share: Floats) -> Floats:
        low, high = np.array(ends)[lives.part].T
        value: Floats = low + (high - low) * share
        return value

    measures = [part.measure or NOTHING for part in PARTS]
    broken = between([measure.failed for measure in measures], draw)
    mended = between([(measure.low, measure.high) for measure in measures], 0.15 + 0.7 * draw)
    before = can & chance.happens(0.55, "measured", *keys)
    after = can & (repair >= 0) & (lives.checks == PASSED) & chance.happens(0.4, "measured again", *keys)
    supply = (repair >= 0) & (lives.part == COMPONENTS.index("egr_valve"))
    supply &= chance.happens(0.5, "supply measured", *keys)
    volts = chance.between(4.93, 5.07, "supply", *keys)
    return [
        _measured(job[before], lives.part[before], broken[before], measures, 0),
        _measured(job[supply], lives.part[supply], volts[supply], [SUPPLY] * len(PARTS), 1),
        _measured(job[after], lives.part[after], mended[after], measures, 2),
    ]


def _after_repair(scene: Scene) -> list[pl.DataFrame]:
    """Checks of fault jobs: all passed, one not passed, or none recorded; now and then one without its outcome."""
    chance, lives, keys = scene.chance, scene.lives, scene.life_keys()
    job = scene.job_of_life(REPAIR_JOB)
    done, failed, silent = (lives.checks == state for state in (PASSED, NOT_PASSED, NOT_RECORDED))
    relearns = np.array([part.relearn for part in PARTS])[lives.part]
    driven = chance.happens(0.85, "road test", *keys)
    by_codes = chance.happens(0.5, "which not passed", *keys)
    blank = chance.happens(0.08, "left blank", *keys)

    def rows(which: Bools, check: str, order: int, passed: bool | None) -> pl.DataFrame:
        which = which & (job >= 0)
        return pl.DataFrame({"job": job[which], "component": named(COMPONENTS, lives.part[which])}).with_columns(
            order=pl.lit(order, pl.Int64), check=pl.lit(check), passed=pl.lit(passed, pl.Boolean)
        )

    return [
        rows(done & relearns, "relearn", 3, True),
        rows(done, "codes_reread", 4, True),
        rows(done & driven, "road_test", 5, True),
        rows(failed & by_codes, "codes_reread", 4, False),
        rows(failed & ~by_codes, "road_test", 5, False),
        rows(silent & blank, "road_test", 5, None),
    ]


def _measured(job: Ints, part: Ints, value: Floats, measures: list[Measure], order: int) -> pl.DataFrame:
    """Measurements, passed inside the limits; `measures` by part."""
    low = np.array([measure.low for measure in measures])[part]
    high = np.array([measure.high for measure in measures])[part]
    value = value.round(2)
    columns = {
        "job": job,
        "component": named(COMPONENTS, part),
        "check": named([measure.check for measure in measures], part),
        "value": value,
        "unit": named([measure.unit for measure in measures], part),
        "low": low,
        "high": high,
        "passed": (low <= value) & (value <= high),
    }
    return pl.DataFrame(columns).with_columns(order=pl.lit(order, pl.Int64))
