"""Weibull lives: shape, characteristic life and B-lives of all groups at once."""

from dataclasses import dataclass, field
from math import log

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray, check
from fleetlens.reliability.weibull_likelihood import Likelihood, Maximum, Value
from fleetlens.reliability.weibull_start import (
    FITTED,
    GIVEN,
    NO_FAILURES,
    NO_MAXIMUM,
    TOO_FEW,
    first_guess,
    known_shapes,
    outcomes,
    sound_until,
)

__all__ = [
    "CONSTANT",
    "EARLY",
    "FITTED",
    "GIVEN",
    "NO_FAILURES",
    "NO_MAXIMUM",
    "TOO_FEW",
    "WEAR_OUT",
    "WeibullFit",
    "fit",
]

Covariance = tuple[FloatArray, FloatArray, FloatArray]  # of log shape, of log scale, between them
WEAR_OUT, EARLY, CONSTANT = "wear-out", "early-life", "constant can't be ruled out"


@dataclass(frozen=True, slots=True, eq=False)
class WeibullFit:
    """Survival exp(-(t / scale)^shape), by group.

    `rows`: a row per group: group, lives, failures, shape, shape_low, shape_high, scale, scale_low, scale_high
    (profile-likelihood limits; scale in the unit of the ages), shape_se, scale_se (from observed information),
    var_log_shape, var_log_scale, cov_log (covariances of the logarithms), loglik, score (largest slope left at the
    maximum, by log shape and log scale), outcome. A limit is null where the likelihood never falls far enough: within
    a factor of 1,000 of the shape, of a million of the scale.

    outcome: "fitted"; "shape given": only the scale was fitted, and the shape has no limits; "no failures"; "too few
    failures": fewer than two distinct failure ages, an interval counting as an age of its own (one failure is enough
    for a given shape); "did not converge": no maximum with a shape between 0.001 and 10,000, or nothing was seen to
    last at all. All but the counts are null unless it is one of the first two.
    """

    rows: pl.DataFrame
    level: float
    _likelihood: Likelihood = field(repr=False)
    _ids: IntArray = field(repr=False)
    _best: Maximum = field(repr=False)
    _covariance: Covariance = field(repr=False)
    _given: BoolArray = field(repr=False)

    def life(self, share: float = 0.10, level: float | None = None) -> pl.DataFrame:
        """Age by which `share` have failed (0.10: B10), a row per group: group, value, low, high.

        Profile-likelihood limits; null where the group isn't fitted, or where there is no limit.
        """
        if not 0 < share < 1:
            raise FleetlensError(f"a share lies between 0 and 1, not {share:g}", do="0.10 asks for B10")
        quantile = log(-np.log1p(-share))
        best, unit = self._best, self._likelihood.log_unit[self._ids]
        value = np.exp(best.m + quantile * np.exp(-best.s) + unit)
        limits = _life_limits(
            self._likelihood,
            self._ids,
            best,
            self._covariance,
            given=self._given,
            quantile=quantile,
            level=level or self.level,
        )
        columns = {"value": value, **limits}
        count = self._likelihood.n_groups
        return pl.DataFrame(
            {
                "group": np.arange(count),
                **{name: nullable(_spread(values, self._ids, count)) for name, values in columns.items()},
            }
        )

    def reading(self) -> pl.DataFrame:
        """What the limits of the shape say, a row per group: group, reading (null where the shape isn't fitted).

        "wear-out": both above 1, the hazard rises; "early-life": both below 1, it falls; else "constant can't be
        ruled out". A limit that doesn't exist rules nothing out.
        """
        reading = (
            pl.when(pl.col("outcome") != FITTED)
            .then(None)
            .when(pl.col("shape_low") > 1)
            .then(pl.lit(WEAR_OUT))
            .when(pl.col("shape_high") < 1)
            .then(pl.lit(EARLY))
            .otherwise(pl.lit(CONSTANT))
        )
        return self.rows.select("group", reading=reading)


