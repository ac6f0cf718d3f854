"""Which of many rates or shares stand out: limits around what all of them have in common."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import bdtr, bdtrc, bdtrik, chdtrc, pdtr, pdtrc, pdtrik

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counted import exposures, share_of, whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray

__all__ = ["Overdispersion", "funnel_rate", "funnel_share", "overdispersion", "overdispersion_shares", "u_chart"]

LEVELS = (0.95, 0.998)
Tail = Callable[[FloatArray], FloatArray]


def u_chart(events: npt.ArrayLike, exposure: npt.ArrayLike, sigma: float = 3.0) -> pl.DataFrame:
    """Rates in order of time against their common rate, row by row: rate, centre, low, high, signal.

    Limits centre -/+ `sigma` x sqrt(centre / exposure), 0 at the lowest; with one and the same exposure it is the
    c-chart. signal: "above" or "below" the limits, null on or within them; rate, limits and signal are null without
    exposure. The limits are a normal approximation: below about 5 expected events a row they are rough, and
    `funnel_rate` is exact. Shewhart 1931, Economic Control of Quality of Manufactured Product.
    """
    count, base = np.broadcast_arrays(whole(events, "events"), exposures(exposure))
    known = np.where(base > 0, base, np.nan)
    centre = _overall(count[base > 0], base)
    half = sigma * np.sqrt(centre / known)
    low, high, rate = np.maximum(0.0, centre - half), centre + half, count / known
    columns = {"rate": rate, "centre": np.full(len(base), centre), "low": low, "high": high}
    frame = pl.DataFrame({name: nullable(values) for name, values in columns.items()})
    slack = 1e-12 * centre  # rounding must not make a point on the limit a signal
    above, below = pl.lit("above"), pl.lit("below")
    signal = pl.when(pl.col("rate") > pl.col("high") + slack).then(above)
    return frame.with_columns(signal=signal.when(pl.col("rate") < pl.col("low") - slack).then(below))


def funnel_rate(events: npt.ArrayLike, exposure: npt.ArrayLike, levels: Sequence[float] = LEVELS) -> pl.DataFrame:
    """Rates against the overall one, row by row: rate, target, low_95, high_95, low_998, high_998, outside.

    low and high are the least and the greatest rate that a row's exposure could show without an exact Poisson tail
    falling to half of 1 - level; outside is the greatest level whose limits the rate lies beyond, null where it is
    within all. All but the target are null without exposure. The columns are named by `levels`.
    Raises FleetlensError for counts, exposures and levels that aren't. Spiegelhalter 2005, Statistics in Medicine 24,
    1185-1202, with exact limits.
    """
    count, base = np.broadcast_arrays(whole(events, "events"), exposures(exposure))
    target = _overall(count[base > 0], base)
    mean = target * base

    def quantile(p: float) -> FloatArray:
        return np.asarray(pdtrik(p, np.maximum(mean, 1e-300)))

    def below(k: FloatArray) -> FloatArray:
        return np.where(k < 0, 0.0, pdtr(np.maximum(k, 0), mean))

    def beyond(k: FloatArray) -> FloatArray:
        return np.where(k < 0, 1.0, pdtrc(np.maximum(k, 0), mean))

    return _funnel("rate", count, base, target, levels, quantile=quantile, below=below, beyond=beyond)


def funnel_share(successes: npt.ArrayLike, trials: npt.ArrayLike, levels: Sequence[float] = LEVELS) -> pl.DataFrame:
    """Shares against the overall one with exact binomial limits: share, target, and the columns of `funnel_rate`."""
    count, total, _ = share_of(successes, trials)
    target = _overall(count, total)

    def quantile(p: float) -> FloatArray:
        inside = min(max(target, 1e-300), 1 - 1e-16)
        return np.asarray(bdtrik(p, np.maximum(total, 1), inside))

    trials_whole = total.astype(np.int64)

    def below(k: FloatArray) -> FloatArray:
        return np.where(k < 0, 0.0, np.where(k >= total, 1.0, bdtr(np.clip(k, 0, total), trials_whole, target)))

    def beyond(k: FloatArray) -> FloatArray:
        return np.where(k < 0, 1.0, np.where(k >= total, 0.0, bdtrc(np.clip(k, 0, total), trials_whole, target)))

    return _funnel("share", count, total, target, levels, quantile=quantile, below=below, beyond=beyond)


def _overall(count: FloatArray, base: FloatArray) -> float:
    """The common rate; NaN where nothing was under observation."""
    return float(count.sum() / base.sum()) if base.sum() > 0 else np.nan


def _funnel(
    name: str,
    count: FloatArray,
    base: FloatArray,
    target: float,
    levels: Sequence[float],
    *,
    quantile: Callable[[float], FloatArray],
    below: Tail,
    beyond: Tail,
) -> pl.DataFrame:
    if not all(0 < level < 1 for level in levels):
        raise FleetlensError(f"levels lie between 0 and 1, not {tuple(levels)}", do="0.95 asks for 95 % limits")
    known = np.where(base > 0, base, np.nan)
    columns = {name: count / known, "target": np.full(len(base), target)}
    outside = np.full(len(base), np.nan)
    for level in sorted(levels):
        tail = (1 - level) / 2
        low = _least(quantile(tail), lambda k, tail=tail: below(k) > tail)  # type: ignore[misc]
        high = -_least(-quantile(1 - tail), lambda k, tail=tail: beyond(-k - 1) > tail)  # type: ignore[misc]
        label = f"{100 * level:.10g}".replace(".", "")
        columns |= {f"low_{label}": low / known, f"high_{label}": high / known}
        outside[((count < low) | (count > high)) & (base > 0)] = level
    columns["outside"] = outside
    return pl.DataFrame({key: nullable(values) for key, values in columns.items()})


def _least(guess: FloatArray, holds: Callable[[FloatArray], npt.NDArray[np.bool_]]) -> FloatArray:
    """The least whole number for which `holds`, near `guess`."""
    found = np.ceil(np.nan_to_num(guess)) - 2
    for _ in range(4):
        found = np.where(holds(found), found, found + 1)
    return found


@dataclass(frozen=True, slots=True)
class Overdispersion:
    """Do the groups differ more than chance? `chi2` on `df`, their `ratio` (about 1 if not), and `p`.

    The reference distribution is rough while few groups expect 5 events. ratio and p are None where df is 0.
    """

    chi2: float
    df: int
    ratio: float | None
    p: float | None


def overdispersion(events: npt.ArrayLike, exposure: npt.ArrayLike) -> Overdispersion:
    """Pearson's statistic of the counts against one common rate; groups without exposure are passed over."""
    count, base = np.broadcast_arrays(whole(events, "events"), exposures(exposure))
    seen = base > 0
    mean = _overall(count[seen], base) * base[seen]
    return _dispersion(count[seen], mean, mean)


def overdispersion_shares(successes: npt.ArrayLike, trials: npt.ArrayLike) -> Overdispersion:
    """The same of shares against one common share."""
    count, total, _ = share_of(successes, trials)
    seen = total > 0
    target = _overall(count, total)
    return _dispersion(count[seen], target * total[seen], target * (1 - target) * total[seen])


def _dispersion(count: FloatArray, mean: FloatArray, variance: FloatArray) -> Overdispersion:
    df = len(count) - 1
    if df < 1 or not (variance > 0).all():
        return Overdispersion(0.0, 0, None, None)
    chi2 = float(((count - mean) ** 2 / variance).sum())
    return Overdispersion(chi2, df, chi2 / df, float(chdtrc(df, chi2)))
