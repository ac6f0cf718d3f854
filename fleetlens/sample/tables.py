"""One batch of vans as the input tables."""

import numpy as np
import polars as pl

from fleetlens.sample import actions, checks, codes, jobs, lives, scenario, vehicles, visits
from fleetlens.sample import fleet as fleets
from fleetlens.sample.chance import Chance
from fleetlens.sample.frames import DAY, moments, named, seconds, where, worded
from fleetlens.sample.jobs import NUISANCE_JOB, REASONS, RETURN_JOB, VISIT, Jobs
from fleetlens.sample.lives import Lives
from fleetlens.sample.parts import COMPONENTS
from fleetlens.sample.words import COMPLAINTS, NUISANCE_COMPLAINTS, RETURN_COMPLAINTS, VISIT_COMPLAINTS
from fleetlens.vocabulary.tables import tables
from fleetlens.vocabulary.units import KM_PER_MILE

TECHNICIANS = 5  # in each workshop


def batch(chance: Chance, first: int, count: int) -> tuple[dict[str, pl.DataFrame], fleets.Fleet, Lives, Jobs]:
    """The tables of the vans numbered `first` to `first + count - 1`, and the truth behind them."""
    fleet = fleets.build(chance, first, count)
    planned = visits.plan(chance, fleet)
    truth = lives.simulate(chance, fleet, planned)
    code = codes.of_failures(chance, fleet, truth)
    work = jobs.build(chance, fleet, planned, truth, code >= 0)
    job_id = _job_ids(fleet, work)
    found = {
        "vehicles": vehicles.vehicles(chance, fleet),
        "jobs": _jobs(chance, fleet, planned, truth, work).with_columns(job_id=job_id),
        "job_codes": _with_id(codes.table(chance, fleet, planned, truth, work, code), job_id),
        "job_actions": _with_id(actions.table(chance, fleet, planned, truth, work), job_id),
        "job_checks": _with_id(checks.table(chance, fleet, planned, truth, work), job_id),
        "odometer": vehicles.odometer(chance, fleet),
    }
    ordered = {name: frame.select(column.name for column in tables()[name].columns) for name, frame in found.items()}
    return ordered, fleet, truth, work


def _job_ids(fleet: fleets.Fleet, work: Jobs) -> pl.Series:
    """Job numbers such as J000012-003: the third job of van 12."""
    parts = pl.DataFrame({"van": fleet.number[work.van], "nth": work.nth})
    written = pl.format(
        "J{}-{}", pl.col("van").cast(pl.String).str.zfill(6), pl.col("nth").cast(pl.String).str.zfill(3)
    )
    return parts.select(job_id=written)["job_id"]


def _with_id(frame: pl.DataFrame, job_id: pl.Series) -> pl.DataFrame:
    return frame.with_columns(job_id=job_id.gather(frame["job"])).drop("job")


def _jobs(chance: Chance, fleet: fleets.Fleet, planned: visits.Visits, truth: Lives, work: Jobs) -> pl.DataFrame:
    """The table of jobs, without its identifiers."""
    keys = work.keys(fleet)
    opened = seconds(work.day)
    closed = opened + np.round(work.hours * 3600.0).astype(np.int64)
    ended = closed < fleets.RECORD_END * DAY
    miles = np.array([place.odometer_unit == "mi" for place in scenario.WORKSHOPS])[work.workshop]
    read = np.where(miles, np.floor(work.km / KM_PER_MILE), np.floor(work.km)).astype(np.int64)
    noted = ~chance.happens(scenario.ODOMETER_MISSING, "no odometer", *keys)

    own = work.source != VISIT
    life = np.where(own & (work.source != NUISANCE_JOB), work.ref, 0)
    bad = truth.bad[life] & own & (work.source != NUISANCE_JOB) if truth.bad.size else np.zeros(own.size, np.bool_)
    part = truth.part[life] if truth.part.size else np.zeros(own.size, np.int64)
    options = [COMPLAINTS[name] for name in COMPONENTS]
    options += [NUISANCE_COMPLAINTS, RETURN_COMPLAINTS] + [(text,) for text in VISIT_COMPLAINTS]
    size = len(COMPONENTS)
    kind = planned.kind[np.where(own, 0, work.ref)] if planned.kind.size else np.zeros(own.size, np.int64)
    which = np.select(
        [~own, work.source == NUISANCE_JOB, bad | (work.source == RETURN_JOB)], [size + 2 + kind, size, size + 1], part
    )
    told = np.where(own, chance.happens(0.9, "complaint", *keys), chance.happens(0.5, "complaint", *keys))
    technician = work.workshop * TECHNICIANS + chance.pick([3.0, 2.0, 2.0, 2.0, 1.0], "technician", *keys)
    return pl.DataFrame(
        {
            "vehicle_id": vehicles.identifiers(fleet.number[work.van]),
            "opened_at": moments(opened),
            "closed_at": where(ended, moments(closed)),
            "odometer": where(noted, pl.Series(read)),
            "odometer_unit": named(["km", "mi"], np.where(noted, miles.astype(np.int64), -1)),
            "reason": named(REASONS, work.reason),
            "complaint": where(told, worded(options, which, chance.uniform("complaint text", *keys))),
            "workshop": named([place.name for place in scenario.WORKSHOPS], work.workshop),
            "technician": named([f"T{at:02d}" for at in range(1, 26)], technician),
            "downtime_h": work.hours,
        }
    )
