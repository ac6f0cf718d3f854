"""Draws that depend only on the seed and on what they are for, never on how many others were drawn.

A draw is a hash of (seed, name of the question, keys such as the vehicle's number), so vehicle 7 has the same history
in a fleet of 10 and of 200,000, and in any order of work. The mixing steps are those of SplitMix64
(Steele, Lea and Flood 2014, "Fast splittable pseudorandom number generators"; constants from memory).
"""

import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_STEP = np.uint64(0x9E3779B97F4A7C15)
_WORD = (1 << 64) - 1


def _mix(words: NDArray[np.uint64]) -> NDArray[np.uint64]:
    words = (words ^ (words >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    words = (words ^ (words >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return words ^ (words >> np.uint64(31))


class Chance:
    """All draws of one seed."""

    def __init__(self, seed: int) -> None:
        self._seed = _mix(np.array([seed & _WORD], np.uint64))

    def uniform(self, what: str, *keys: Ints) -> Floats:
        """One draw per row of `keys`, strictly between 0 and 1; `what` names the question it answers."""
        words = _mix(self._seed ^ np.uint64(zlib.crc32(what.encode())))
        for key in keys:
            words = _mix((words ^ key.astype(np.uint64)) + _STEP)
        return (((words >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53).astype(np.float64)

    def between(self, low: float | Floats, high: float | Floats, what: str, *keys: Ints) -> Floats:
        """Uniform draws from `low` to `high`."""
        drawn: Floats = low + (high - low) * self.uniform(what, *keys)
        return drawn

    def happens(self, share: float | Floats, what: str, *keys: Ints) -> Bools:
        """True with probability `share`, which may differ by row."""
        return self.uniform(what, *keys) < share

    def pick(self, weights: Sequence[float], what: str, *keys: Ints) -> Ints:
        """Indices 0, 1, ... with chances in proportion to `weights`."""
        return self.pick_by_row(np.asarray(weights, np.float64)[None, :], what, *keys)

    def pick_by_row(self, weights: Floats, what: str, *keys: Ints) -> Ints:
        """Indices 0, 1, ... with chances in proportion to the row's own `weights` (rows x choices)."""
        steps = np.cumsum(weights, axis=1)
        draws = self.uniform(what, *keys)[:, None] * steps[:, -1:]
        chosen: Ints = (draws >= steps[:, :-1]).sum(axis=1).astype(np.int64)
        return chosen

    def normal(self, what: str, *keys: Ints) -> Floats:
        """Standard normal draws (Box and Muller 1958)."""
        radius = np.sqrt(-2.0 * np.log(self.uniform(what + " radius", *keys)))
        turned: Floats = radius * np.cos(2.0 * np.pi * self.uniform(what + " angle", *keys))
        return turned

    def weibull(self, shape: float | Floats, scale: float | Floats, what: str, *keys: Ints) -> Floats:
        """Weibull draws; `scale` (the characteristic life) gives the unit."""
        drawn: Floats = np.asarray(scale * (-np.log(self.uniform(what, *keys))) ** (1.0 / shape))
        return drawn