def fit(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    lower: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
    shape: npt.ArrayLike | None = None,
) -> WeibullFit:
    """Fit Weibull lives of all groups by maximum likelihood.

    `end`, `entry` and `lower` are ages in one unit, above 0. `entry`: late entry (left truncation); None, 0 or less
    means seen from the beginning. `lower`: a failure found later happened somewhere in (lower, end]; NaN or `end`
    means that its age is known; of lives that didn't fail it is passed over. `shape`: one for all or one a group, taken
    as known instead of fitted; NaN is fitted.
    Raises FleetlensError for arrays that don't match, missing numbers, ages and shapes that aren't above 0, lives that
    end at or before their entry, and intervals that end before they begin.

    Method: profile score of the shape, closed form for the scale; limits where twice the drop of the profile
    log-likelihood is the chi-squared quantile on 1 degree of freedom. Lawless 2003, Statistical Models and Methods
    for Lifetime Data, chapters 4 and 5; Meeker & Escobar 1998, Statistical Methods for Reliability Data, chapter 8.
    """
    lives = check(end, failed, entry, group, n_groups)
    if (lives.end <= 0).any():
        raise FleetlensError(
            f"{int((lives.end <= 0).sum())} of {len(lives.end)} lives have an age of 0 or less", do="leave them out"
        )
    since = sound_until(lives, lower)
    order = lives.together()
    if order is not None:
        lives, since = lives.take(order), since[order]
    known = known_shapes(shape, lives.n_groups)
    outcome = outcomes(lives, since)
    outcome[(lives.totals(lives.failed) > 0) & ~np.isnan(known)] = GIVEN
    guess = np.where(outcome == GIVEN, known, 0.0)
    free = np.flatnonzero(outcome == FITTED)
    guess[free] = first_guess(lives, since, free)
    likelihood = Likelihood(lives, since, np.exp(guess))
    outcome[np.isin(outcome, (FITTED, GIVEN)) & ~likelihood.some_lasted] = NO_MAXIMUM
    free, fixed = np.flatnonzero(outcome == FITTED), np.flatnonzero(outcome == GIVEN)
    best = likelihood.maximise(free, guess[free])
    outcome[free[~best.found]] = NO_MAXIMUM
    ids = np.concatenate((free[best.found], fixed))
    s = np.concatenate((best.s[best.found], known[fixed]))
    best = Maximum(likelihood.best_scale(ids, s), s, np.ones(len(ids), dtype=np.bool_))
    given = np.arange(len(ids)) >= len(ids) - len(fixed)
    value = likelihood.at(ids, best.m, best.s)
    covariance = _covariance(value, given)
    z, distance = float(ndtri(0.5 + level / 2)), np.sqrt(covariance[0])
    life = _life_limits(likelihood, ids, best, covariance, given=given, quantile=0.0, level=level)
    fitted_shape, scale = np.exp(best.s), np.exp(best.m + likelihood.log_unit[ids])
    own = np.flatnonzero(~given)
    near = Maximum(best.m[own], best.s[own], best.found[own])
    sides = {"shape_low": -1, "shape_high": 1}
    limits = {name: np.full(len(ids), np.nan) for name in sides}
    for name, side in sides.items():
        limits[name][own] = np.exp(likelihood.shape_limit(ids[own], near, side, z=z, first=z * distance[own]))
    columns = {
        "shape": fitted_shape,
        **limits,
        "scale": scale,
        "scale_low": life["low"],
        "scale_high": life["high"],
        "shape_se": np.where(given, np.nan, fitted_shape * distance),
        "scale_se": scale * np.sqrt(covariance[1]),
        "var_log_shape": covariance[0],
        "var_log_scale": covariance[1],
        "cov_log": covariance[2],
        "loglik": value.loglik - likelihood.exact[ids] * likelihood.log_unit[ids],
        "score": np.where(given, np.abs(value.m), np.maximum(np.abs(value.m), np.abs(value.s))),
    }
    rows = pl.DataFrame(
        {
            "group": np.arange(lives.n_groups),
            "lives": lives.totals(),
            "failures": lives.totals(lives.failed),
            **{name: nullable(_spread(values, ids, lives.n_groups)) for name, values in columns.items()},
            "outcome": pl.Series(outcome, dtype=pl.String),
        }
    )
    return WeibullFit(rows, level, likelihood, ids, best, covariance, given)


def _covariance(value: Value, given: BoolArray) -> Covariance:
    """Variances of log shape and log scale and their covariance; a given shape doesn't vary."""
    area = np.where(given, 1.0, value.mm * value.ss - value.ms**2)
    return (
        np.where(given, 0.0, -value.mm / area),
        np.where(given, -1 / value.mm, -value.ss / area),
        np.where(given, 0.0, value.ms / area),
    )


def _life_limits(
    likelihood: Likelihood,
    ids: IntArray,
    best: Maximum,
    covariance: Covariance,
    *,
    given: BoolArray,
    quantile: float,
    level: float,
) -> dict[str, FloatArray]:
    """Profile-likelihood limits of the age at log(-log(1 - share)) = `quantile`."""
    z, turn = float(ndtri(0.5 + level / 2)), -quantile * np.exp(-best.s)
    spread = np.sqrt(covariance[1] + 2 * turn * covariance[2] + turn**2 * covariance[0])
    found = {}
    for name, side in (("low", -1), ("high", 1)):
        limit = np.empty(len(ids))
        for rows, method in (
            (np.flatnonzero(~given), likelihood.life_limit),
            (np.flatnonzero(given), likelihood.life_limit_given_shape),
        ):
            part = Maximum(best.m[rows], best.s[rows], best.found[rows])
            limit[rows] = method(ids[rows], part, side, z=z, first=z * spread[rows], quantile=quantile)
        found[name] = np.exp(limit + likelihood.log_unit[ids])
    return found


def _spread(values: FloatArray, ids: IntArray, n_groups: int) -> FloatArray:
    """`values` of the groups `ids` among all groups, NaN elsewhere."""
    found = np.full(n_groups, np.nan)
    found[ids] = values
    return found
