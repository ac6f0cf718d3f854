"""Roots of many falling functions at once: Newton's method, kept honest by a bracket."""

from collections.abc import Callable

import numpy as np

from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray

__all__ = ["Falling", "falling_root"]

_LONGEST_STEP = 1.0
_TRIES = 100

# Given the places of the functions still sought and a point for each: values and slopes there.
Falling = Callable[[IntArray, FloatArray], tuple[FloatArray, FloatArray]]


def falling_root(
    function: Falling, start: FloatArray, low: FloatArray, high: FloatArray, *, within: float = 1e-10
) -> tuple[FloatArray, BoolArray]:
    """Where each function passes from above 0 to below, and whether it does between `low` and `high`.

    Steps are Newton's, at most 1 long; one that leaves what is known to hold the root is halved. A root counts as
    found when a step is shorter than `within`: Newton's error is then about the square of that. Where a function
    doesn't fall through 0, the nearer of `low` and `high` comes back.
    """
    x = np.clip(start, low, high)
    floor, ceiling = low.copy(), high.copy()
    found = np.zeros(len(x), dtype=np.bool_)
    sought = np.arange(len(x))
    for _ in range(_TRIES):
        if not len(sought):
            break
        here = x[sought]
        value, slope = function(sought, here)
        rising = value > 0
        floor[sought[rising]], ceiling[sought[~rising]] = here[rising], here[~rising]
        at_bound = np.where(rising, here >= high[sought], here <= low[sought])
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            step = np.where(slope < 0, -value / slope, np.where(rising, 1.0, -1.0) * _LONGEST_STEP)
        step = np.clip(step, -_LONGEST_STEP, _LONGEST_STEP)
        there = here + step
        bottom, top = floor[sought], ceiling[sought]
        # A bound that nobody has looked at yet may be tried; one that was looked at can't be the root.
        # A step too short to tell from none is taken as it is.
        inside = ((there > bottom) & (there < top)) | (np.abs(step) <= within)
        unseen = np.where(rising, top == high[sought], bottom == low[sought])
        there = np.where(inside, there, np.where(unseen, np.clip(there, bottom, top), (bottom + top) / 2))
        found[sought[(np.abs(there - here) <= within) & ~at_bound]] = True
        x[sought] = there
        sought = sought[~found[sought] & ~at_bound & np.isfinite(there)]
    return x, found
