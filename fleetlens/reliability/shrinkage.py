"""Rates of many groups drawn towards what they have in common: few km say little, many km speak for themselves."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import gdtrix, polygamma, psi

from fleetlens.reliability.counted import exposures, garwood, whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, IntArray
from fleetlens.reliability.roots import falling_root

__all__ = ["FITTED", "NO_SPREAD", "TOO_FEW", "Shrinkage", "gamma_poisson"]

FITTED, NO_SPREAD, TOO_FEW = "fitted", "no spread beyond chance", "too few groups"
_FEWEST = 3
# Log of the prior's shape: groups a thousand times as unlike as an exponential to a spread of 0.1 % of the rate.
_LOW, _HIGH = np.log(1e-3), np.log(1e6)


@dataclass(frozen=True, slots=True, eq=False)
class Shrinkage:
    """Rates that borrow from each other.

    `rows`: rate, low, high, and weight: the share of the group's own rate in it (the rest is the common rate's).
    The groups' true rates follow a gamma distribution of shape `prior_shape` and rate `prior_rate` (in the unit of
    the exposure), so of mean prior_shape / prior_rate; both None unless the outcome is "fitted".

    outcome: "fitted"; "no spread beyond chance": the groups differ no more than one common rate would let them, which
    each then has; "too few groups": fewer than three with exposure, or no event at all, so each keeps its own rate
    with exact limits (null without exposure).
    """

    rows: pl.DataFrame
    level: float
    prior_shape: float | None
    prior_rate: float | None
    outcome: str


def gamma_poisson(events: npt.ArrayLike, exposure: npt.ArrayLike, level: float = 0.95) -> Shrinkage:
    """Empirical Bayes rates of all groups: own events and exposure, and what all groups show of their spread.

    Limits are equal-tailed limits of each rate given the prior; that the prior itself was estimated isn't in them,
    which matters with few groups. A group without exposure gets what the others let expect (weight 0).
    Raises FleetlensError for events that aren't counts and for exposures missing or below 0.

    The prior is fitted by the marginal (negative binomial) likelihood. Gaver & O'Muircheartaigh 1987, Technometrics
    29, 1-15; Clayton & Kaldor 1987, Biometrics 43, 671-681.
    """
    count, base = np.broadcast_arrays(whole(events, "events"), exposures(exposure))
    tail, seen = (1 - level) / 2, base > 0
    x, t = count[seen], base[seen]
    few = len(t) < _FEWEST or not x.any()
    prior = None if few else _prior(x, t)
    if prior is not None:
        shape, rate = prior[0] + np.where(seen, count, 0.0), prior[1] + base
        middle, weight = shape / rate, base / rate
        low, high = (np.asarray(gdtrix(rate, shape, share), dtype=np.float64) for share in (tail, 1 - tail))
    else:
        # Each by itself, or all as one.
        events_of, over = (count, np.where(seen, base, np.nan)) if few else (x.sum() + 0 * base, t.sum() + 0 * base)
        middle, (low, high) = events_of / over, (limit / over for limit in garwood(events_of, level))
        weight = np.where(seen, 1.0, np.nan) if few else np.zeros(len(base))
    columns = {"rate": middle, "low": low, "high": high, "weight": weight}
    rows = pl.DataFrame({name: nullable(values) for name, values in columns.items()})
    outcome = FITTED if prior is not None else TOO_FEW if few else NO_SPREAD
    prior_shape, prior_rate = prior if prior is not None else (None, None)
    return Shrinkage(rows, level, prior_shape, prior_rate, outcome)


def _prior(x: FloatArray, t: FloatArray) -> tuple[float, float] | None:
    """Shape and rate of the prior; None where the likelihood is largest without any spread."""
    common = x.sum() / t.sum()
    if ((x - common * t) ** 2 - x).sum() <= 0:  # the likelihood falls with the first bit of spread
        return None
    middle = np.array([np.log(common)])

    def mean(shape: float) -> FloatArray:
        """Log of the mean rate that fits best with a shape."""

        def excess(_: IntArray, m: FloatArray) -> tuple[FloatArray, FloatArray]:
            expected = np.exp(m) * t
            value = (shape * (x - expected) / (shape + expected)).sum()
            slope = -(shape * expected * (shape + x) / (shape + expected) ** 2).sum()
            return np.array([value]), np.array([slope])

        return falling_root(excess, middle, middle - 30, middle + 30)[0]

    def slope_along(_: IntArray, log_shape: FloatArray) -> tuple[FloatArray, FloatArray]:
        """First and second derivative of the profile likelihood by the log of the shape."""
        a = float(np.exp(log_shape[0]))
        middle[:] = mean(a)
        expected = np.exp(middle[0]) * t
        both = a + expected
        first = (psi(a + x) - psi(a) + np.log(a / both) + (expected - x) / both).sum()
        by_shape = (polygamma(1, a + x) - polygamma(1, a) + 1 / a - 2 / both + (a + x) / both**2).sum()
        crossed = (expected * (x - expected) / both**2).sum()
        by_mean = -(a * expected * (a + x) / both**2).sum()
        second = by_shape - crossed**2 / by_mean
        return np.array([a * first]), np.array([a * first + a**2 * second])

    # Moments of the counts give the first guess.
    spread = ((x - common * t) ** 2 - x).sum() / (common**2 * (t**2).sum())
    guess = np.clip(np.array([-np.log(spread)]), _LOW, _HIGH)
    found = falling_root(slope_along, guess, np.array([_LOW]), np.array([_HIGH]))
    if not found[1][0]:
        return None
    shape = float(np.exp(found[0][0]))
    return shape, shape / float(np.exp(mean(shape)[0]))
