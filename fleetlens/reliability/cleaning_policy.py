"""A part that may be cleaned some times before it is replaced: the long-run cost of a policy, and the best one.

A cycle runs from one new part to the next. The part is cleaned at the age `first`, then at the age `after` since each
cleaning, and replaced instead once it has been cleaned as often as the policy says. A failure is mended by a cleaning
(which counts as one) with a stated chance, else by a replacement; both cost `failure`. By the renewal-reward theorem
the long-run cost per unit of age is the mean cost of a cycle over its mean length.
Ross 2014, Introduction to Probability Models, section 7.4 (the theorem, from memory).
"""

from dataclasses import dataclass
from math import inf

import numpy as np
import numpy.typing as npt
from scipy.special import gamma, gammainc

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import FloatArray

__all__ = ["Life", "Policy", "Prices", "best_policy", "life", "policy_rate"]

_AGES = np.geomspace(0.01, 8.0, 48)  # in scales; beyond them stands "never"
_ROUNDS = 5  # each looks closer around the best age so far
_NEAR = np.linspace(-1.0, 1.0, 9)


@dataclass(frozen=True, slots=True)
class Life:
    """Weibull lives, one an entry: shape and scale (in the unit of age)."""

    shape: FloatArray
    scale: FloatArray

    def survival(self, age: FloatArray) -> FloatArray:
        """Share that outlives `age`; 0 at infinity."""
        with np.errstate(over="ignore"):
            return np.asarray(np.exp(-((age / self.scale) ** self.shape)))

    def mean_age(self, age: FloatArray) -> FloatArray:
        """Mean age at the end when it ends at failure or at `age`, whichever is first."""
        with np.errstate(over="ignore"):
            x = (age / self.scale) ** self.shape
        return np.asarray(self.scale * gamma(1 + 1 / self.shape) * gammainc(1 / self.shape, x))

    def column(self) -> "Life":
        """The same with a last axis of one, to stand against a row of ages."""
        return Life(self.shape[..., None], self.scale[..., None])


@dataclass(frozen=True, slots=True)
class Prices:
    """Costs of a planned cleaning, a planned replacement and a failure with all its consequences, in one currency.

    `last_failure`: of a failure once no cleaning is left, when it is mended by a replacement; None: as any failure.
    """

    clean: float
    replace: float
    failure: float
    last_failure: float | None = None

    @property
    def at_last(self) -> float:
        """What a failure costs once no cleaning is left."""
        return self.failure if self.last_failure is None else self.last_failure


@dataclass(frozen=True, slots=True)
class Policy:
    """Clean at the age `first`, then every `after`, and replace after `cleanings`; infinite: never."""

    first: FloatArray
    after: FloatArray
    cleanings: float


def life(shape: npt.ArrayLike, scale: npt.ArrayLike) -> Life:
    """Lives from anything like arrays. Raises FleetlensError unless all are above 0."""
    b, eta = np.broadcast_arrays(np.asarray(shape, dtype=np.float64), np.asarray(scale, dtype=np.float64))
    if not ((b > 0) & (eta > 0) & np.isfinite(b * eta)).all():
        raise FleetlensError("shape and scale must be above 0", do="give Weibull parameters above 0")
    return Life(b, eta)


def _check(prices: Prices, cleanings: float, mended: float) -> None:
    for name in ("clean", "replace", "failure", "at_last"):
        if not 0 < getattr(prices, name) < inf:
            raise FleetlensError(f"the price {name!r} must be above 0", do="give prices above 0")
    if not (cleanings == inf or (cleanings >= 0 and cleanings == int(cleanings))):
        raise FleetlensError(f"{cleanings} cleanings can't be", do="a whole number from 0, or infinity")
    if not 0 <= mended <= 1:
        raise FleetlensError(f"a share of {mended} can't be", do="a share from 0 to 1")


