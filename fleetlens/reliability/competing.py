"""Competing ends: what happens to lives that can end in several ways."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import RiskSet, Tally, clock, nullable, running, segment_starts
from fleetlens.reliability.lives import FloatArray, IntArray, Lives, check

__all__ = ["CumulativeIncidence", "cumulative_incidence"]


@dataclass(frozen=True, slots=True, eq=False)
class CumulativeIncidence:
    """The share that has ended from each cause, by age and group.

    `steps`: a row per group, cause and distinct time of that cause: group, cause, time, at_risk, events, incidence,
    se, low, high (limits null where the incidence is 1). The causes' shares and the share that survives add up to 1.
    """

    steps: pl.DataFrame
    level: float
    _lives: Lives = field(repr=False)
    _n_causes: int = field(repr=False)

    def at(self, times: npt.ArrayLike) -> pl.DataFrame:
        """The shares at `times`, a row per group, cause and time: group, cause, time, incidence, se, low, high.

        incidence is 0 before the first event of the cause, null before anybody was under observation and after the
        last end unless every life has ended by then (the shares add up to 1).
        """
        asked = np.sort(np.atleast_1d(np.asarray(times, dtype=np.float64)))
        lives, first, last = self._lives, *self._lives.bounds()
        causes = np.arange(1, self._n_causes + 1)
        grid = pl.DataFrame({"group": np.arange(lives.n_groups), "first": first, "last": last}).join(
            pl.DataFrame({"cause": causes}), how="cross"
        )
        wanted = grid.join(pl.DataFrame({"time": asked}), how="cross").sort("time")
        found = wanted.join_asof(
            self.steps.select("group", "cause", "time", "incidence", "se", "low", "high").sort("time"),
            on="time",
            by=["group", "cause"],
            check_sortedness=False,
        ).with_columns(pl.col("incidence").fill_null(0.0))
        ended = pl.col("incidence").sum().over("group", "time") > 1 - 1e-9
        known = (pl.col("time") >= pl.col("first")) & ((pl.col("time") <= pl.col("last")) | ended)
        shares = ("incidence", "se", "low", "high")
        return (
            found.with_columns(pl.when(known).then(pl.col(name)).alias(name) for name in shares)
            .sort("group", "cause", "time")
            .select("group", "cause", "time", *shares)
        )


def cumulative_incidence(
    end: npt.ArrayLike,
    cause: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    n_causes: int | None = None,
    level: float = 0.95,
) -> CumulativeIncidence:
    """Share ended from each cause, all groups at once.

    `cause`: 0 where the life was censored, else 1, 2, ...; ages, entry and ties as for `kaplan_meier`, and causes at
    one and the same age share the lives at risk. Limits on the log(-log) scale of the share itself.
    Raises FleetlensError as `kaplan_meier` does, and for causes that aren't whole numbers from 0 to `n_causes`.

    Aalen & Johansen 1978, Scand. J. Stat. 5, 141-150; variance by the delta method from multinomial steps, as in
    Marubini & Valsecchi 1995, Analysing Survival Data from Clinical Trials, chapter 10.
    """
    why = np.asarray(cause)
    lives = check(end, why != 0, entry, group, n_groups)
    count = _n_causes(why, n_causes)
    ticks, (ends, entries) = clock(lives.end, lives.entry, n_groups=lives.n_groups)
    size = lives.n_groups * ticks.span
    end_keys = ticks.key(lives.group, ends, lives.n_groups)
    observed = RiskSet(ticks.key(lives.group, entries, lives.n_groups), end_keys, size, lives.lengths)
    keys, events = Tally(np.compress(lives.failed, end_keys), size).distinct()
    groups, times = ticks.split(keys)
    at_risk, starts = observed.entered.below(keys) - observed.ended.below(keys), segment_starts(groups)
    everyone = events == at_risk
    hazard = events / np.maximum(at_risk, 1)
    left = np.where(everyone, 0.0, 1 - hazard)
    gone = running(everyone.astype(np.float64), starts)
    survival = np.where(gone > 0.5, 0.0, np.exp(running(np.log(np.where(everyone, 1.0, left)), starts)))
    before = np.concatenate(([1.0], survival[:-1])) if len(keys) else survival
    before[starts] = 1.0
    frames = []
    for number in range(1, count + 1):
        mine, happened = Tally(np.compress(why == number, end_keys), size).distinct()
        place = np.searchsorted(keys, mine)
        own = np.zeros(len(keys))
        own[place] = happened / at_risk[place]
        share = running(before * own, starts)
        variance = _variance(share, own, before=before, hazard=hazard, left=left, at_risk=at_risk, starts=starts)
        shown = {"incidence": share[place], "se": np.sqrt(np.maximum(variance[place], 0.0))}
        low, high = _limits(shown["incidence"], shown["se"], level)
        frames.append(
            pl.DataFrame(
                {
                    "group": groups[place],
                    "cause": np.full(len(place), number),
                    "time": times[place],
                    "at_risk": at_risk[place],
                    "events": happened,
                    **shown,
                    "low": nullable(low),
                    "high": nullable(high),
                }
            )
        )
    return CumulativeIncidence(pl.concat(frames).sort("group", "cause", "time"), level, lives, count)


def _n_causes(cause: npt.NDArray[np.generic], n_causes: int | None) -> int:
    """The number of causes, at least one."""
    highest = int(cause.max(initial=0)) if np.issubdtype(cause.dtype, np.integer) or not cause.size else -1
    count = max(highest, 1) if n_causes is None else n_causes
    if highest < 0 or highest > count or (cause.size and int(cause.min()) < 0):
        raise FleetlensError(f"'cause' must be whole numbers from 0 to {count}", do="number causes from 1, 0 is none")
    return count


def _variance(
    share: FloatArray,
    own: FloatArray,
    *,
    before: FloatArray,
    hazard: FloatArray,
    left: FloatArray,
    at_risk: IntArray,
    starts: IntArray,
) -> FloatArray:
    """Variance of a cause's share at each time.

    A step at u, of size `own` of the cause and `hazard` in all, moves the share F(t) by S(u-) for the cause itself and
    by -(F(t) - F(u)) / (1 - hazard) for any end; the sum over u <= t is a polynomial in F(t) of running sums.
    """
    several = np.divide(hazard, left * at_risk, out=np.zeros(len(share)), where=left > 0)
    crossed = np.where(left > 0, before * own / at_risk, 0.0)

    def total(values: FloatArray) -> FloatArray:
        return running(values, starts)

    alone = total(before**2 * own * (1 - own) / at_risk)
    return np.asarray(
        alone
        - 2 * (share * total(crossed) - total(crossed * share))
        + share**2 * total(several)
        - 2 * share * total(several * share)
        + total(several * share**2)
    )


def _limits(share: FloatArray, se: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Limits on the log(-log) scale; NaN where the share is 1."""
    inside = (share > 0) & (share < 1 - 1e-12)
    log_share = np.log(np.where(inside, share, 0.5))
    factor = np.exp(ndtri(0.5 + level / 2) * se / np.where(inside, share, 1.0) / -log_share)
    low, high = np.exp(log_share * factor), np.exp(log_share / factor)
    return np.where(inside, low, np.nan), np.where(inside, high, np.nan)
