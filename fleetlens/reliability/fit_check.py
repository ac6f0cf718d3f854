"""Does one Weibull describe the lives? The points of a probability plot, and a test."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import chdtrc

from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, IntArray, Lives
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.reliability.weibull import FITTED, WeibullFit

__all__ = ["DESCRIBES", "FEWEST", "UNLIKE", "FitCheck", "fit_check", "plot_points"]

DESCRIBES, UNLIKE = "one Weibull describes the lives", "one Weibull doesn't describe the lives"
FEWEST = 10  # failures
_PER_STRETCH, _STRETCHES = 5, 8


@dataclass(frozen=True, slots=True, eq=False)
class FitCheck:
    """A test that the fitted curve is the right kind of curve.

    `rows`: a row per group: group, failures, stretches, chi_squared, degrees, p, reading (at the level of the fit).
    Null where the shape wasn't fitted, with fewer than ten failures, and where their ages leave only one stretch.
    `stretches`: group, since, until, observed, expected failures, in order of age.
    """

    rows: pl.DataFrame
    stretches: pl.DataFrame


def plot_points(fit: WeibullFit) -> pl.DataFrame:
    """Points of a probability plot, a row per group and distinct failure age: group, time, share, x, y, fitted.

    share: failed by that age by Kaplan-Meier with late entry, halfway up its step; x = ln time and y =
    ln(-ln(1 - share)) lie on a line of slope shape where a Weibull describes the lives; fitted: the y of that line,
    null where the group isn't fitted. A failure found at an inspection stands in the middle of its interval.
    Meeker & Escobar 1998, Statistical Methods for Reliability Data, chapter 6.
    """
    lives = _placed(fit)
    curve = kaplan_meier(lives.end, lives.failed, lives.entry, lives.group, n_groups=lives.n_groups)
    before = pl.col("survival").shift(1, fill_value=1.0).over("group")
    scales = fit.rows.select("group", "shape", "scale")
    return (
        curve.steps.select("group", "time", share=1 - (before + pl.col("survival")) / 2)
        .with_columns(x=pl.col("time").log(), y=(-(1 - pl.col("share")).log()).log())
        .join(scales, on="group", how="left", maintain_order="left")
        .with_columns(fitted=pl.col("shape") * (pl.col("x") - pl.col("scale").log()))
        .drop("shape", "scale")
    )


def fit_check(fit: WeibullFit) -> FitCheck:
    """Compare the failures in stretches of age with those the fitted Weibull expects, all groups at once.

    The stretches expect equally many failures, five or more each, eight stretches at most; expected is the hazard
    summed over the lives at risk, with late entry and censoring. Their differences, freed of what the fit of two
    parameters took out of them, give chi-squared. A low p says that lives of different kinds were put together, or
    that age is the wrong measure; a high one doesn't prove the Weibull. A failure found at an inspection is put in the
    middle of its interval, which is rough where the intervals are as long as the stretches.
    Hjort 1990, Annals of Statistics 18, 1221-1258; Akritas 1988, J. Am. Stat. Assoc. 83, 222-230.
    """
    lives = _placed(fit)
    ids = np.flatnonzero((fit.rows["outcome"] == FITTED) & (fit.rows["failures"] >= FEWEST))
    m, s = (np.zeros(lives.n_groups) for _ in range(2))
    m[ids] = np.log(fit.rows["scale"].to_numpy()[ids])
    s[ids] = np.log(fit.rows["shape"].to_numpy()[ids])
    hazards = [_Hazards(lives.end, lives, s, m)]
    if lives.entry.max(initial=-np.inf) > 0:
        hazards.append(_Hazards(np.maximum(lives.entry, 0.0), lives, s, m))
    edges, observed = _stretches(lives, hazards, ids)
    sums = _upto(hazards, edges)
    expected = np.diff(sums[0], axis=1, prepend=0.0)
    by_shape = np.diff(sums[1], axis=1, prepend=0.0)
    excess = np.where(expected > 0, observed - expected, 0.0)
    chi_squared, degrees = _statistic(excess, expected, by_shape, sums)
    told = np.zeros(lives.n_groups, dtype=np.bool_)
    told[ids] = True
    told &= degrees > 0
    p = np.where(told, chdtrc(np.maximum(degrees, 1), chi_squared), np.nan)
    used = np.where(told, (expected > 0).sum(axis=1), 0)
    columns = {
        "stretches": used.astype(np.float64),
        "chi_squared": chi_squared,
        "degrees": degrees.astype(np.float64),
        "p": p,
    }
    frame = pl.DataFrame(
        {
            "group": np.arange(lives.n_groups),
            "failures": lives.totals(lives.failed),
            **{name: nullable(np.where(told, values, np.nan)) for name, values in columns.items()},
        }
    ).with_columns(
        pl.col("stretches", "degrees").cast(pl.Int64),
        reading=_reading(1 - fit.level),
    )
    shown = np.flatnonzero((told[:, None] & (expected > 0)).ravel())
    since = np.concatenate((np.zeros((lives.n_groups, 1)), edges), axis=1)
    until = np.concatenate((edges, np.full((lives.n_groups, 1), np.inf)), axis=1)
    last = lives.bounds()[1]
    return FitCheck(
        frame,
        pl.DataFrame(
            {
                "group": np.repeat(np.arange(lives.n_groups), _STRETCHES)[shown],
                "since": since.ravel()[shown],
                "until": np.minimum(until, last[:, None]).ravel()[shown],
                "observed": observed.ravel()[shown].astype(np.int64),
                "expected": expected.ravel()[shown],
            }
        ),
    )


def _reading(least: float) -> pl.Expr:
    unlike = pl.when(pl.col("p") < least).then(pl.lit(UNLIKE))
    return unlike.when(pl.col("p").is_not_null()).then(pl.lit(DESCRIBES))


def _placed(fit: WeibullFit) -> Lives:
    """The fitted lives, groups together; failures within an interval in its middle."""
    lives, lower = fit._likelihood.lives, fit._likelihood.lower
    if lower is lives.end:
        return lives
    return Lives((lives.end + lower) / 2, lives.failed, lives.entry, lives.group, lives.n_groups)


class _Hazards:
    """Sums over a group's ages, each cut off at an edge, of the hazard u to that age, of u ln u and of u ln^2 u."""

    def __init__(self, ages: FloatArray, lives: Lives, s: FloatArray, m: FloatArray) -> None:
        self.shape, self.m, self.lengths = np.exp(s), m, lives.totals()
        self._starts = np.cumsum(self.lengths) - self.lengths
        unit = lives.bounds()[1]
        self._unit = np.where(np.isfinite(unit), unit, 1.0) * (1 + 1e-9)
        # Groups stand together already; within each its ages are put in order.
        keys = lives.group + ages / self._unit[lives.group]
        order = np.argsort(keys)
        self._keys, ages, group = keys[order], ages[order], lives.group[order]
        with np.errstate(divide="ignore"):
            log_u = self.shape[group] * (np.log(ages) - m[group])
        u, log_u = np.exp(log_u), np.where(ages > 0, log_u, 0.0)
        self._sums = [np.concatenate(([0.0], np.cumsum(u * log_u**k))) for k in range(3)]

    def upto(self, edges: FloatArray) -> FloatArray:
        """The three sums at edges given as groups x places."""
        groups = np.broadcast_to(np.arange(len(self.m))[:, None], edges.shape)
        reached = np.minimum(edges / self._unit[:, None], 1 - 1e-12)
        place = np.searchsorted(self._keys, groups + reached, side="right")
        beyond = self._starts[:, None] + self.lengths[:, None] - place
        finite = np.isfinite(edges)
        log_edge = self.shape[:, None] * (np.log(np.where(finite, edges, 1.0)) - self.m[:, None])
        cut = np.where(finite, np.exp(log_edge), 0.0) * beyond
        whole = [each[place] - each[self._starts][:, None] for each in self._sums]
        return np.stack([each + cut * log_edge**k for k, each in enumerate(whole)])


