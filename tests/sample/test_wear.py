"""Measurements of parts that still work lie inside their limits and move towards failure as the truth says."""

import numpy as np
import polars as pl
import pytest

from fleetlens import places
from fleetlens.sample import wear
from fleetlens.sample.chance import Chance
from fleetlens.sample.parts import COMPONENTS, PARTS
from fleetlens.sample.scene import Scene, play


@pytest.fixture(scope="module")
def scene() -> Scene:
    return play(Chance(5), 1, 400)


@pytest.mark.parametrize("moved", wear.WEARS, ids=lambda moved: moved.component)
def test_a_part_that_works_lies_inside_its_limits_and_moves_as_stated(scene: Scene, moved: wear.Wear) -> None:
    at = [one.component for one in wear.WEARS].index(moved.component)
    rows = wear.at_inspections(scene)[at]
    measure = PARTS[COMPONENTS.index(moved.component)].measure
    assert measure is not None
    assert rows["value"].is_between(measure.low, measure.high).all()
    lives = scene.lives
    mine = np.nonzero(lives.part == COMPONENTS.index(moved.component))[0]
    shares, values = [], []
    for job, value in rows.select("job", "value").iter_rows():
        van, km = scene.jobs.van[job], scene.jobs.km[job]
        (life,) = [one for one in mine if lives.van[one] == van and lives.start_km[one] < km < lives.end_km[one]]
        shares.append((km - lives.start_km[life]) / (lives.failed_km[life] - lives.start_km[life]))
        values.append(value)
    share, value = np.clip(shares, 0, 1), np.array(values)
    middle = sum(moved.fresh) / 2 + (sum(measure.failed) - sum(moved.fresh)) / 2 * share**moved.late
    # Early on nothing is cut off at a limit, so what is left is the spread of fresh values and readings.
    early = share < 0.7
    spread = np.hypot((moved.fresh[1] - moved.fresh[0]) / np.sqrt(12), moved.noise) + 0.35 * np.ptp(measure.failed)
    assert early.sum() > 300
    assert np.mean(value[early] - middle[early]) == pytest.approx(0, abs=4 * spread / np.sqrt(early.sum()))
    towards = np.sign(sum(measure.failed) - sum(moved.fresh))
    assert towards * np.corrcoef(value, share**moved.late)[0, 1] > 0.7


def test_the_share_of_inspections_is_as_stated(scene: Scene) -> None:
    inspections = int((scene.jobs.reason == 3).sum())
    rows = sum(frame.height for frame in wear.at_inspections(scene))
    assert rows / (len(wear.WEARS) * inspections) == pytest.approx(wear.MEASURED, abs=0.03)


def test_the_committed_table_holds_them() -> None:
    checks = pl.read_csv(places.folder("sample_fleet") / "job_checks.csv")
    on_the_way = checks.filter(pl.col("passed") & pl.col("check").is_in(["closed_signal", "pad_thickness_front"]))
    assert on_the_way.height > 1_000
