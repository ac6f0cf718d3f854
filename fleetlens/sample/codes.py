"""The fault codes that jobs hold: of the failure, of its early warning, and of nothing in particular."""

import numpy as np
import polars as pl

from fleetlens.sample.chance import Chance, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.frames import named
from fleetlens.sample.jobs import NUISANCE_JOB, REPAIR_JOB, RETURN_JOB, VISIT, WRONG_JOB, Jobs
from fleetlens.sample.lives import Lives
from fleetlens.sample.parts import GLOW_PLUG_CODES, PARTS
from fleetlens.sample.visits import CAMPAIGN, Visits, chosen
from fleetlens.sample.words import BACKGROUND_CODES, NUISANCE_CODES

CODES = tuple(
    sorted(
        {code for part in PARTS for code, _ in part.codes}
        | set(GLOW_PLUG_CODES) | set(BACKGROUND_CODES) | set(NUISANCE_CODES)
    )
)  # fmt: skip
STORED, PENDING, PERMANENT = 0, 1, 2
STATUSES = ("stored", "pending", "permanent")

EARLY_KM = 6_000.0
"""A pending code may stand at the last planned visit, if that was no longer than this before the failure."""
SECOND_CODE = 0.3
BACKGROUND = 0.04

# Chances of each code by component; glow plugs set the code of their cylinder instead.
_WEIGHTS = np.array([[dict(part.codes).get(code, 0.0) for code in CODES] for part in PARTS])
_SILENT = np.array([part.silent if part.codes or part.component == "glow_plug" else 1.0 for part in PARTS])
_GLOW_PLUG = [part.component for part in PARTS].index("glow_plug")
_GLOW_CODES = np.array([CODES.index(code) for code in GLOW_PLUG_CODES])


def of_failures(chance: Chance, fleet: Fleet, lives: Lives, what: str = "code") -> Ints:
    """The code that each life's failure sets (its place in CODES); -1 where it sets none."""
    keys = (fleet.number[lives.van], lives.part, lives.slot, lives.nth)
    code = chance.pick_by_row(_WEIGHTS[lives.part], what, *keys)
    code = np.where(lives.part == _GLOW_PLUG, _GLOW_CODES[lives.slot % 4], code)
    return np.where(chance.happens(_SILENT[lives.part], "silent", *keys), -1, code)


def table(chance: Chance, fleet: Fleet, visits: Visits, lives: Lives, jobs: Jobs, code: Ints) -> pl.DataFrame:
    """Codes by job: job (row of the job), code, status; each code once a job."""
    rows: list[Ints] = []
    codes: list[Ints] = []
    fixed: list[Ints] = []  # a status that is given; -1 where it is drawn

    def add(row: Ints, which: Ints, status: int = -1) -> None:
        keep = (row >= 0) & (which >= 0)
        rows.append(row[keep])
        codes.append(which[keep])
        fixed.append(np.full(int(keep.sum()), status))

    size = lives.van.size
    keys = (fleet.number[lives.van], lives.part, lives.slot, lives.nth)
    repair = jobs.row_of(REPAIR_JOB, size)
    for row in (repair, jobs.row_of(WRONG_JOB, size), jobs.row_of(RETURN_JOB, size)):
        add(row, code)
    second = of_failures(chance, fleet, lives, "second code")
    second = np.where(_WEIGHTS[lives.part].any(axis=1) & (code >= 0), second, -1)
    add(np.where(chance.happens(SECOND_CODE, "has second code", *keys), repair, -1), second)

    visit_row = jobs.row_of(VISIT, visits.van.size)
    km, at = chosen(visits, visits.kind != CAMPAIGN).before(lives.van, lives.failed_km)
    warns = np.array([part.warns for part in PARTS])[lives.part]
    early = (km > np.maximum(lives.start_km, lives.failed_km - EARLY_KM)) & (km < lives.end_km)
    early &= chance.happens(warns, "early code", *keys)
    add(visit_row[at[early]], code[early], PENDING)

    own = jobs.keys(fleet)
    kind = np.where(jobs.source == NUISANCE_JOB, jobs.ref, -1)
    nothing = np.array([CODES.index(name) for name in NUISANCE_CODES])
    every = np.arange(jobs.van.size)
    drawn = nothing[chance.pick([1.0] * len(nothing), "nuisance code", *own)]
    add(every, np.where(kind == 0, drawn, -1))
    add(
        every,
        np.where(
            kind == 1, np.where(chance.happens(0.6, "soot code", *own), CODES.index("P2463"), CODES.index("P24A2")), -1
        ),
    )
    add(every, np.where(kind == 2, CODES.index("P0562"), -1))
    others = np.array([CODES.index(name) for name in BACKGROUND_CODES])
    drawn = others[chance.pick([1.0] * len(others), "background code", *own)]
    add(every, np.where(chance.happens(BACKGROUND, "background", *own), drawn, -1))

    row, which, given = np.concatenate(rows), np.concatenate(codes), np.concatenate(fixed)
    status = chance.pick((0.88, 0.07, 0.05), "status", fleet.number[jobs.van[row]], jobs.nth[row], which)
    return (
        pl.DataFrame({"job": row, "which": which, "status": np.where(given >= 0, given, status)})
        .unique(["job", "which"], keep="first", maintain_order=True)
        .sort("job", "which")
        .select(
            "job",
            pl.col("which").map_batches(lambda s: named(CODES, s.to_numpy()), return_dtype=pl.String).alias("code"),
            pl.col("status").map_batches(lambda s: named(STATUSES, s.to_numpy()), return_dtype=pl.String),
        )
    )