def _upto(hazards: list[_Hazards], edges: FloatArray) -> FloatArray:
    """The sums over all lives, from their entry, up to each edge and to the end: 3 x groups x stretches."""
    whole = np.concatenate((edges, np.full((len(edges), 1), np.inf)), axis=1)
    found = hazards[0].upto(whole)
    for each in hazards[1:]:
        found = found - each.upto(whole)
    return found


def _stretches(lives: Lives, hazards: list[_Hazards], ids: IntArray) -> tuple[FloatArray, FloatArray]:
    """Ages that part stretches of equal expected failures (infinite where a group has fewer), and the failures within.

    Parted at failures instead, a stretch would end with one, and few failures would look like many.
    """
    failures = lives.totals(lives.failed)
    number = np.minimum(failures // _PER_STRETCH, _STRETCHES)
    places = np.arange(1, _STRETCHES)
    wanted = np.zeros((lives.n_groups, _STRETCHES - 1), dtype=np.bool_)
    wanted[ids] = places < number[ids, None]
    last = np.where(failures > 0, lives.bounds()[1], 1.0)
    share = places / np.maximum(number, 1)[:, None]
    low, high = np.log(last)[:, None] - np.full(wanted.shape, 40.0), np.log(last)[:, None] + np.zeros(wanted.shape)
    everything = _upto(hazards, np.full((lives.n_groups, 0), np.inf))[0]
    for _ in range(30):
        middle = (low + high) / 2
        under = _upto(hazards, np.exp(middle))[0][:, :-1] < share * everything
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    edges = np.where(wanted, np.exp(high), np.inf)
    ages, group = lives.end[lives.failed], lives.group[lives.failed]
    stretch = np.zeros(len(ages), dtype=np.int64)
    for place in range(_STRETCHES - 1):
        stretch += ages > edges[group, place]
    observed = np.bincount(group * _STRETCHES + stretch, minlength=lives.n_groups * _STRETCHES)
    return edges, observed.reshape(lives.n_groups, _STRETCHES).astype(np.float64)


def _statistic(
    excess: FloatArray, expected: FloatArray, by_shape: FloatArray, sums: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Chi-squared of the excess failures and its degrees of freedom.

    With psi = (1, 1 + ln u) the slope of the log hazard by log scale and log shape (less factors that cancel), the
    covariance of the excess is diag(expected) - C I^-1 C', where C sums psi over the hazard of each stretch and I sums
    psi psi' over all of it; as psi du integrates to u and u ln u, and psi psi' to u, u ln u and u + u ln^2 u.
    """
    n_groups, many = expected.shape
    c = np.stack([expected, by_shape], axis=2)
    total = sums[:, :, -1]
    information = np.empty((n_groups, 2, 2))
    information[:, 0, 0] = total[0]
    information[:, 0, 1] = information[:, 1, 0] = total[1]
    information[:, 1, 1] = total[0] + total[2]
    determinant = np.linalg.det(information)
    information[~(determinant > 1e-12)] = np.eye(2)
    used = expected > 0
    covariance = np.einsum("gi,ij->gij", expected, np.eye(many))
    covariance -= c @ np.linalg.solve(information, np.swapaxes(c, 1, 2))
    # All excess adds up to nothing: the last stretch says no more than the others. Unused ones stand aside.
    keep = used & (np.cumsum(used[:, ::-1], axis=1)[:, ::-1] > 1)
    covariance = np.where(keep[:, :, None] & keep[:, None, :], covariance, np.eye(many))
    excess = np.where(keep, excess, 0.0)
    solved = np.linalg.solve(covariance, excess[:, :, None])[:, :, 0]
    return np.maximum((excess * solved).sum(axis=1), 0.0), keep.sum(axis=1)
