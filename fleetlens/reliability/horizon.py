"""What a part costs over a distance that ends: failures and planned cleanings from a present state to the horizon.

A part fails by its life; a failure is mended by a cleaning with a stated chance, else by a replacement. A planned
cleaning may come at an age. The expected cost solves a renewal equation, here by small steps of distance with a failure
in the middle of its step. Cox 1962, Renewal Theory, chapter 4 (the equation, from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetlens.errors import FleetlensError
from fleetlens.reliability.cleaning_policy import Life
from fleetlens.reliability.lives import FloatArray

__all__ = ["Follow", "Outlook", "outlook", "outlooks"]

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
    return outlooks([(present, age)], new, cleaned, follow)[0]


def outlooks(parts: Sequence[tuple[Life, float]], new: Life, cleaned: Life, follow: Follow) -> list[Outlook]:
    """The outlook from each of several present parts, given as (life, age); what follows them is reckoned once."""
    for _, age in parts:
        if not 0 <= age < np.inf:
            raise FleetlensError(f"an age of {age} can't be", do="give 0 or more")
    if not 0 < follow.horizon < np.inf:
        raise FleetlensError(f"a horizon of {follow.horizon} can't be", do="give a distance above 0")
    if not 0 <= follow.mended <= 1:
        raise FleetlensError(f"a share of {follow.mended} can't be", do="a share from 0 to 1")
    step = follow.horizon / _STEPS
    left = _after_failure(new, cleaned, follow, step)
    found = []
    for present, age in parts:
        ages = age + step * np.arange(_STEPS + 1, dtype=np.float64)
        column = present.column()
        with np.errstate(over="ignore"):
            # Of the hazard since now, so that a part far beyond its life doesn't come to 0 / 0.
            kept = np.exp((age / column.scale) ** column.shape - (ages / column.scale) ** column.shape)
        failing = kept[:, :-1] - kept[:, 1:]  # in each step from now
        counts = np.einsum("es,ces->ec", failing, left)
        counts[:, 0] += failing.sum(axis=1)  # the failures themselves
        found.append(Outlook(counts[:, 0], counts[:, 1], counts @ np.array([follow.failure, follow.clean])))
    return found


def _after_failure(new: Life, cleaned: Life, follow: Follow, step: float) -> FloatArray:
    """Failures and cleanings still to come after a failure in the middle of each step from now: [which, entry, step].

    Of a fresh part of either kind the counts with 0, 1, ... steps left solve a renewal equation: what happens in the
    first step leaves all others, so those with fewer steps left are known by then.
    """
    entries = max(len(new.shape), len(cleaned.shape))
    stages = [_Stage(new, follow.first, step, entries), _Stage(cleaned, follow.after, step, entries)]
    fresh = np.zeros((2, _STEPS + 1, entries, 2))  # of a new and of a cleaned part, by steps left
    mixed = np.zeros((entries, 2))  # what a failure leaves, with `left` steps left
    left = np.zeros((2, entries, _STEPS))  # the same half-way to one step fewer; the last place: 1/2 step left
    mend = np.array([1 - follow.mended, follow.mended])  # to a new part, to a cleaned one
    one_failure, one_cleaning = np.eye(2)
    for now in range(1, _STEPS + 1):
        known, half = np.zeros((2, entries, 2)), np.zeros((2, entries))
        place = _STEPS - now
        left[:, :, place] = mixed.T / 2  # the half that is known
        for which, stage in enumerate(stages):
            steps = min(now, stage.planned)  # at the planned age the part is cleaned, if it gets there
            failing = stage.failing[:, :steps]
            known[which] = np.einsum("es,ces->ec", failing, left[:, :, place : place + steps])
            known[which] += failing.sum(axis=1)[:, None] * one_failure
            half[which] = failing[:, 0] / 2
            if now >= stage.planned:
                known[which] += stage.kept[:, stage.planned, None] * (one_cleaning + fresh[1, now - stage.planned])
        # fresh[which, now] = known[which] + half[which] * (mend . fresh[:, now]): two equations, solved by hand.
        mixed = np.einsum("s,sec->ec", mend, known) / (1 - mend @ half)[:, None]
        fresh[:, now] = known + half[..., None] * mixed
        left[:, :, place] += mixed.T / 2
    return left


class _Stage:
    """A fresh part step by step: `kept` after each, `failing` in each, and the steps to its planned cleaning."""

    def __init__(self, life: Life, planned: float, step: float, entries: int) -> None:
        ages = step * np.arange(_STEPS + 1, dtype=np.float64)
        self.kept = np.broadcast_to(life.column().survival(ages), (entries, _STEPS + 1))
        self.failing = self.kept[:, :-1] - self.kept[:, 1:]
        self.planned = _STEPS + 1 if planned == np.inf else max(1, min(_STEPS + 1, round(planned / step)))
