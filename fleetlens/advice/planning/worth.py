"""What lies ahead of a part under its policy: the cost of all that follows, less g for each km of it.

Measured from a new part, of which it is 0. g is the policy's long-run cost per km. Rows are running parts beside their
policies, as candidates.staged gives them.
"""

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.reliability.cleaning_policy import Life

__all__ = ["ahead", "life_of", "prices", "relative_values"]

Floats = npt.NDArray[np.float64]


def life_of(rows: pl.DataFrame, cleaned: npt.ArrayLike) -> Life:
    """The life of a part of each row: of a cleaned one where `cleaned` and fitted, else of a new one."""
    fitted = np.asarray(cleaned, dtype=bool) & rows["cleaned_shape"].is_not_null().to_numpy()
    return Life(
        *(np.where(fitted, rows[f"cleaned_{name}"].fill_null(1.0), rows[f"new_{name}"]) for name in ("shape", "scale"))
    )


def relative_values(rows: pl.DataFrame) -> Floats:
    """How much dearer the rest of a cycle is with the part of each row just cleaned than with a new one.

    By the policy's recursion over cleanings: the cost of all that follows, less g for each km of it.
    """
    after = rows["after_km"].cast(pl.Float64).fill_null(np.inf).to_numpy()
    failure, at_last, clean, renewal, mended = prices(rows)
    life = life_of(rows, True)
    kept, spent = life.survival(after), rows["cost_per_1000km"].to_numpy() / 1_000 * life.mean_age(after)
    go_on = kept + mended * (1 - kept)
    stage = failure * (1 - kept) + clean * kept - spent
    most = rows["most_cleanings"].cast(pl.Float64).fill_null(np.inf).to_numpy()
    left = most - rows["cleanings"].to_numpy() - 1  # cleanings still to come once this one is done
    value = np.where(
        np.isinf(most),
        stage / np.maximum(1 - go_on, np.finfo(np.float64).tiny),
        at_last * (1 - kept) + renewal * kept - spent,
    )
    for number in range(1, int(max(left[np.isfinite(left)], default=0)) + 1):
        value = np.where(np.isfinite(left) & (left >= number), stage + go_on * value, value)
    return value


def ahead(rows: pl.DataFrame, age: npt.ArrayLike, cleaned: npt.ArrayLike) -> Floats:
    """What lies ahead of a part at `age` since it was new or, where `cleaned`, since it was cleaned; one of each row.

    It runs to the age of its policy, where it is cleaned (or replaced, where the row's action says so); one past that
    age is done now.
    """
    ages, is_cleaned = np.asarray(age, dtype=np.float64), np.asarray(cleaned, dtype=bool)
    life = life_of(rows, is_cleaned)
    planned_at = np.where(is_cleaned, _age(rows, "after_km"), _age(rows, "first_km"))
    is_replace, value = (rows["action"] == "replace").to_numpy(), relative_values(rows)
    failure, at_last, clean, renewal, mended = prices(rows)
    planned = np.where(is_replace, renewal, clean + value)
    failing = np.where(is_replace, at_last, failure + mended * value)
    until = np.maximum(planned_at, ages)
    alive = np.maximum(life.survival(ages), np.finfo(np.float64).tiny)
    kept = life.survival(until) / alive
    distance = (life.mean_age(until) - life.mean_age(ages)) / alive
    per_km = rows["cost_per_1000km"].to_numpy() / 1_000
    return np.asarray((1 - kept) * failing + kept * planned - per_km * distance)


def _age(rows: pl.DataFrame, name: str) -> Floats:
    return rows[name].cast(pl.Float64).fill_null(np.inf).to_numpy()


def prices(rows: pl.DataFrame) -> tuple[Floats, ...]:
    """Failure, failure at the last stage, cleaning, replacement, and the share of failures mended by a cleaning."""
    # A policy without a limit never comes to a replacement, whose price may then be unknown.
    known = (rows[name].fill_null(rows["failure"]) for name in ("failure", "last_failure", "clean", "replace"))
    return (*(each.to_numpy() for each in known), rows["mended"].to_numpy())
