"""One batch of vans as the input tables."""

import numpy as np
import polars as pl

from fleetlens.sample import actions, checks, codes, scenario, vehicles
from fleetlens.sample.fleet import RECORD_END
from fleetlens.sample.frames import DAY, moments, named, numbered, seconds, where, worded
from fleetlens.sample.jobs import REASONS, REDO_JOB, REPAIR_JOB, RETURN_JOB, VISIT, WRONG_JOB
from fleetlens.sample.parts import COMPONENTS
from fleetlens.sample.scene import Scene
from fleetlens.sample.words import COMPLAINTS, MINOR_COMPLAINTS, RETURN_COMPLAINTS, VISIT_COMPLAINTS
from fleetlens.sample.write import columns
from fleetlens.vocabulary.units import KM_PER_MILE

TECHNICIANS = 5  # in each workshop


def written(scene: Scene) -> dict[str, pl.DataFrame]:
    """The tables of a batch of vans, with all their columns in the published order; `fitted` is not among them."""
    job_id = _job_ids(scene)
    found = {
        "vehicles": vehicles.vehicles(scene.chance, scene.fleet),
        "jobs": _jobs(scene).with_columns(job_id=job_id),
        "job_codes": _with_id(codes.table(scene), job_id),
        "job_actions": _with_id(actions.table(scene), job_id),
        "job_checks": _with_id(checks.table(scene), job_id),
        "odometer": vehicles.odometer(scene.chance, scene.fleet),
    }
    return {name: frame.select(columns(name)) for name, frame in found.items()}


def _job_ids(scene: Scene) -> pl.Series:
    """Job numbers such as J000012-003: the third job of van 12."""
    van, nth = scene.job_keys()
    return numbered("J", van, 6) + numbered("-", nth, 3)


def _with_id(frame: pl.DataFrame, job_id: pl.Series) -> pl.DataFrame:
    return frame.with_columns(job_id=job_id.gather(frame["job"])).drop("job")


def _jobs(scene: Scene) -> pl.DataFrame:
    """The table of jobs, without its identifiers."""
    chance, work, keys = scene.chance, scene.jobs, scene.job_keys()
    opened = seconds(work.day)
    closed = opened + np.round(work.hours * 3600.0).astype(np.int64)
    miles = np.array([place.odometer_unit == "mi" for place in scenario.WORKSHOPS])[work.workshop]
    read = np.where(miles, np.floor(work.km / KM_PER_MILE), np.floor(work.km)).astype(np.int64)
    noted = ~chance.happens(scenario.ODOMETER_MISSING, "no odometer", *keys)
    technician = work.workshop * TECHNICIANS + chance.pick([3.0, 2.0, 2.0, 2.0, 1.0], "technician", *keys)
    return pl.DataFrame(
        {
            "vehicle_id": vehicles.identifiers(keys[0]),
            "opened_at": moments(opened),
            "closed_at": where(closed < RECORD_END * DAY, moments(closed)),
            "odometer": where(noted, pl.Series(read)),
            "odometer_unit": named(["km", "mi"], np.where(noted, miles.astype(np.int64), -1)),
            "reason": named(REASONS, work.reason),
            "complaint": _complaints(scene),
            "workshop": named([place.name for place in scenario.WORKSHOPS], work.workshop),
            "technician": named([f"T{at:02d}" for at in range(1, 26)], technician),
            "downtime_h": work.hours,
        }
    )


def _complaints(scene: Scene) -> pl.Series:
    """What the driver said: about the failure, about its return, or that the visit was due; often nothing."""
    chance, work, keys = scene.chance, scene.jobs, scene.job_keys()
    options = [COMPLAINTS[name] for name in COMPONENTS]
    options += [MINOR_COMPLAINTS, RETURN_COMPLAINTS, *((text,) for text in VISIT_COMPLAINTS)]
    minor, again, due = range(len(COMPONENTS), len(COMPONENTS) + 3)
    which = np.full(work.van.size, minor)
    for source in (REPAIR_JOB, WRONG_JOB, RETURN_JOB, REDO_JOB):
        row = scene.job_of_life(source)
        (life,) = np.nonzero(row >= 0)
        back = scene.lives.bad[life] | (source in {RETURN_JOB, REDO_JOB})
        which[row[life]] = np.where(back, again, scene.lives.part[life])
    row = scene.job_of_visit()
    which[row[row >= 0]] = due + scene.visits.kind[row >= 0]
    said = chance.happens(np.where(work.source == VISIT, 0.5, 0.9), "complaint", *keys)
    return where(said, worded(options, which, chance.uniform("complaint text", *keys)))
