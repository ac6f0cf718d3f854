"""Survival curves: how long it lasts, with late entry and censoring."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import Sweep, blocks, nullable, running, sweep
from fleetlens.reliability.lives import FloatArray, IntArray, Lives, check

__all__ = ["KaplanMeier", "kaplan_meier"]

_EQUAL = 1.5e-8  # two shares nearer than this are one share: rounding must not move a median


@dataclass(frozen=True, slots=True, eq=False)
class KaplanMeier:
    """The share that survives, by age and group.

    `steps`: a row per group and distinct failure time: group, time, at_risk, failures, censored (lives that ended
    otherwise from this time on, before the next failure time), entered (lives that came under observation since the
    failure time before), survival, se (Greenwood), low, high. at_risk of the next row = at_risk - failures - censored
    + its entered. se, low and high are null where the curve has reached 0.

    `risk`: a row per group: group, lives, failures, first_entry (null: seen from the beginning), last_end, and three
    warnings, null where all is well. zero_at: the curve fell to 0 while lives were still to come, and stays there.
    emptied_at: nobody was under observation for a while after this time, before the last failure. lone_at: the first
    failure at which only one life was at risk, although failures follow. Each asks for a later `start`.
    """

    steps: pl.DataFrame
    risk: pl.DataFrame
    level: float
    start: float | None
    _lives: Lives = field(repr=False)

    def at(self, times: npt.ArrayLike) -> pl.DataFrame:
        """The curve at `times`, a row per group and time: group, time, survival, se, low, high, at_risk.

        survival is null before anybody was under observation, and after the last end unless the curve has reached
        0. se, low and high are also null before the first failure, where no limits exist.
        """
        asked = np.atleast_1d(np.asarray(times, dtype=np.float64))
        lives, shape = self._lives, (self._lives.n_groups, len(asked))
        groups, ages = self.steps["group"].to_numpy(), self.steps["time"].to_numpy()
        columns = {name: self.steps[name].to_numpy() for name in ("survival", "se", "low", "high")}
        starts = np.searchsorted(groups, np.arange(lives.n_groups))
        first, last = lives.bounds()
        found = {name: np.full(shape, np.nan) for name in columns}
        at_risk = np.zeros(shape, dtype=np.int64)
        for place, time in enumerate(asked):
            passed = np.bincount(groups[ages <= time], minlength=lives.n_groups)
            begun = passed > 0
            for name, values in columns.items():
                found[name][begun, place] = values[(starts + passed - 1)[begun]]
            found["survival"][~begun, place] = 1.0
            unknown = (time < first) | ((time > last) & (found["survival"][:, place] > 0))
            for name in columns:
                found[name][unknown, place] = np.nan
            at_risk[:, place] = lives.totals((lives.entry < time) & (time <= lives.end))
        return pl.DataFrame(
            {
                "group": np.repeat(np.arange(lives.n_groups), len(asked)),
                "time": np.tile(asked, lives.n_groups),
                **{name: nullable(values.ravel()) for name, values in found.items()},
                "at_risk": at_risk.ravel(),
            }
        )

    def quantile(self, share: float = 0.5) -> pl.DataFrame:
        """Age by which `share` have failed, a row per group: group, value, low, high; null where not reached.

        The first time at which the curve is at or below 1 - `share`; where it runs level at just that height, the
        middle of the level stretch. The limits are the same of the curves of the limits (Brookmeyer & Crowley 1982,
        Biometrics 38, 29-41), the convention of R's survival package.
        """
        if not 0 < share < 1:
            raise FleetlensError(f"a share lies between 0 and 1, not {share:g}", do="0.5 asks for the median")
        survival = self.steps["survival"].to_numpy()
        gone = survival <= 0  # no limits there; the lower one can only be 0
        curves = {
            "value": survival,
            "low": np.where(gone, 0.0, self.steps["low"].to_numpy()),
            "high": np.where(gone, 1.0, self.steps["high"].to_numpy()),
        }
        found = {name: nullable(self._first_below(curve, 1 - share)) for name, curve in curves.items()}
        return pl.DataFrame({"group": np.arange(self._lives.n_groups), **found})

    def _first_below(self, curve: FloatArray, height: float) -> FloatArray:
        """Per group the first time at which `curve` is at or below `height`; NaN where it never is."""
        groups, ages = self.steps["group"].to_numpy(), self.steps["time"].to_numpy()
        found = np.full(self._lives.n_groups, np.nan)
        rows = np.flatnonzero(curve <= height + _EQUAL)
        reached, where = np.unique(groups[rows], return_index=True)
        first = rows[where]
        found[reached] = ages[first]
        level = np.flatnonzero(np.abs(curve[first] - height) <= _EQUAL)
        lower = np.flatnonzero(curve < height - _EQUAL)
        below, place = np.unique(groups[lower], return_index=True)
        ends = self._lives.bounds()[1]
        ends[below] = ages[lower[place]]
        found[reached[level]] = (found[reached[level]] + ends[reached[level]]) / 2
        return found


def kaplan_meier(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
    start: float | None = None,
) -> KaplanMeier:
    """Survival curves of all groups, with log-log limits.

    `end`, `entry` and `start` are ages in one unit; `entry` None: all are at risk from the beginning, and failures at
    age 0 count. A life is at risk at a time t with entry < t <= end: at one and the same age a failure comes before a
    censoring, and a life that enters then is not yet at risk. `start` conditions on surviving to that age.
    Raises FleetlensError for arrays that don't match, missing numbers, and lives that end at or before their entry.

    Kaplan & Meier 1958, J. Am. Stat. Assoc. 53, 457-481; variance by Greenwood 1926; limits on the log(-log) scale,
    Kalbfleisch & Prentice 1980; late entry as in Klein & Moeschberger 2003, section 4.6.
    """
    lives = check(end, failed, entry, group, n_groups)
    if start is not None:
        lives = lives.late(start)
    swept = sweep(lives)
    groups, times, failures, starts = swept.group, swept.time, swept.failures, swept.starts
    before = np.concatenate(([0], np.cumsum(lives.totals())))
    entered_since, ended_until = swept.entered.copy(), np.append(swept.ended[1:], 0)[: len(times)]
    entered_since[1:] -= swept.entered[:-1]
    entered_since[starts] = swept.entered[starts] - before[groups[starts]]
    lasts = np.append(starts[1:], len(times))[: len(starts)] - 1
    ended_until[lasts] = before[groups[lasts] + 1]
    steps = pl.DataFrame(
        {
            "group": groups,
            "time": times,
            "at_risk": swept.at_risk,
            "failures": failures,
            "censored": ended_until - swept.ended - failures,
            "entered": entered_since,
            **_curve(swept.at_risk, failures, starts, level),
        }
    )
    return KaplanMeier(steps, _risk(lives, steps, swept), level, start, lives)


def _curve(at_risk: IntArray, failures: IntArray, starts: IntArray, level: float) -> dict[str, pl.Series]:
    """The product of the steps with standard error and limits, which are null from where the curve is 0."""
    length, z, any_gone = len(at_risk), ndtri(0.5 + level / 2), bool((at_risk == failures).any())
    log_survival, variance, survival, low, high = (np.empty(length) for _ in range(5))
    for rows in blocks(length):
        n, d = at_risk[rows].astype(np.float64), failures[rows].astype(np.float64)
        # Where all have failed the curve is 0; 1.0 only keeps the arithmetic quiet.
        left = np.maximum(n - d, 1.0) if any_gone else n - d
        np.log(left / n, out=log_survival[rows])
        np.divide(d, left * n, out=variance[rows])  # what a step adds to Greenwood's sum
    log_survival, se = running(log_survival, starts), running(variance, starts)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        for rows in blocks(length):
            log_share, share = log_survival[rows], survival[rows]
            spread = np.sqrt(se[rows])
            np.exp(log_share, out=share)
            np.multiply(share, spread, out=se[rows])
            factor = np.exp(z * spread / -log_share)
            np.exp(log_share * factor, out=low[rows])
            np.exp(log_share / factor, out=high[rows])
    limits = {"se": se, "low": low, "high": high}
    if any_gone:
        gone = running((at_risk == failures).astype(np.float64), starts) > 0.5
        survival[gone] = 0.0
        for values in limits.values():
            values[gone] = np.nan
    return {"survival": pl.Series(survival), **{name: nullable(values) for name, values in limits.items()}}


def _risk(lives: Lives, steps: pl.DataFrame, swept: Sweep) -> pl.DataFrame:
    """Lives, failures and warnings of each group."""
    first, last = lives.bounds()
    groups, times = swept.group, swept.time
    last_failure = np.full(lives.n_groups, -np.inf)
    ends = np.append(swept.starts[1:], len(times))[: len(swept.starts)] - 1
    last_failure[groups[ends]] = times[ends]

    def earliest(rows: IntArray) -> pl.Series:
        return nullable(_earliest(groups[rows], times[rows], lives.n_groups))

    gone, lone = np.flatnonzero(steps["survival"].to_numpy() <= 0), np.flatnonzero(swept.at_risk == 1)
    cut_short = np.flatnonzero(swept.emptied_time < last_failure[swept.emptied_group])
    emptied = _earliest(swept.emptied_group[cut_short], swept.emptied_time[cut_short], lives.n_groups)
    return pl.DataFrame(
        {
            "group": np.arange(lives.n_groups),
            "lives": lives.totals(),
            "failures": lives.totals(lives.failed),
            "first_entry": nullable(np.where(np.isfinite(first), first, np.nan)),
            "last_end": nullable(np.where(np.isfinite(last), last, np.nan)),
            "zero_at": earliest(gone[times[gone] < last[groups[gone]]]),
            "emptied_at": nullable(emptied),
            "lone_at": earliest(lone[times[lone] < last_failure[groups[lone]]]),
        }
    )


def _earliest(groups: IntArray, times: FloatArray, n_groups: int) -> FloatArray:
    """Smallest time of each group; NaN where it has none."""
    found = np.full(n_groups, np.inf)
    np.minimum.at(found, groups, times)
    return np.where(np.isfinite(found), found, np.nan)
