"""Rates and shares with exact limits."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import bdtr, bdtrc, ndtri

from fleetlens.reliability.counted import exact_share, exposures, garwood, share_of, whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.hypergeometric import Tables
from fleetlens.reliability.lives import FloatArray

__all__ = [
    "difference_of_proportions",
    "poisson_interval",
    "proportion_exact",
    "proportion_wilson",
    "rate_ratio",
    "ratio_of_ratios",
]


def poisson_interval(events: npt.ArrayLike, exposure: npt.ArrayLike, level: float = 0.95) -> pl.DataFrame:
    """Events per unit of exposure with exact two-sided limits, row by row: rate, low, high.

    `events` are counted, not weighted; `exposure` was observed, never planned. No event gives low = 0 and the usual
    two-sided high. All three are null without exposure.
    Garwood 1936, Biometrika 28, 437-442.
    """
    count, base = np.broadcast_arrays(whole(events, "events"), exposures(exposure))
    low, high = garwood(count, level)
    known = np.where(base > 0, base, np.nan)
    return pl.DataFrame({"rate": nullable(count / known), "low": nullable(low / known), "high": nullable(high / known)})


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
        whole(events, "events"),
        exposures(exposure),
        whole(events_before, "events_before"),
        exposures(exposure_before),
    )
    known = (base > 0) & (base_before > 0)
    total = count + count_before
    low_share, high_share = exact_share(count, total, level)
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


def ratio_of_ratios(
    treated_after: npt.ArrayLike,
    treated_before: npt.ArrayLike,
    untreated_after: npt.ArrayLike,
    untreated_before: npt.ArrayLike,
    *,
    exposure_treated_after: npt.ArrayLike,
    exposure_treated_before: npt.ArrayLike,
    exposure_untreated_after: npt.ArrayLike,
    exposure_untreated_before: npt.ArrayLike,
    level: float = 0.95,
) -> pl.DataFrame:
    """Change of the treated ones' rate over the change of the untreated ones' rate, row by row: ratio, low, high, p.

    Below 1 the treated ones have done better than the others' change lets expect. The first four are events. Given
    the events of each side and period in all, those of the treated ones after are hypergeometric with an odds ratio
    of the ratio sought times that of the exposures: exact limits by its tails; p, that the ratio is 1, is twice the
    smaller tail and agrees with them. Without an event among the treated after or the untreated before, low is 0;
    without one among the treated before or the untreated after there is no ratio and no high. All are null without an
    exposure, or where no tail tells anything.
    Raises FleetlensError for counts and exposures that aren't. Cox & Snell 1989, Analysis of Binary Data, section 2.3.
    """
    names = ("treated_after", "treated_before", "untreated_after", "untreated_before")
    events = (treated_after, treated_before, untreated_after, untreated_before)
    bases = (
        exposure_treated_after,
        exposure_treated_before,
        exposure_untreated_after,
        exposure_untreated_before,
    )
    checked = np.broadcast_arrays(*map(whole, events, names), *map(exposures, bases))
    (after, before, other_after, other_before), over = checked[:4], np.asarray(checked[4:])
    tail = (1 - level) / 2
    treated, total = after + before, after + before + other_after + other_before
    tables = Tables(after, treated, after + other_after, total)
    known = (over > 0).all(axis=0) & ~(tables.at_least & tables.at_most)
    log_over = np.log(np.where(over > 0, over, 1.0))
    chance = log_over[0] - log_over[1] - log_over[2] + log_over[3]  # log odds ratio where the ratio is 1
    # A first guess from counts none of which is 0.
    cells = np.asarray([after, before, other_after, other_before]) + 0.5
    guess, spread = np.log(cells[0] * cells[3] / (cells[1] * cells[2])), np.sqrt((1 / cells).sum(axis=0))
    low, high = (tables.limit(side, tail, guess + side * 2 * spread) for side in (-1, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = after * other_before / (before * other_after) * np.exp(-chance)
    columns = {
        "ratio": np.where(np.isfinite(ratio), ratio, np.nan),
        "low": np.exp(low - chance),
        "high": np.where(np.isfinite(high), np.exp(np.minimum(high - chance, 700)), np.nan),
        "p": np.minimum(1.0, 2 * np.minimum(*tables.tails(chance))),
    }
    return pl.DataFrame({name: nullable(np.where(known, values, np.nan)) for name, values in columns.items()})


def proportion_exact(successes: npt.ArrayLike, trials: npt.ArrayLike, level: float = 0.95) -> pl.DataFrame:
    """Share with exact two-sided limits, row by row: share, low, high; null without trials.

    Clopper & Pearson 1934, Biometrika 26, 404-413.
    """
    count, total, share = share_of(successes, trials)
    low, high = (np.where(total > 0, limit, np.nan) for limit in exact_share(count, total, level))
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
    count, total, share = share_of(successes, trials)
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
    count, total, share = share_of(successes, trials)
    count_other, total_other, other = share_of(successes_other, trials_other)
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
