"""A share against what chance lets one expect: how many times as often, with exact limits."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import bdtr, bdtrc

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counted import exact_share, exposures, share_of
from fleetlens.reliability.counting import nullable

__all__ = ["against_chance"]


def against_chance(
    successes: npt.ArrayLike, trials: npt.ArrayLike, expected: npt.ArrayLike, level: float = 0.95
) -> pl.DataFrame:
    """Successes against the number that chance lets expect, row by row: share, share_low, share_high, chance_share,
    times, times_low, times_high, p.

    times = successes / expected, with the limits of the share (Clopper-Pearson) over chance_share = expected / trials,
    which is known, not estimated; p, that chance is all, is twice the smaller binomial tail and agrees with the limits.
    Where the trials have unlike chances that add up to `expected`, the true tails beyond it are thinner: limits and p
    err on the safe side (Hoeffding 1956, Annals of Mathematical Statistics 27, 713-721). All are null without trials;
    times and p where chance expects nothing. Raises FleetlensError for more expected than trials.
    """
    count, total, share = share_of(successes, trials)
    mean = np.broadcast_to(exposures(expected), count.shape)
    if (mean > total * (1 + 1e-9)).any():
        raise FleetlensError("chance can't expect more successes than trials", do="check which number is which")
    chance = np.divide(mean, total, out=np.full(count.shape, np.nan), where=total > 0)
    low, high = (np.where(total > 0, limit, np.nan) for limit in exact_share(count, total, level))
    known = np.where(chance > 1e-200, chance, np.nan)  # less is nothing, and the ratio would overflow
    whole, at = total.astype(np.int64), np.nan_to_num(np.minimum(chance, 1.0))
    tails = np.minimum(bdtr(count, whole, at), np.where(count > 0, bdtrc(np.maximum(count - 1, 0), whole, at), 1.0))
    columns = {
        "share": share,
        "share_low": low,
        "share_high": high,
        "chance_share": chance,
        "times": share / known,
        "times_low": low / known,
        "times_high": high / known,
        "p": np.where(np.isnan(known), np.nan, np.minimum(1.0, 2 * tails)),
    }
    return pl.DataFrame({name: nullable(values) for name, values in columns.items()})
