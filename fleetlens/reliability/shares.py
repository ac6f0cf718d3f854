"""How a whole splits up: shares of kinds with limits, from own counts and from a wider group's."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import betaincinv, polygamma, psi

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counted import whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, IntArray
from fleetlens.reliability.roots import falling_root

__all__ = ["LEARNED", "NO_SPREAD", "STATED", "TOO_FEW", "Borrowed", "borrowed", "dirichlet"]

STATED, LEARNED = "stated", "learned"
NO_SPREAD, TOO_FEW = "no spread beyond chance", "too few groups"
_FEWEST = 3
_WEAKEST = 1e-2  # jobs' worth


@dataclass(frozen=True, slots=True, eq=False)
class Borrowed:
    """Shares that a wider group has helped to estimate.

    `rows`: a row per count, in their order: share, low, high, and weight: how much of the answer is the wider group's
    (1: all of it). `strength`: how many jobs' worth the wider group counts for beside the own ones.

    outcome: "stated": the strength was given; "learned" from how much the groups differ; "no spread beyond chance":
    they don't, and the wider group counts in full; "too few groups" to learn from (three with two counts or more): as
    strong as there are kinds.
    """

    rows: pl.DataFrame
    level: float
    strength: float
    outcome: str


def dirichlet(counts: npt.ArrayLike, prior: npt.ArrayLike = 0.5, level: float = 0.95) -> pl.DataFrame:
    """Posterior shares of the kinds along the last axis, a row per count in their order: share, low, high.

    `prior`: imaginary counts of each kind, above 0; 0.5 is Jeffreys'. Means, and equal-tailed limits of each share on
    its own (a beta distribution). Raises FleetlensError for counts that aren't and a prior of 0 or less.
    Gelman et al. 2013, Bayesian Data Analysis, section 3.4.
    """
    own = whole(counts, "counts")
    imagined = np.asarray(prior, dtype=np.float64)
    if not (np.isfinite(imagined).all() and (imagined > 0).all()):
        raise FleetlensError("imaginary counts must be above 0", do="0.5 for each kind leans to none")
    return pl.DataFrame({name: nullable(values.ravel()) for name, values in _posterior(own + imagined, level).items()})


def borrowed(
    counts: npt.ArrayLike, wider: npt.ArrayLike | None = None, strength: float | None = None, level: float = 0.95
) -> Borrowed:
    """Shares of each row of `counts` (groups x kinds), with a prior from a wider group's shares.

    `wider`: counts of the kinds in the wider group, without those of the row (one row for all or one each); None: the
    other rows'. One imaginary count spread over all kinds keeps each possible. `strength`: how many jobs' worth the
    wider group counts for; None learns it by the Dirichlet-multinomial likelihood of the rows, at most the wider
    group's own number of counts.
    Raises FleetlensError for counts that aren't, arrays that don't match, a strength of 0 or less.
    Minka 2000, Estimating a Dirichlet distribution.
    """
    own = np.atleast_2d(whole(counts, "counts"))
    kinds = own.shape[1]
    around = own.sum(axis=0) - own if wider is None else np.atleast_2d(whole(wider, "wider"))
    if own.ndim != 2 or around.shape[1] != kinds or around.shape[0] not in (1, len(own)):
        raise FleetlensError(f"'wider' has the shape {around.shape}, not ({kinds},)", do="give one count a kind")
    if strength is not None and not (np.isfinite(strength) and strength > 0):
        raise FleetlensError(f"a strength must be above 0, not {strength:g}", do="2 counts as much as two jobs")
    expected = np.broadcast_to((around + 1 / kinds) / (around.sum(axis=1, keepdims=True) + 1), own.shape)
    weight, outcome = (
        (strength, STATED) if strength is not None else _learned(own, expected, most=float(around.sum(axis=1).max()))
    )
    columns = _posterior(own + weight * expected, level)
    columns["weight"] = np.broadcast_to(weight / (weight + own.sum(axis=1, keepdims=True)), own.shape)
    return Borrowed(
        pl.DataFrame({key: nullable(each.ravel()) for key, each in columns.items()}), level, weight, outcome
    )


def _posterior(alpha: FloatArray, level: float) -> dict[str, FloatArray]:
    """Mean and equal-tailed limits of each share of Dirichlet distributions along the last axis."""
    rest, tail = alpha.sum(axis=-1, keepdims=True) - alpha, (1 - level) / 2
    if alpha.shape[-1] == 1:
        return {name: np.ones(alpha.shape) for name in ("share", "low", "high")}
    return {
        "share": alpha / (alpha + rest),
        "low": betaincinv(alpha, rest, tail),
        "high": betaincinv(alpha, rest, 1 - tail),
    }


def _learned(own: FloatArray, expected: FloatArray, *, most: float) -> tuple[float, str]:
    """The strength under which the rows are likeliest, and how it came about."""
    total = own.sum(axis=1)
    telling = total >= 2
    if telling.sum() < _FEWEST or most <= _WEAKEST:
        return float(own.shape[1]), TOO_FEW
    x, n, share = own[telling], total[telling], expected[telling]

    def slope(_: IntArray, log_strength: FloatArray) -> tuple[FloatArray, FloatArray]:
        a = float(np.exp(log_strength[0]))
        prior = a * share
        first = (psi(a) - psi(a + n)).sum() + (share * (psi(prior + x) - psi(prior))).sum()
        second = (polygamma(1, a) - polygamma(1, a + n)).sum() + (
            share**2 * (polygamma(1, prior + x) - polygamma(1, prior))
        ).sum()
        return np.array([a * first]), np.array([a * first + a**2 * second])

    low, high = np.array([np.log(_WEAKEST)]), np.array([np.log(most)])
    found, there = falling_root(slope, np.minimum(np.array([np.log(own.shape[1])]), high), low, high)
    return float(np.exp(found[0])), LEARNED if there[0] or found[0] < high[0] else NO_SPREAD
