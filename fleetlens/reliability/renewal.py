"""When to renew: the age that keeps the long-run cost lowest."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import gamma, gammainc

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import FloatArray, IntArray
from fleetlens.reliability.roots import falling_root

__all__ = [
    "cost_rate",
    "cost_rate_of",
    "minimal_repair_age",
    "minimal_repair_cost_rate",
    "optimal_age",
    "optimal_age_of",
    "run_to_failure_rate",
    "unscheduled_cost_rate",
]

_FARTHEST = 700.0  # natural logarithm; an age past e^700 lives isn't finite for our purpose


def _positive(**values: npt.ArrayLike) -> list[FloatArray]:
    """Arrays of one shape, all above 0."""
    arrays = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values.values()))
    for name, array in zip(values, arrays, strict=True):
        if not ((array > 0) & np.isfinite(array)).all():
            raise FleetlensError(f"{name!r} must be above 0", do="give ages, costs and Weibull parameters above 0")
    return list(arrays)


def _mean_age(x: FloatArray, shape: FloatArray) -> FloatArray:
    """Mean age at renewal, in scales, when renewed at failure or at x scales: the integral of survival up to x."""
    with np.errstate(over="ignore"):
        return np.asarray(gamma(1 + 1 / shape) * gammainc(1 / shape, x**shape))


def cost_rate(
    age: npt.ArrayLike, shape: npt.ArrayLike, scale: npt.ArrayLike, planned: npt.ArrayLike, failure: npt.ArrayLike
) -> FloatArray:
    """Long-run cost per unit of age under renewal at failure or at `age`, whichever is first, for Weibull lives.

    `planned` is the cost of a renewal at `age`, `failure` that of one after a failure, all its consequences included.
    (planned R(T) + failure F(T)) / integral of R from 0 to T. Raises FleetlensError unless all are above 0.
    Barlow & Hunter 1960, Operations Research 8, 90-100.
    """
    t, b, eta, cp, cf = _positive(age=age, shape=shape, scale=scale, planned=planned, failure=failure)
    with np.errstate(over="ignore"):
        survival = np.exp(-((t / eta) ** b))
    return np.asarray((cp * survival + cf * (1 - survival)) / (eta * _mean_age(t / eta, b)))


def run_to_failure_rate(shape: npt.ArrayLike, scale: npt.ArrayLike, failure: npt.ArrayLike) -> FloatArray:
    """Long-run cost per unit of age when nothing is planned: failure cost over mean life, for Weibull lives."""
    b, eta, cf = _positive(shape=shape, scale=scale, failure=failure)
    return np.asarray(cf / (eta * gamma(1 + 1 / b)))


def unscheduled_cost_rate(
    planned_rate: npt.ArrayLike,
    shape: npt.ArrayLike,
    scale: npt.ArrayLike,
    planned: npt.ArrayLike,
    failure: npt.ArrayLike,
) -> FloatArray:
    """Long-run cost per unit of age when planned renewals come at any age, `planned_rate` a unit.

    Weibull lives; a part is renewed at failure or at the planned renewal, whichever is first. With M the mean age at
    renewal, the integral of R(t) exp(-r t) at planned_rate r, it is (failure (1 - r M) + planned r M) / M by the
    renewal-reward theorem; r = 0 gives run_to_failure_rate. Raises FleetlensError unless the others are above 0 and
    the rate is 0 or more. Ross 2014, Introduction to Probability Models, section 7.4 (the theorem, from memory).
    """
    b, eta, cp, cf = _positive(shape=shape, scale=scale, planned=planned, failure=failure)
    rate = np.asarray(planned_rate, dtype=np.float64)
    if not (rate >= 0).all():
        raise FleetlensError("'planned_rate' must be 0 or more", do="give planned renewals per unit of age")
    # In log age the integrand falls off smoothly on both sides, where the trapezoid rule is at its best.
    log_x = np.linspace(-40, np.log(50) / b + 1, 2_001, axis=-1)
    x = np.exp(log_x)
    b_, eta_, rate_ = (np.asarray(each)[..., None] for each in np.broadcast_arrays(b, eta, rate))
    with np.errstate(over="ignore"):
        mean = np.trapezoid(x * np.exp(-(x**b_) - rate_ * eta_ * x), log_x, axis=-1) * eta
    return np.asarray((cf * (1 - rate * mean) + cp * rate * mean) / mean)


def optimal_age(
    shape: npt.ArrayLike, scale: npt.ArrayLike, planned: npt.ArrayLike, failure: npt.ArrayLike
) -> FloatArray:
    """Age of planned renewal with the lowest long-run cost, for Weibull lives; NaN where there is no finite one.

    It is finite just where the hazard rises (shape above 1) and a planned renewal is cheaper than a failure; it then
    solves h(T) x integral of R from 0 to T - F(T) = planned / (failure - planned). (An age past e^700 scales, with a
    shape hardly above 1, counts as not finite.) Raises FleetlensError unless all are above 0.
    Barlow & Proschan 1965, Mathematical Theory of Reliability, chapter 4.
    """
    b, eta, cp, cf = (
        np.atleast_1d(each) for each in _positive(shape=shape, scale=scale, planned=planned, failure=failure)
    )
    best = np.full(b.shape, np.nan)
    worth = (b > 1) & (cf > cp)
    shapes, target = b[worth], (cp / np.where(cf > cp, cf - cp, 1.0))[worth]

    def short(at: IntArray, log_x: FloatArray) -> tuple[FloatArray, FloatArray]:
        # On logarithms both sides are nearly straight: slope `shape` for short ages, `shape` - 1 for long ones.
        k, x = shapes[at], np.exp(log_x)
        with np.errstate(over="ignore"):
            mean, survival, hazard = _mean_age(x, k), np.exp(-(x**k)), k * x ** (k - 1)
        gain = np.maximum(hazard * mean - (1 - survival), np.finfo(np.float64).tiny)
        return np.log(target[at]) - np.log(gain), -(k - 1) * hazard * mean / gain

    start = np.log(target / (shapes - 1)) / shapes
    ends = np.full(len(shapes), _FARTHEST)
    log_x, found = falling_root(short, start, -ends, ends, within=1e-12)
    best[worth] = np.where(found, eta[worth] * np.exp(log_x), np.nan)
    return best.reshape(np.broadcast_shapes(*(np.shape(each) for each in (shape, scale, planned, failure))))


def minimal_repair_cost_rate(
    age: npt.ArrayLike, shape: npt.ArrayLike, scale: npt.ArrayLike, planned: npt.ArrayLike, repair: npt.ArrayLike
) -> FloatArray:
    """Long-run cost per unit of age under renewal at `age`, a failure before it being mended without renewing.

    (planned + repair (T / scale)^shape) / T. Raises FleetlensError unless all are above 0.
    Barlow & Hunter 1960, Operations Research 8, 90-100.
    """
    t, b, eta, cp, cr = _positive(age=age, shape=shape, scale=scale, planned=planned, repair=repair)
    return np.asarray((cp + cr * (t / eta) ** b) / t)


def minimal_repair_age(
    shape: npt.ArrayLike, scale: npt.ArrayLike, planned: npt.ArrayLike, repair: npt.ArrayLike
) -> FloatArray:
    """Age of renewal with the lowest long-run cost when failures before it are mended without renewing.

    scale (planned / (repair (shape - 1)))^(1 / shape); NaN where the hazard doesn't rise (shape of 1 or less).
    Raises FleetlensError unless all are above 0. Barlow & Hunter 1960, Operations Research 8, 90-100.
    """
    b, eta, cp, cr = _positive(shape=shape, scale=scale, planned=planned, repair=repair)
    rise = np.where(b > 1, b - 1, np.nan)
    return np.asarray(eta * (cp / (cr * rise)) ** (1 / b))


def cost_rate_of(age: float, survival: Callable[[float], float], planned: float, failure: float) -> float:
    """The cost rate of `cost_rate` for any survival function, by quadrature."""
    mean: float = quad(survival, 0, age, epsabs=0, epsrel=1e-12, limit=200)[0]
    return (planned * survival(age) + failure * (1 - survival(age))) / mean


def optimal_age_of(
    survival: Callable[[float], float],
    density: Callable[[float], float],
    longest: float,
    planned: float,
    failure: float,
) -> float | None:
    """The age of lowest cost for any life with a rising hazard; None where the cost still falls at `longest`.

    There (failure - planned) x hazard equals the cost rate.
    """

    def slope(age: float) -> float:
        rate = cost_rate_of(age, survival, planned, failure)
        return (failure - planned) * density(age) - rate * survival(age)

    if slope(longest) <= 0:
        return None
    return float(brentq(slope, longest * 1e-9, longest, xtol=longest * 1e-13, rtol=1e-13))
