"""The histories that all the exports tell: the first vehicles of the sample fleet, as tidy tables."""

from collections.abc import Iterator
from functools import cache
from typing import Any, TypeVar

import numpy as np
import polars as pl
import polars.selectors as cs

from fleetlens.sample.chance import Chance
from fleetlens.sample.scene import play
from fleetlens.sample.tables import written
from fleetlens.sample.vehicles import fitted

__all__ = ["SEED", "VEHICLES", "Job", "Tables", "histories", "jobs", "one_of", "to_cents"]

VEHICLES, SEED = 40, 1

Choice = TypeVar("Choice")

Tables = dict[str, pl.DataFrame]
Job = tuple[dict[str, Any], list[str], list[dict[str, Any]]]
"""A job's own values, its codes in the order of the record, and its lines."""


@cache
def histories() -> Tables:
    """The seven tables of the vehicles, with amounts rounded as the sample's files have them."""
    made = {"fitted": fitted()} | written(play(Chance(SEED), 1, VEHICLES))
    return {name: frame.with_columns(cs.float().round(2)) for name, frame in made.items()}


def jobs(tables: Tables) -> Iterator[Job]:
    """The jobs of all vehicles in the order in which they were opened."""
    codes = _by_job(tables["job_codes"])
    lines = _by_job(tables["job_actions"])
    for job in tables["jobs"].sort("opened_at", "job_id").iter_rows(named=True):
        key = job["job_id"]
        yield job, [row["code"] for row in codes.get(key, ())], lines.get(key, [])


def one_of(options: tuple[Choice, ...], what: str, *keys: int) -> Choice:
    """One of the options, by what it is for and the keys, the same in each run."""
    drawn = Chance(SEED).uniform(what, *(np.array([key], np.int64) for key in keys))[0]
    return options[int(drawn * len(options))]


def to_cents(amounts: list[float | None]) -> float:
    """The sum of the amounts that there are, exact to the cent."""
    return sum(round(100 * amount) for amount in amounts if amount is not None) / 100


def _by_job(rows: pl.DataFrame) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for row in rows.iter_rows(named=True):
        found.setdefault(row["job_id"], []).append(row)
    return found
