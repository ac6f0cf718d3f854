"""The Weibull likelihood of many groups, its slopes, its maximum and its profile limits."""

from dataclasses import dataclass

import numpy as np

from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray, Lives, marked, per_group
from fleetlens.reliability.power_sums import PowerSums
from fleetlens.reliability.roots import Falling, falling_root

__all__ = ["Likelihood", "Maximum", "Value"]

# Shapes and lives are sought this far (natural logarithms): a shape from a thousandth to ten thousand, and limits up to
# a thousand times the shape and a million times the life that fit best. Beyond, there is no limit.
_LOG_SHAPE_LOW, _LOG_SHAPE_HIGH = np.log(1e-3), np.log(1e4)
_SHAPE_REACH, _LIFE_REACH = np.log(1e3), np.log(1e6)
_LEVEL = 1e-6  # slope per failure that still counts as none
_LARGEST_LOG, _SMALLEST = 300.0, 1e-150  # squares of hazards must stay numbers


@dataclass(frozen=True, slots=True, eq=False)
class Value:
    """Log-likelihood with first and second derivatives by m = log scale and s = log shape."""

    loglik: FloatArray
    m: FloatArray
    s: FloatArray
    mm: FloatArray
    ms: FloatArray
    ss: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Maximum:
    """Where the likelihood is largest: m = log scale, s = log shape, and whether that is a true maximum."""

    m: FloatArray
    s: FloatArray
    found: BoolArray


