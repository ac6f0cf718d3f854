"""What a part costs over a distance that ends: failures and planned cleanings from a present state to the horizon.

A part fails by its life; a failure is mended by a cleaning with a stated chance, else by a replacement. A planned
cleaning may come at an age. The expected cost solves a renewal equation, here by small steps of distance with a failure
in the middle of its step. Cox 1962, Renewal Theory, chapter 4 (the equation, from memory).
"""

from dataclasses import dataclass

import numpy as np

from fleetlens.errors import FleetlensError
from fleetlens.reliability.cleaning_policy import Life
from fleetlens.reliability.lives import FloatArray

__all__ = ["Follow", "Outlook", "outlook"]

_STEPS = 400


@dataclass(frozen=True, slots=True)
class Follow:
    """What happens from now on for `horizon` of distance: the price of a failure, of a planned cleaning, and its age.

    `mended`: chance that a failure is mended by a cleaning. `first` and `after`: age of the planned cleaning of a new
    and of a cleaned part; infinite: none.
    """

    horizon: float
    failure: float
    clean: float
    mended: float = 0.0
    first: float = np.inf
    after: float = np.inf


@dataclass(frozen=True, slots=True)
class Outlook:
    """Expected failures, planned cleanings and their cost up to the horizon, one an entry of the lives."""

    failures: FloatArray
    cleanings: FloatArray
    cost: FloatArray


def outlook(present: Life, age: float, new: Life, cleaned: Life, follow: Follow) -> Outlook:
    """From a part of the life `present` (the same as `new` or as `cleaned`) now at `age`, until the horizon.

    The present part has no planned cleaning of its own. Lives are one-dimensional, an entry each. Raises FleetlensError
    for a negative age, a horizon that isn't above 0 and a share outside 0 to 1.
    """
    if not 0 <= age < np.inf:
        raise FleetlensError(f"an age of {age} can't be", do="give 0 or more")
    if not 0 < follow.horizon < np.inf:
        raise FleetlensError(f"a horizon of {follow.horizon} can't be", do="give a distance above 0")
    if not 0 <= follow.mended <= 1:
        raise FleetlensError(f"a share of {follow.mended} can't be", do="a share from 0 to 1")
    step = follow.horizon / _STEPS
    # Of the counts from here on: [entry, steps left, failures or cleanings].
    after_new, after_cleaned = _counts(new, cleaned, follow, step)
    ages = age + step * np.arange(_STEPS + 1, dtype=np.float64)
    kept = present.column().survival(ages) / present.column().survival(np.array([age]))
    failing = kept[:, :-1] - kept[:, 1:]  # in each step from now
    later = follow.mended * after_cleaned + (1 - follow.mended) * after_new
    later[..., 0] += 1  # the failure itself
    left = _middle(later)[:, ::-1]  # steps left in the middle of the first step, of the second, ...
    counts = np.einsum("es,esk->ek", failing, left)
    return Outlook(counts[:, 0], counts[:, 1], counts @ np.array([follow.failure, follow.clean]))


def _middle(values: FloatArray) -> FloatArray:
    """The values half-way between neighbouring numbers of steps."""
    return np.asarray((values[:, 1:] + values[:, :-1]) / 2)


def _counts(new: Life, cleaned: Life, follow: Follow, step: float) -> tuple[FloatArray, FloatArray]:
    """Expected failures and planned cleanings of a fresh new and a fresh cleaned part for 0, 1, ... steps left."""
    entries = max(len(new.shape), len(cleaned.shape))
    stages = [_Stage(new, follow.first, step, entries), _Stage(cleaned, follow.after, step, entries)]
    counts = np.zeros((2, entries, _STEPS + 1, 2))
    mend = np.array([1 - follow.mended, follow.mended])  # to a new part, to a cleaned one
    one_failure, one_cleaning = np.eye(2)
    for left in range(1, _STEPS + 1):
        known, half = np.zeros((2, entries, 2)), np.zeros((2, entries))
        for which, stage in enumerate(stages):
            steps = min(left, stage.planned)  # at the planned age the part is cleaned, if it gets there
            failing = stage.failing[:, :steps]
            known[which] = failing.sum(axis=1)[:, None] * one_failure
            # A failure in the middle of step i leaves left - i + 1/2 steps: half of two neighbours.
            after = np.einsum("s,sekc->ekc", mend, counts[:, :, left - steps : left + 1])
            known[which] += np.einsum("es,esc->ec", failing, _middle(after)[:, ::-1])
            half[which] = failing[:, 0] / 2  # of what isn't known yet: the count with all `left` steps
            if left >= stage.planned:
                known[which] += stage.kept[:, stage.planned, None] * (one_cleaning + counts[1, :, left - stage.planned])
        # counts[which] = known[which] + half[which] * (mend . counts): two equations, solved by hand.
        mixed = np.einsum("s,sec->ec", mend, known) / (1 - mend @ half)[:, None]
        counts[:, :, left] = known + half[..., None] * mixed
    return counts[0], counts[1]


class _Stage:
    """A fresh part step by step: `kept` after each, `failing` in each, and the steps to its planned cleaning."""

    def __init__(self, life: Life, planned: float, step: float, entries: int) -> None:
        ages = step * np.arange(_STEPS + 1, dtype=np.float64)
        self.kept = np.broadcast_to(life.column().survival(ages), (entries, _STEPS + 1))
        self.failing = self.kept[:, :-1] - self.kept[:, 1:]
        self.planned = _STEPS + 1 if planned == np.inf else max(1, min(_STEPS + 1, round(planned / step)))