def _rate(
    stage: tuple[FloatArray, FloatArray],
    next_stage: tuple[FloatArray, FloatArray],
    prices: Prices,
    cleanings: float,
    mended: float,
) -> FloatArray:
    """Cost per unit of age from (survival, mean age) of a new part at `first` and of a cleaned one at `after`."""
    (kept, length), (kept_later, length_later) = stage, next_stage
    if cleanings == 0:
        alone = (prices.at_last * (1 - kept) + prices.replace * kept) / length
        return np.asarray(np.broadcast_to(alone, np.broadcast_shapes(alone.shape, kept_later.shape)))
    go_on = kept + mended * (1 - kept)  # chance that the part lives on, cleaned
    go_on_later = kept_later + mended * (1 - kept_later)
    cost = prices.failure * (1 - kept) + prices.clean * kept
    cost_later = prices.failure * (1 - kept_later) + prices.clean * kept_later
    if cleanings == inf:
        with np.errstate(divide="ignore", invalid="ignore"):
            visits = go_on / (1 - go_on_later)
            mean = (cost + visits * cost_later) / (length + visits * length_later)
        return np.asarray(np.where(go_on_later < 1, mean, cost_later / length_later))
    powers = sum((go_on_later**k for k in range(int(cleanings))), np.zeros_like(go_on_later))
    last = go_on * go_on_later ** (cleanings - 1)  # at the last stage a planned renewal is a replacement
    visits = go_on * powers
    dearer = kept_later * (prices.replace - prices.clean) + (1 - kept_later) * (prices.at_last - prices.failure)
    return np.asarray((cost + visits * cost_later + last * dearer) / (length + visits * length_later))


def policy_rate(policy: Policy, new: Life, cleaned: Life, prices: Prices, mended: float = 0.0) -> FloatArray:
    """Long-run cost per unit of age of a policy, for new and cleaned parts of these lives. Arrays are broadcast.

    No cleanings means planned replacements only. `mended`: chance that a failure is mended by a cleaning; past the last
    cleaning it is always a replacement. Raises FleetlensError for ages and prices that aren't above 0, for a number of
    cleanings that can't be, and for a share outside 0 to 1.
    """
    _check(prices, policy.cleanings, mended)
    first, after = np.broadcast_arrays(policy.first, policy.after)
    if not ((first > 0) & (after > 0)).all():
        raise FleetlensError("an age must be above 0", do="give ages above 0, or infinity for never")
    return _rate(
        (new.survival(first), new.mean_age(first)),
        (cleaned.survival(after), cleaned.mean_age(after)),
        prices,
        policy.cleanings,
        mended,
    )


def best_policy(
    new: Life,
    cleaned: Life,
    prices: Prices,
    cleanings: float,
    mended: float = 0.0,
    *,
    planned: tuple[bool, bool] = (True, True),
) -> Policy:
    """The policy of least long-run cost with that number of `cleanings`, for every entry of the lives at once.

    `planned`: whether a new part and a cleaned one may have a planned age; where not, it is never. Found on a grid of
    ages up to eight scales and "never", then looked at closer round the best: an age to 1e-4.
    Raises FleetlensError as policy_rate.
    """
    _check(prices, cleanings, mended)
    shape = np.broadcast_shapes(new.shape.shape, cleaned.shape.shape)
    lives = tuple(
        Life(np.broadcast_to(each.shape, shape).reshape(-1), np.broadcast_to(each.scale, shape).reshape(-1))
        for each in (new, cleaned)
    )
    grids = [np.append(_AGES, np.inf) if open_ else np.array([np.inf]) for open_ in planned]
    ages = [each.scale[:, None] * grid for each, grid in zip(lives, grids, strict=True)]
    spread = np.full(len(lives[0].shape), np.log(_AGES[1] / _AGES[0]))
    for closer in range(_ROUNDS + 1):
        firsts, afters = ages
        rates = _rate(_stages(lives[0], firsts, 2), _stages(lives[1], afters, 1), prices, cleanings, mended)
        at_first, at_after = np.divmod(rates.reshape(len(rates), -1).argmin(axis=1), afters.shape[1])
        every = np.arange(len(rates))
        best = (firsts[every, at_first], afters[every, at_after])
        if closer == _ROUNDS:
            break
        with np.errstate(invalid="ignore"):
            near = np.exp(spread[:, None] * _NEAR)
            ages = [np.where(np.isinf(age)[:, None], np.inf, age[:, None] * near) for age in best]
        spread /= 4
    return Policy(best[0].reshape(shape), best[1].reshape(shape), cleanings)


def _stages(lives: Life, ages: FloatArray, axis: int) -> tuple[FloatArray, FloatArray]:
    """Survival and mean age at each age, set along their own axis: first ages down, later ages across."""
    column = lives.column()
    both = column.survival(ages), column.mean_age(ages)
    return (np.expand_dims(both[0], axis), np.expand_dims(both[1], axis))
