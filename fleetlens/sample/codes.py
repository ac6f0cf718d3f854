"""The fault codes that jobs hold: of the failure, of its early warning, and of nothing in particular."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from fleetlens.sample.chance import Ints
from fleetlens.sample.frames import named
from fleetlens.sample.jobs import (
    CHARGE,
    MINOR_JOB,
    NFF,
    REDO_JOB,
    REGENERATION,
    REPAIR_JOB,
    RETURN_JOB,
    SMALL_REPAIR,
    WRONG_JOB,
)
from fleetlens.sample.parts import PARTS
from fleetlens.sample.scene import Scene
from fleetlens.sample.symptoms import CODES, of_failures, varied
from fleetlens.sample.visits import CAMPAIGN, chosen
from fleetlens.sample.words import BACKGROUND_CODES, MINOR_CODES, SMALL_REPAIRS

PENDING = 1
STATUSES = ("stored", "pending", "permanent")

EARLY_KM = 6_000.0
"""A pending code may stand at the last planned visit, if that was no longer than this before the failure."""
SECOND_CODE = 0.3
STRAY = 0.04


def table(scene: Scene) -> pl.DataFrame:
    """Codes by job: job (row of the job), code, status; each code once a job."""
    pieces = [*_of_lives(scene), *_of_jobs(scene)]
    row, code, given = (np.concatenate(column) for column in zip(*pieces, strict=True))
    keys = tuple(key[row] for key in scene.job_keys())
    status = np.where(given >= 0, given, scene.chance.pick((0.88, 0.07, 0.05), "status", *keys, code))
    rows = pl.DataFrame({"job": row, "which": code, "status": status})
    rows = rows.unique(["job", "which"], keep="first", maintain_order=True).sort("job", "which")
    return pl.DataFrame(
        {
            "job": rows["job"],
            "code": named(CODES, rows["which"].to_numpy()),
            "status": named(STATUSES, rows["status"].to_numpy()),
        }
    )


def _rows(job: Ints, code: Ints, status: int = -1) -> tuple[Ints, Ints, Ints]:
    """The codes that there are (none where job or code is negative), with the status, -1 where it is to be drawn."""
    keep = (job >= 0) & (code >= 0)
    return job[keep], code[keep], np.full(int(keep.sum()), status)


def _of_lives(scene: Scene) -> list[tuple[Ints, Ints, Ints]]:
    """The codes of failures: at their jobs, and pending shortly before."""
    chance, lives, code, keys = scene.chance, scene.lives, scene.code, scene.life_keys()
    found = [_rows(scene.job_of_life(source), code) for source in (REPAIR_JOB, WRONG_JOB, RETURN_JOB, REDO_JOB)]
    two = chance.happens(SECOND_CODE, "has second code", *keys) & varied(lives) & (code >= 0)
    second = of_failures(chance, scene.fleet, lives, "second code")
    found.append(_rows(scene.job_of_life(REPAIR_JOB), np.where(two, second, -1)))
    km, at = chosen(scene.visits, scene.visits.kind != CAMPAIGN).before(lives.van, lives.failed_km)
    early = (km > np.maximum(lives.start_km, lives.failed_km - EARLY_KM)) & (km < lives.end_km)
    early &= chance.happens(np.array([part.warns for part in PARTS])[lives.part], "early code", *keys)
    found.append(_rows(scene.job_of_visit()[at[early]], code[early], PENDING))
    return found


def _of_jobs(scene: Scene) -> list[tuple[Ints, Ints, Ints]]:
    """Codes that no failure set."""
    chance, jobs, keys = scene.chance, scene.jobs, scene.job_keys()
    every = np.arange(jobs.van.size)

    def drawn(codes: Sequence[str], weights: Sequence[float], what: str) -> Ints:
        return np.array([CODES.index(code) for code in codes])[chance.pick(weights, what, *keys)]

    kind = np.where(jobs.source == MINOR_JOB, jobs.ref, -1)
    any_code = drawn(MINOR_CODES, [1.0] * len(MINOR_CODES), "minor code")
    soot = drawn(("P2463", "P24A2"), (0.6, 0.4), "soot code")
    flat = np.full(every.size, CODES.index("P0562"))
    of_small = np.array([CODES.index(code) for _, _, code in SMALL_REPAIRS])
    stray = drawn(BACKGROUND_CODES, [1.0] * len(BACKGROUND_CODES), "stray code")
    return [
        _rows(every, np.select([kind == NFF, kind == REGENERATION, kind == CHARGE], [any_code, soot, flat], -1)),
        _rows(every, np.where(kind == SMALL_REPAIR, of_small[scene.small_repair()], -1)),
        _rows(every, np.where(chance.happens(STRAY, "stray", *keys), stray, -1)),
    ]
