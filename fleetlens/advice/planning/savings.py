"""What planned work on a running part saves in a given week, and how surely.

A saving compares doing the work then with leaving it to the first service after the plan. A part that isn't due within
the plan may also wait until it is due, on a visit of its own; of the two the cheaper counts. Up to that later age the
two differ by D (F(later) - F(then)) - g (M(later) - M(then)), for a part that has come this far: F is the share failed
by an age, M the mean distance to it, g the policy's long-run cost per km, D what a failure costs more than the planned
work, what each leaves behind included. Below the age of least cost waiting pays, above it acting does.
The marginal cost of deferring a renewal: Dekker & Smeitink 1991, European Journal of Operational Research 52, 37-44
(from memory).
"""

from collections.abc import Sequence
from datetime import timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.advice.draws import drawn_lives
from fleetlens.advice.planning.weeks import Week
from fleetlens.advice.planning.worth import prices, relative_values
from fleetlens.reliability.cleaning_policy import Life

__all__ = ["drawn_savings", "savings"]

DRAWS = 400

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def savings(rows: pl.DataFrame, weeks: Sequence[Week], visit_cost: float) -> Floats:
    """Money saved by the planned work on each of `rows` (as candidates.Candidates has them) in each week.

    What a visit in the plan costs isn't in it.
    """
    days = _days_until(rows, [week.monday + timedelta(days=3) for week in weeks])
    life = Life(*(rows[name].to_numpy()[:, None] for name in ("shape", "scale")))
    return _saved(rows, life, days, visit_cost)


def drawn_savings(rows: pl.DataFrame, weeks: Sequence[Week], week: Ints, visit_cost: float) -> Floats:
    """The same for each row in its own `week`, for lives drawn from the fits' covariance: [draw, row].

    Rows of one fit share their draws, so that their errors add up as they should.
    """
    days = _days_until(rows, [each.monday + timedelta(days=3) for each in weeks])[np.arange(rows.height), week]
    covariance = [rows[name].to_numpy() for name in ("var_log_shape", "var_log_scale", "cov_log")]
    lives = drawn_lives(rows["shape"].to_numpy(), rows["scale"].to_numpy(), covariance, DRAWS)
    return np.asarray(_saved(rows, lives, days[:, None], visit_cost).T)


def _saved(rows: pl.DataFrame, life: Life, days: Floats, visit_cost: float) -> Floats:
    """What acting after so many `days` saves; [row, any]."""
    extra, per_km = (each[:, None] for each in _extra(rows))
    age, rate, due, later = (
        rows[name].to_numpy()[:, None] for name in ("age_km", "km_per_day", "due_age", "later_age")
    )
    alive, at = life.survival(age), age + rate * days
    then, reached = life.survival(at), life.mean_age(at)

    def against(end: Floats) -> Floats:
        return np.asarray(extra * (then - life.survival(end)) - per_km * (life.mean_age(end) - reached))

    at_service = against(later)
    when_due = against(due) + visit_cost * life.survival(due)
    saved = np.where(rows["due_in_plan"].to_numpy()[:, None], at_service, np.minimum(at_service, when_due))
    return np.asarray(saved / alive)


def _days_until(rows: pl.DataFrame, days: Sequence[object]) -> Floats:
    """Days from the end of each row's record to each of `days`, 0 where past: [row, day]."""
    asked = pl.Series(days, dtype=pl.Date).cast(pl.Int32).to_numpy().astype(np.float64)
    now = rows["record_to"].cast(pl.Int32).to_numpy().astype(np.float64)
    return np.asarray(np.maximum(asked[None, :] - now[:, None], 0))


def _extra(rows: pl.DataFrame) -> tuple[Floats, Floats]:
    """What a failure costs more than the planned work, with what each leaves behind; and the policy's cost per km."""
    cleaned, is_replace = relative_values(rows), (rows["action"] == "replace").to_numpy()
    failure, at_last, clean, renewal, mended = prices(rows)
    planned = np.where(is_replace, renewal, clean + cleaned)
    # Past its last cleaning a failed part is always replaced.
    failing = np.where(is_replace, at_last, failure + mended * cleaned)
    return failing - planned, rows["cost_per_1000km"].to_numpy() / 1_000