class Likelihood:
    """Lives of all groups as sums; those of a group stand together, ages are scaled by the largest it lasted.

    A life that failed in (lower, end] counts as one that lasted to `lower` and then failed within the interval.
    """

    def __init__(self, lives: Lives, lower: FloatArray, near: FloatArray) -> None:
        """`near`: a shape of each group in whose neighbourhood it will be asked."""
        self.lives, self.lower, self.n_groups = lives, lower, lives.n_groups
        lengths, failures = lives.totals(), np.flatnonzero(lives.failed)
        between = failures[:0] if lower is lives.end else failures[lower[failures] < lives.end[failures]]
        lasted = lives.end
        if len(between):
            lasted = lasted.copy()
            lasted[between] = lower[between]
            failures = np.setdiff1d(failures, between, assume_unique=True)
        largest = per_group(np.maximum, lasted, lengths, 0.0)
        self.some_lasted = largest > 0
        self.log_unit = np.log(np.where(self.some_lasted, largest, 1.0))
        self._group = lives.group[between]
        self._between = np.bincount(self._group, minlength=self.n_groups).astype(np.float64)
        exact = lives.totals(lives.failed) - self._between.astype(np.int64)
        self.exact = exact.astype(np.float64)
        self.log_sum = per_group(np.add, np.log(lives.end[failures]), exact, 0.0) - exact * self.log_unit
        self.sums = PowerSums(_above_zero(lasted, lengths), _above_zero(lives.entry, lengths), self.log_unit, near)
        unit = self.log_unit[self._group]
        self._log_high = np.log(lives.end[between]) - unit
        self._low = lower[between] / np.exp(unit)
        self._log_low = np.log(np.where(self._low > 0, self._low, 1.0))

    def _intervals(self, ids: IntArray, m: FloatArray, shape: FloatArray) -> tuple[IntArray, list[FloatArray]]:
        """Of each failure within an interval: its place in `ids`; log age and hazard at its end and its beginning."""
        place = np.full(self.n_groups, -1)
        place[ids] = np.arange(len(ids))
        row = place[self._group]
        mine = row >= 0
        row = row[mine]
        b = shape[row]
        high, low = self._log_high[mine] - m[row], self._log_low[mine] - m[row]
        # Far from the maximum a hazard may be past all measure.
        hazard_high = np.exp(np.minimum(b * high, _LARGEST_LOG))
        hazard_low = np.exp(np.minimum(b * low, _LARGEST_LOG)) * (self._low[mine] > 0)
        return row, [high, hazard_high, low, hazard_low]

    def at(self, ids: IntArray, m: FloatArray, s: FloatArray) -> Value:
        """Log-likelihood of the groups `ids` and its derivatives, in scaled ages."""
        shape, r = np.exp(s), self.exact[ids]
        sums = self.sums.at(ids, shape)
        factor = np.exp(np.minimum(-shape * m, _LARGEST_LOG))
        hazard = factor * sums[0]
        by_shape = factor * (sums[1] - m * sums[0])
        by_shape2 = factor * (sums[2] - 2 * m * sums[1] + m**2 * sums[0])
        loglik = r * (s - shape * m) + (shape - 1) * self.log_sum[ids] - hazard
        d_m, d_b = shape * (hazard - r), r / shape - r * m + self.log_sum[ids] - by_shape
        d_mm, d_mb, d_bb = -(shape**2) * hazard, hazard - r + shape * by_shape, -r / shape**2 - by_shape2
        if len(self._group):
            row, (high, hazard_high, low, hazard_low) = self._intervals(ids, m, shape)
            b, d0 = shape[row], np.maximum(hazard_high - hazard_low, _SMALLEST)
            d1, d2 = (hazard_high * high**k - hazard_low * low**k for k in (1, 2))
            with np.errstate(over="ignore"):
                p1 = 1 / np.expm1(d0)  # of log(1 - exp(-D)) by D
            p2 = -p1 * (1 + p1)

            def total(values: FloatArray) -> FloatArray:
                return np.bincount(row, values, minlength=len(ids)).astype(np.float64)

            loglik += total(np.log(-np.expm1(-d0)))
            d_m += total(p1 * -b * d0)
            d_b += total(p1 * d1)
            d_mm += total(p2 * (b * d0) ** 2 + p1 * b**2 * d0)
            d_mb += total(p2 * -b * d0 * d1 - p1 * (d0 + b * d1))
            d_bb += total(p2 * d1**2 + p1 * d2)
        return Value(loglik, d_m, shape * d_b, d_mm, shape * d_mb, shape**2 * d_bb + shape * d_b)

    def best_scale(self, ids: IntArray, s: FloatArray) -> FloatArray:
        """The log scale that fits best at a given shape.

        There the cumulative hazard H of all lives equals the failures at known ages, which is the closed form, and
        for each interval the D / (e^D - 1) of the hazard D across it. As that lies between 0 and 1, so does log H
        between the logarithms of the failures without and with the intervals; it falls with shape x log scale.
        """
        shape = np.exp(s)
        log_total = np.log(np.maximum(self.sums.at(ids, shape)[0], _SMALLEST))
        known, all_failures = self.exact[ids], (self.exact + self._between)[ids]
        highest = log_total - np.log(np.maximum(known, _SMALLEST))
        best = highest.copy()
        wide = np.flatnonzero(known < all_failures)

        def excess(at: IntArray, x: FloatArray) -> tuple[FloatArray, FloatArray]:
            here = wide[at]
            row, (_, hazard_high, _, hazard_low) = self._intervals(ids[here], x / shape[here], shape[here])
            d0 = np.maximum(hazard_high - hazard_low, _SMALLEST)
            with np.errstate(over="ignore"):
                p1 = 1 / np.expm1(d0)
            failures = np.maximum(known[here] + np.bincount(row, d0 * p1, minlength=len(at)), _SMALLEST)
            rise = np.bincount(row, d0 * p1 * (d0 * (1 + p1) - 1), minlength=len(at))
            return log_total[here] - x - np.log(failures), -1.0 - rise / failures

        if len(wide):
            lowest = log_total[wide] - np.log(all_failures[wide])
            best[wide] = falling_root(excess, lowest, lowest, highest[wide])[0]
        return best / shape

    def maximise(self, ids: IntArray, start: FloatArray) -> Maximum:
        """The maximum of each group of `ids`, sought along the profile of the log shape from `start`."""

        def slope(at: IntArray, s: FloatArray) -> tuple[FloatArray, FloatArray]:
            value = self.at(ids[at], self.best_scale(ids[at], s), s)
            return value.s, value.ss - value.ms**2 / value.mm

        bounds = (np.full(len(ids), _LOG_SHAPE_LOW), np.full(len(ids), _LOG_SHAPE_HIGH))
        s, found = falling_root(slope, start, *bounds)
        scale = self.best_scale(ids, s)
        value = self.at(ids, scale, s)
        level = np.maximum(np.abs(value.m), np.abs(value.s)) < _LEVEL * np.maximum(1.0, self.exact[ids])
        peak = (value.mm < 0) & (value.mm * value.ss - value.ms**2 > 0)
        return Maximum(scale, s, found & level & peak)

    def shape_limit(self, ids: IntArray, best: Maximum, side: int, *, z: float, first: FloatArray) -> FloatArray:
        """Log shape beyond which the profile likelihood is too low, on one side (-1 or 1); NaN where there is none.

        `first` is a first guess of the distance from the maximum; `z` the normal quantile of the level.
        """
        top = self.at(ids, best.m, best.s).loglik

        def short(at: IntArray, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
            s = best.s[at] + side * distance
            value = self.at(ids[at], self.best_scale(ids[at], s), s)
            return _signed_root(top[at] - value.loglik, side * value.s, z)

        return best.s + side * _reached(short, first, _SHAPE_REACH)

    def life_limit(
        self, ids: IntArray, best: Maximum, side: int, *, z: float, first: FloatArray, quantile: float
    ) -> FloatArray:
        """The same for the log of the life m + quantile / shape; `quantile` = log(-log(1 - share failed))."""
        top, shapes = self.at(ids, best.m, best.s).loglik, best.s.copy()
        life = best.m + quantile * np.exp(-best.s)

        def short(at: IntArray, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
            fixed = life[at] + side * distance

            def along(of: IntArray, s: FloatArray) -> tuple[FloatArray, FloatArray]:
                turn = quantile * np.exp(-s)  # of m by s while the life stays
                value = self.at(ids[at[of]], fixed[of] - turn, s)
                slope = value.s + value.m * turn
                return slope, value.ss + 2 * value.ms * turn + value.mm * turn**2 - value.m * turn

            nearby = (best.s[at] - _SHAPE_REACH, best.s[at] + _SHAPE_REACH)
            shapes[at] = falling_root(along, shapes[at], *nearby)[0]
            value = self.at(ids[at], fixed - quantile * np.exp(-shapes[at]), shapes[at])
            return _signed_root(top[at] - value.loglik, side * value.m, z)

        return life + side * _reached(short, first, _LIFE_REACH)

    def life_limit_given_shape(
        self, ids: IntArray, best: Maximum, side: int, *, z: float, first: FloatArray, quantile: float
    ) -> FloatArray:
        """The same where the shape is given, and only the scale was fitted."""
        top = self.at(ids, best.m, best.s).loglik

        def short(at: IntArray, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
            value = self.at(ids[at], best.m[at] + side * distance, best.s[at])
            return _signed_root(top[at] - value.loglik, side * value.m, z)

        return best.m + quantile * np.exp(-best.s) + side * _reached(short, first, _LIFE_REACH)


def _above_zero(ages: FloatArray, lengths: IntArray) -> tuple[FloatArray, IntArray]:
    """The ages above 0, and how many of them each group has."""
    if ages.min(initial=np.inf) > 0:
        return ages, lengths
    if not ages.max(initial=0.0) > 0:
        return ages[:0], np.zeros_like(lengths)
    counts = ages > 0
    return np.compress(counts, ages), marked(counts, lengths)


def _signed_root(drop: FloatArray, slope: FloatArray, z: float) -> tuple[FloatArray, FloatArray]:
    """How far the signed root of the likelihood ratio, nearly straight in the parameter, is short of `z`."""
    root = np.sqrt(np.maximum(2 * drop, 1e-12))
    return z - root, np.asarray(slope / root)


def _reached(short: Falling, first: FloatArray, reach: float) -> FloatArray:
    """Distance at which `short` falls through 0; NaN where it doesn't within `reach`."""
    nothing = np.zeros(len(first))
    distance, found = falling_root(short, np.clip(first, 1e-9, reach), nothing, nothing + reach)
    return np.where(found, distance, np.nan)
