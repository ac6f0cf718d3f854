"""Rates and shares with exact limits."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import bdtr, bdtrc, betaincinv, chdtri, ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray

__all__ = [
    "difference_of_proportions",
    "poisson_interval",
    "proportion_exact",
    "proportion_wilson",
    "rate_ratio",
]


def _counts(values: npt.ArrayLike, name: str) -> FloatArray:
    """`values` as whole numbers of things counted."""
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if not (np.isfinite(array).all() and (array >= 0).all() and (array == np.rint(array)).all()):
        raise FleetlensError(f"{name!r} must be counts: whole numbers from 0", do="count, don't weight")
    return array


def _exposure(values: npt.ArrayLike) -> FloatArray:
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    if not (np.isfinite(array).all() and (array >= 0).all()):
        raise FleetlensError("an exposure is missing or below 0", do="give km (or hours) that were observed")
    return array


def _share_of(part: npt.ArrayLike, whole: npt.ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Counts of a share and the share itself, NaN where there is nothing to share."""
    count, total = np.broadcast_arrays(_counts(part, "successes"), _counts(whole, "trials"))
    if (count > total).any():
        raise FleetlensError("a share has more successes than trials", do="check which count is which")
    return count, total, np.divide(count, total, out=np.full(count.shape, np.nan), where=total > 0)


def poisson_interval(events: npt.ArrayLike, exposure: npt.ArrayLike, level: float = 0.95) -> pl.DataFrame:
    """Events per unit of exposure with exact two-sided limits, row by row: rate, low, high.

    `events` are counted, not weighted; `exposure` was observed, never planned. No event gives low = 0 and the usual
    two-sided high. All three are null without exposure.
    Garwood 1936, Biometrika 28, 437-442.
    """
    count, base = np.broadcast_arrays(_counts(events, "events"), _exposure(exposure))
    tail = (1 - level) / 2
    low = np.where(count > 0, chdtri(2 * np.maximum(count, 1), 1 - tail) / 2, 0.0)
    high = chdtri(2 * count + 2, tail) / 2
    known = np.where(base > 0, base, np.nan)
    return pl.DataFrame({"rate": nullable(count / known), "low": nullable(low / known), "high": nullable(high / known)})


def _exact(count: FloatArray, total: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Clopper-Pearson limits; 0 and 1 without trials."""
    tail = (1 - level) / 2
    low = np.where(count > 0, betaincinv(np.maximum(count, 1), total - count + 1, tail), 0.0)
    high = np.where(count < total, betaincinv(count + 1, np.maximum(total - count, 1), 1 - tail), 1.0)
    return low, high


def rate_ratio(
    events: npt.ArrayLike,
    exposure: npt.ArrayLike,
    events_before: npt.ArrayLike,
    exposure_before: npt.ArrayLike,
    level: float = 0.95,
) -> pl.DataFrame:
    """Rate over the rate it is compared with, row by row: ratio, low, high, p.

    Given all events, those of the first rate are binomial: exact (Clopper-Pearson) limits of that share give limits
    of the ratio; p, that both rates are one, is twice the smaller tail and agrees with the limits. Without an event
    before, ratio and high are null (no upper limit); without any event or without exposure nothing is known (all
    null, low 0 where only events are lacking).
    Przyborowski & Wilenski 1940, Biometrika 31, 313-323.
    """
    count, base, count_before, base_before = np.broadcast_arrays(
        _counts(events, "events"),
        _exposure(exposure),
        _counts(events_before, "events_before"),
        _exposure(exposure_before),
    )
    known = (base > 0) & (base_before > 0)
    total = count + count_before
    low_share, high_share = _exact(count, total, level)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = base_before / base
        ratio = count / count_before * scale
        low = low_share / (1 - low_share) * scale
        high = np.where(high_share < 1, high_share / (1 - high_share) * scale, np.nan)
        chance = base / (base + base_before)
    ratio[np.isinf(ratio)] = np.nan
    chance = np.where(known, chance, 0.5)
    # Probabilities of as few events as these, and of as many.
    trials = total.astype(np.int64)
    tails = np.minimum(bdtr(count, trials, chance), bdtrc(count - 1, trials, chance))
    columns = {"ratio": ratio, "low": low, "high": high, "p": np.where(total > 0, np.minimum(1, 2 * tails), np.nan)}
    return pl.DataFrame({name: nullable(np.where(known, values, np.nan)) for name, values in columns.items()})


def proportion_exact(successes: npt.ArrayLike, trials: npt.ArrayLike, level: float = 0.95) -> pl.DataFrame:
    """Share with exact two-sided limits, row by row: share, low, high; null without trials.

    Clopper & Pearson 1934, Biometrika 26, 404-413.
    """
    count, total, share = _share_of(successes, trials)
    low, high = (np.where(total > 0, limit, np.nan) for limit in _exact(count, total, level))
    return pl.DataFrame({"share": nullable(share), "low": nullable(low), "high": nullable(high)})


def _wilson(count: FloatArray, total: FloatArray, share: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Wilson's limits, NaN without trials."""
    z = ndtri(0.5 + level / 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = (share + z**2 / (2 * total)) / (1 + z**2 / total)
        half = z / (1 + z**2 / total) * np.sqrt(share * (1 - share) / total + z**2 / (4 * total**2))
    # Written out, both ends are exact only up to rounding.
    return np.where(count == 0, 0.0, middle - half), np.where(count == total, 1.0, middle + half)


def proportion_wilson(successes: npt.ArrayLike, trials: npt.ArrayLike, level: float = 0.95) -> pl.DataFrame:
    """Share with score limits, row by row: share, low, high; null without trials.

    Wilson 1927, J. Am. Stat. Assoc. 22, 209-212.
    """
    count, total, share = _share_of(successes, trials)
    low, high = (np.where(total > 0, limit, np.nan) for limit in _wilson(count, total, share, level))
    return pl.DataFrame({"share": nullable(share), "low": nullable(low), "high": nullable(high)})


def difference_of_proportions(
    successes: npt.ArrayLike,
    trials: npt.ArrayLike,
    successes_other: npt.ArrayLike,
    trials_other: npt.ArrayLike,
    level: float = 0.95,
) -> pl.DataFrame:
    """First share less the other, row by row: difference, low, high; null where either has no trials.

    Limits put together from the two Wilson intervals: Newcombe 1998, Statistics in Medicine 17, 873-890, method 10.
    """
    count, total, share = _share_of(successes, trials)
    count_other, total_other, other = _share_of(successes_other, trials_other)
    low, high = _wilson(count, total, share, level)
    low_other, high_other = _wilson(count_other, total_other, other, level)
    difference = share - other
    return pl.DataFrame(
        {
            "difference": nullable(difference),
            "low": nullable(difference - np.hypot(share - low, high_other - other)),
            "high": nullable(difference + np.hypot(high - share, other - low_other)),
        }
    )
