"""Fleets with a known truth: lives, repeated failures, counts, in groups that are all estimated at once."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
SHAPE, SCALE = 1.8, 100_000.0  # wear-out; km


@dataclass(frozen=True)
class Lives:
    """One life an index; `group` is the fleet."""

    end: Array
    failed: npt.NDArray[np.bool_]
    entry: Array
    group: npt.NDArray[np.int64]


def lives(seed: int, fleets: int, each: int, *, late: float = 0.4, shape: float = SHAPE) -> Lives:
    """Weibull lives, about 60 % censored, a share `late` of them seen only from an age on that they have survived."""
    chance = np.random.default_rng(seed)
    count = fleets * each
    entry = np.where(chance.random(count) < late, chance.uniform(0, 0.6 * SCALE, count), 0.0)
    life = SCALE * ((entry / SCALE) ** shape + chance.exponential(size=count)) ** (1 / shape)
    end = np.minimum(life, entry + chance.uniform(0.05 * SCALE, 1.25 * SCALE, count))
    return Lives(end, end == life, entry, np.repeat(np.arange(fleets), each))


@dataclass(frozen=True)
class Repairs:
    """Units under observation from `start` to `end`, and the age and unit of each event."""

    unit: npt.NDArray[np.int64]
    time: Array
    start: Array
    end: Array
    group: npt.NDArray[np.int64]


def repairs(seed: int, fleets: int, each: int, *, spread: float = 0.5, power: float = 1.3) -> Repairs:
    """A power law of mean 2 events to age 1, staggered entry; units differ by a gamma factor of variance `spread`."""
    chance = np.random.default_rng(seed)
    count = fleets * each
    start = np.where(chance.random(count) < 0.4, chance.uniform(0, 0.5, count), 0.0)
    end = chance.uniform(0.6, 1.2, count)
    factor = chance.gamma(1 / spread, spread, count) if spread else np.ones(count)
    number = chance.poisson(2 * factor * (end**power - start**power))
    unit = np.repeat(np.arange(count), number)
    passed = chance.uniform(start[unit] ** power, end[unit] ** power)
    return Repairs(unit, passed ** (1 / power), start, end, np.repeat(np.arange(fleets), each))
