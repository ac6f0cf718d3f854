"""What is known of each group before its Weibull fit: intervals, given shapes, what can be fitted, a first guess."""

import numpy as np
import numpy.typing as npt

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import FloatArray, IntArray, Lives, per_group
from fleetlens.reliability.weibull_likelihood import Likelihood

__all__ = [
    "FITTED",
    "GIVEN",
    "NO_FAILURES",
    "NO_MAXIMUM",
    "TOO_FEW",
    "first_guess",
    "known_shapes",
    "outcomes",
    "sound_until",
]

GIVEN = "shape given"
FITTED, NO_FAILURES, TOO_FEW, NO_MAXIMUM = "fitted", "no failures", "too few failures", "did not converge"
_THINNED_TO = 160  # lives of a group that are enough for a first guess


def sound_until(lives: Lives, lower: npt.ArrayLike | None) -> FloatArray:
    """Age after which each life can have failed; its end where the age is known."""
    if lower is None:
        return lives.end
    since = np.asarray(lower, dtype=np.float64)
    if since.shape != lives.end.shape:
        raise FleetlensError(f"'lower' has the shape {since.shape}, not {lives.end.shape}", do="give one value a row")
    since = np.where(np.isnan(since) | ~lives.failed, lives.end, since)
    wrong = since > lives.end
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise FleetlensError(
            f"{int(wrong.sum())} failures were last seen sound after they were found",
            where=f"row {row}: lower {since[row]:g}, end {lives.end[row]:g}",
            do="leave them out, or correct the age of the inspection",
        )
    # Under observation at entry means sound at entry.
    return np.maximum(since, np.maximum(lives.entry, 0.0))


def known_shapes(shape: npt.ArrayLike | None, n_groups: int) -> FloatArray:
    """Log of the given shape of each group; NaN where it is to be fitted."""
    if shape is None:
        return np.full(n_groups, np.nan)
    values = np.asarray(shape, dtype=np.float64)
    if values.shape not in ((), (n_groups,)) or not (np.isnan(values) | ((values > 0) & np.isfinite(values))).all():
        raise FleetlensError("a shape must be a number above 0, one for all or one a group", do="2 is a usual one")
    return np.log(np.broadcast_to(values, (n_groups,)))


def outcomes(lives: Lives, lower: FloatArray) -> npt.NDArray[np.object_]:
    """What can be said of each group before any fit."""
    rows, failures = np.flatnonzero(lives.failed), lives.totals(lives.failed)
    distinct = np.zeros(lives.n_groups, dtype=np.bool_)
    for ages in (lives.end, lower) if lower is not lives.end else (lives.end,):
        first, last = (per_group(reduce, ages[rows], failures, 0.0) for reduce in (np.minimum, np.maximum))
        distinct |= last > first
    outcome = np.full(lives.n_groups, TOO_FEW, dtype=np.object_)
    outcome[failures == 0] = NO_FAILURES
    outcome[distinct] = FITTED
    return outcome


def first_guess(lives: Lives, lower: FloatArray, ids: IntArray) -> FloatArray:
    """Log shape from some of each group's lives; 0, a constant hazard, where those don't tell."""
    sizes = lives.totals()
    every = np.maximum(1, sizes // _THINNED_TO)
    kept = -(-sizes // every)
    place = np.arange(kept.sum()) - np.repeat(np.cumsum(kept) - kept, kept)
    rows = np.repeat(np.cumsum(sizes) - sizes, kept) + place * np.repeat(every, kept)
    few = lives.take(rows)
    likelihood = Likelihood(few, few.end if lower is lives.end else lower[rows], np.ones(lives.n_groups))
    able = np.flatnonzero(likelihood.exact[ids] >= 2)
    found = likelihood.maximise(ids[able], np.zeros(len(able)))
    guess = np.zeros(len(ids))
    guess[able] = np.where(found.found, found.s, 0.0)
    return guess
