"""Checks after the repair (passed, not passed, not recorded) and measurements with the limits that came with the job."""

import numpy as np
import polars as pl

from fleetlens.sample.chance import Bools, Chance, Floats, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.frames import named
from fleetlens.sample.jobs import REPAIR_JOB, VISIT, Jobs
from fleetlens.sample.lives import FOUND, NOT_PASSED, NOT_RECORDED, PASSED, Lives
from fleetlens.sample.parts import COMPONENTS, PARTS
from fleetlens.sample.visits import Visits

NO, YES, BLANK = 0, 1, -1

SCHEMA = {
    "job": pl.Int64, "order": pl.Int64, "component": pl.String, "check": pl.String, "value": pl.Float64,
    "unit": pl.String, "low": pl.Float64, "high": pl.Float64, "passed": pl.Boolean,
}  # fmt: skip


def _passed(rows: Ints, part: Ints, check: str, order: int, passed: int) -> pl.DataFrame:
    said = None if passed == BLANK else passed == YES
    return pl.DataFrame({"job": rows, "component": named(COMPONENTS, part)}).with_columns(
        order=pl.lit(order, pl.Int64), check=pl.lit(check), passed=pl.lit(said, pl.Boolean)
    )


def _measured(rows: Ints, part: Ints, value: Floats, order: int) -> pl.DataFrame:
    """Measurements of each part's own kind; passed inside the limits."""
    kinds = [part.measure for part in PARTS]
    low, high = (
        np.array([getattr(kind, side) if kind else np.nan for kind in kinds])[part] for side in ("low", "high")
    )
    value = value.round(2)
    return pl.DataFrame(
        {
            "job": rows,
            "component": named(COMPONENTS, part),
            "check": named([kind.check if kind else None for kind in kinds], part),
            "value": value,
            "unit": named([kind.unit if kind else None for kind in kinds], part),
            "low": low,
            "high": high,
            "passed": (low <= value) & (value <= high),
        }
    ).with_columns(order=pl.lit(order, pl.Int64))


def table(chance: Chance, fleet: Fleet, visits: Visits, lives: Lives, jobs: Jobs) -> pl.DataFrame:
    """Checks by job (row of the job), in the order they were done."""
    size = lives.van.size
    keys = (fleet.number[lives.van], lives.part, lives.slot, lives.nth)
    repair = jobs.row_of(REPAIR_JOB, size)
    found = np.where(lives.how == FOUND, jobs.row_of(VISIT, visits.van.size)[lives.visit], -1)
    relearns = np.array([part.relearn for part in PARTS])[lives.part]
    measures = np.array([part.measure is not None for part in PARTS])[lives.part]
    ranges = np.array([part.measure.failed if part.measure else (0.0, 0.0) for part in PARTS])[lives.part]
    limits = np.array([(part.measure.low, part.measure.high) if part.measure else (0, 0) for part in PARTS])[lives.part]
    draw = chance.uniform("measured value", *keys)
    frames: list[pl.DataFrame] = []

    seen = np.where(repair >= 0, repair, found)
    bad = (seen >= 0) & measures & chance.happens(0.55, "measured", *keys)
    value = ranges[:, 0] + (ranges[:, 1] - ranges[:, 0]) * draw
    frames.append(_measured(seen[bad], lives.part[bad], value[bad], 0))

    def add(which: Bools, check: str, order: int, passed: int) -> None:
        rows = (repair >= 0) & which
        frames.append(_passed(repair[rows], lives.part[rows], check, order, passed))

    supply = (repair >= 0) & (lives.part == COMPONENTS.index("egr_valve"))
    supply &= chance.happens(0.5, "supply measured", *keys)
    volts = chance.between(4.93, 5.07, "supply", *keys)[supply].round(2)
    frames.append(
        pl.DataFrame({"job": repair[supply], "value": volts}).with_columns(
            component=pl.lit("egr_valve"),
            check=pl.lit("reference_voltage"),
            unit=pl.lit("V"),
            low=pl.lit(4.75),
            high=pl.lit(5.25),
            passed=pl.lit(True),
            order=pl.lit(1, pl.Int64),
        )  # fmt: skip
    )

    done, failed, silent = (lives.checks == state for state in (PASSED, NOT_PASSED, NOT_RECORDED))
    again = done & (repair >= 0) & measures & chance.happens(0.4, "measured again", *keys)
    value = limits[:, 0] + (limits[:, 1] - limits[:, 0]) * (0.15 + 0.7 * draw)
    frames.append(_measured(repair[again], lives.part[again], value[again], 2))
    add(done & relearns, "relearn", 3, YES)
    add(done, "codes_reread", 4, YES)
    add(done & chance.happens(0.85, "road test", *keys), "road_test", 5, YES)
    by_codes = chance.happens(0.5, "which not passed", *keys)
    add(failed & by_codes, "codes_reread", 4, NO)
    add(failed & ~by_codes, "road_test", 5, NO)
    add(silent & chance.happens(0.08, "left blank", *keys), "road_test", 5, BLANK)
    return (
        pl.concat([frame.cast({name: SCHEMA[name] for name in frame.columns}) for frame in frames], how="diagonal")
        .select(SCHEMA.keys())
        .sort("job", "order", "component", maintain_order=True)
        .drop("order")
    )
