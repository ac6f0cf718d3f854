"""Job lines in the making: each knows its job, its place in it, and what an hour costs there."""

import numpy as np
import polars as pl

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Floats, Ints
from fleetlens.sample.jobs import WARRANTY
from fleetlens.sample.scene import Scene

SCHEMA = {
    "job": pl.Int64, "place": pl.Int64, "component": pl.String, "action": pl.String, "cause": pl.String,
    "position": pl.String, "part_number": pl.String, "part_grade": pl.String, "quantity": pl.Int64,
    "labour_h": pl.Float64, "labour_cost": pl.Float64, "parts_cost": pl.Float64, "note": pl.String,
}  # fmt: skip


class Lines:
    """The lines of all jobs of a scene."""

    def __init__(self, scene: Scene) -> None:
        self._chance, self._jobs, self._keys = scene.chance, scene.jobs, scene.job_keys()
        self._rates = np.array([place.labour_rate for place in scenario.WORKSHOPS])
        self._frames: list[pl.DataFrame] = []

    def happens(self, share: float, what: str, job: Ints) -> Bools:
        """Which of the jobs have something, by a draw of each job's own."""
        return self._chance.happens(share, what, *(key[job] for key in self._keys))

    def add(
        self,
        job: Ints,
        place: int,
        component: str | pl.Series,
        action: str | pl.Series,
        *,
        hours: Floats | float | None = None,
        parts: Floats | float | None = None,
        **more: object,
    ) -> None:
        """Add one line to each of the jobs, a row of the jobs each.

        `place` orders the lines of a job. Hours and the cost of parts vary a little around what is given; on a
        warranty job parts cost nothing. `more` are further columns, as one value or a series.
        """
        named = {"component": component, "action": action, **more}
        columns = {name: value for name, value in named.items() if isinstance(value, pl.Series)}
        frame = pl.DataFrame({"job": job, **columns}).with_columns(pl.lit(place).alias("place"))
        frame = frame.with_columns(pl.lit(value).alias(name) for name, value in named.items() if name not in columns)
        what = f"{place} {component if isinstance(component, str) else ''}"
        if hours is not None:
            spent = (hours * self._spread(0.15, what + " hours", job)).round(1)
            cost = (spent * self._rates[self._jobs.workshop[job]]).round(2)
            frame = frame.with_columns(pl.Series("labour_h", spent), pl.Series("labour_cost", cost))
        if parts is not None:
            paid = (parts * self._spread(0.05, what + " parts", job)).round(2)
            free = self._jobs.reason[job] == WARRANTY
            frame = frame.with_columns(pl.Series("parts_cost", np.where(free, 0.0, paid)))
        self._frames.append(frame.cast({name: SCHEMA[name] for name in frame.columns}))

    def _spread(self, width: float, what: str, job: Ints) -> Floats:
        spread: Floats = np.exp(width * self._chance.normal(what, *(key[job] for key in self._keys)))
        return spread

    def frame(self) -> pl.DataFrame:
        """All lines, by job and place in it, numbered from 1 within the job."""
        lines = pl.concat(self._frames, how="diagonal").select(SCHEMA.keys())
        lines = lines.sort("job", "place", "component", "position", maintain_order=True)
        return lines.with_columns(line=pl.int_range(1, pl.len() + 1).over("job")).drop("place")
