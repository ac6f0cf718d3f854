"""A fleet whose lives are known: parts fail by a Weibull law after a new part and by another after a cleaning."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

HORIZON_KM, DAYS = 400_000.0, 2_920  # eight years at 50,000 km
CLEAN, REPLACE, BESIDE = 100.0, 400.0, 600.0  # labour and parts of either remedy, and what a failure costs beside it
PART = 300.0  # of a replacement


@dataclass(frozen=True, slots=True)
class Law:
    """Weibull lives: shape and scale (km)."""

    shape: float
    scale: float


@dataclass(frozen=True, slots=True)
class Truth:
    """How the parts of a model live, the share of failures mended by a cleaning, and of lives cleaned as planned."""

    new: Law
    cleaned: Law
    mended: float = 0.5
    planned: float = 0.3


def write_fleet(
    folder: Path, models: dict[str, Truth], vehicles: int, seed: int = 7, component: str = "egr_valve"
) -> int:
    """The tables of so many vehicles of each model; returns the number of failures."""
    random = np.random.default_rng(seed)
    jobs, actions, names = [], [], []
    failures = 0
    for model, truth in models.items():
        for number in range(vehicles):
            name = f"{model}-{number}"
            names.append((name, model))
            km, law = 0.0, truth.new
            while True:
                life = law.scale * random.weibull(law.shape) + 1
                planned = random.random() < truth.planned
                stop = law.scale * random.uniform(0.2, 1.2) if planned else np.inf
                km += min(life, stop)
                if km >= HORIZON_KM:
                    break
                failed = life <= stop
                cleaned = not failed or random.random() < truth.mended
                failures += failed
                law = truth.cleaned if cleaned else truth.new
                job_id = f"{name}-{km:.0f}"
                day = np.datetime64("2016-01-01") + int(km / HORIZON_KM * DAYS)
                jobs.append((job_id, name, str(day), km, "breakdown" if failed else "scheduled"))
                price = CLEAN if cleaned else REPLACE
                parts = None if cleaned else PART
                action = "clean" if cleaned else "replace"
                actions.append((job_id, 1, component, action, price - (parts or 0), parts, price / 100))
                if failed:
                    actions.append((job_id, 2, "vehicle", "diagnose", BESIDE, None, 6.0))
    pl.DataFrame(names, schema=["vehicle_id", "model"], orient="row").with_columns(
        in_service_on=pl.lit("2016-01-01"), in_service_km=0
    ).write_csv(folder / "vehicles.csv")
    pl.DataFrame(jobs, schema=["job_id", "vehicle_id", "opened_at", "odometer", "reason"], orient="row").write_csv(
        folder / "jobs.csv"
    )
    columns = ["job_id", "line", "component", "action", "labour_cost", "parts_cost", "labour_h"]
    pl.DataFrame(actions, schema=columns, orient="row").write_csv(folder / "job_actions.csv")
    end = str(np.datetime64("2016-01-01") + DAYS)
    pl.DataFrame(names, schema=["vehicle_id", "model"], orient="row").select(
        "vehicle_id", read_at=pl.lit(end), odometer=pl.lit(HORIZON_KM)
    ).write_csv(folder / "odometer.csv")
    return failures
