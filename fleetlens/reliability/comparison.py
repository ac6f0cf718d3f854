"""Do groups of lives last equally long? The log-rank test, and the difference of two curves at an age."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import chdtrc

from fleetlens.reliability.counted import exact_share
from fleetlens.reliability.counting import Tally, clock, nullable
from fleetlens.reliability.lives import FloatArray, check, groups
from fleetlens.reliability.survival import KaplanMeier

__all__ = ["LogRank", "difference_at", "log_rank"]


@dataclass(frozen=True, slots=True, eq=False)
class LogRank:
    """The test that all groups fail alike.

    `rows`: a row per group: group, lives, observed and expected failures, and p of the same test of this group against
    all others, null where there is nothing to compare. `chi_squared` on `degrees` of freedom gives `p` of all groups
    together; it is None and degrees 0 where no failure has lives of two groups at risk.
    """

    rows: pl.DataFrame
    chi_squared: float
    degrees: int
    p: float | None


def log_rank(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    group: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    strata: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
) -> LogRank:
    """Compare the failures of each group with those expected if all failed alike.

    Ages, entry and ties as for `kaplan_meier`. `strata`: lives are compared only with those of the same stratum.
    Raises FleetlensError as `kaplan_meier` does. Memory grows with failure times x groups.

    Mantel 1966, Cancer Chemother. Rep. 50, 163-170; Peto & Peto 1972, J. R. Stat. Soc. A 135, 185-206.
    """
    lives = check(end, failed, entry, group, n_groups)
    stratum, n_strata = groups(strata, None, len(lives.end))
    ticks, (ends, entries) = clock(lives.end, lives.entry, n_groups=n_strata)
    end_keys = ticks.key(stratum, ends, n_strata)
    entry_keys = ticks.key(stratum, entries, n_strata)
    failing = Tally(np.compress(lives.failed, end_keys), n_strata * ticks.span)
    keys, failures = failing.distinct()
    # At risk: from the first failure time after entry up to the last one not after the end.
    since, until = failing.rank(entry_keys), failing.rank(end_keys)
    shape = (len(keys) + 1, lives.n_groups)
    came = np.bincount(since * lives.n_groups + lives.group, minlength=shape[0] * shape[1])
    went = np.bincount(until * lives.n_groups + lives.group, minlength=shape[0] * shape[1])
    at_risk = np.cumsum((came - went).reshape(shape), axis=0)[:-1].astype(np.float64)
    total = at_risk.sum(axis=1)
    observed = lives.totals(lives.failed)
    expected = (failures / total) @ at_risk
    excess, covariance = observed - expected, _covariance(at_risk, failures.astype(np.float64), total)
    chi_squared, degrees = _statistic(excess, covariance)
    variance = np.diag(covariance)
    alone = np.divide(excess**2, variance, out=np.full(lives.n_groups, np.nan), where=variance > 1e-10)
    rows = pl.DataFrame(
        {
            "group": np.arange(lives.n_groups),
            "lives": lives.totals(),
            "observed": observed,
            "expected": expected,
            "p": nullable(chdtrc(1, alone)),
        }
    )
    return LogRank(rows, chi_squared, degrees, float(chdtrc(degrees, chi_squared)) if degrees else None)


def _covariance(at_risk: FloatArray, failures: FloatArray, total: FloatArray) -> FloatArray:
    """Hypergeometric covariance of the groups' failures, summed over the times of failure."""
    spread = failures * (total - failures) / np.maximum(total - 1, 1)
    covariance: FloatArray = np.diag((spread / total) @ at_risk)
    return covariance - (at_risk * (spread / total**2)[:, None]).T @ at_risk


def _statistic(excess: FloatArray, covariance: FloatArray) -> tuple[float, int]:
    """Quadratic form of the excess failures in the inverse of their covariance, and its rank."""
    values, vectors = np.linalg.eigh(covariance)
    kept = values > 1e-10 * max(float(values.max(initial=0.0)), 1e-300)
    along = vectors[:, kept].T @ excess
    return float(np.sum(along**2 / values[kept])), int(kept.sum())


def difference_at(curve: KaplanMeier, times: npt.ArrayLike, *, group: int = 0, other: int = 1) -> pl.DataFrame:
    """Share failed by each age in `group` less that in `other`: time, risk, risk_other, difference, low, high, p.

    Limits put together from those of the two curves (log-log; exact for the lives then at risk where none has failed
    yet), as Newcombe does for shares; p of the difference of log(-log) curves, null where a curve is still at 1 or has
    come to 0. All are null where one of the curves isn't known.
    Newcombe 1998, Statistics in Medicine 17, 873-890; Zou & Donner 2008, the same 27, 1693-1702; p: Klein et al. 2007,
    the same 26, 4505-4519.
    """
    at = curve.at(times)
    mine, theirs = (at.filter(pl.col("group") == number) for number in (group, other))
    (risk, low, high), (risk_other, low_other, high_other) = (_risk(rows, curve.level) for rows in (mine, theirs))
    difference = risk - risk_other
    columns = {
        "risk": risk,
        "risk_other": risk_other,
        "difference": difference,
        "low": difference - np.hypot(risk - low, high_other - risk_other),
        "high": difference + np.hypot(high - risk, risk_other - low_other),
        "p": _p_at(mine, theirs),
    }
    return pl.DataFrame({"time": mine["time"], **{name: nullable(values) for name, values in columns.items()}})


def _risk(rows: pl.DataFrame, level: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Share failed with limits, NaN where it isn't known."""
    survival, low, high = (rows[name].fill_null(np.nan).to_numpy() for name in ("survival", "low", "high"))
    at_risk = rows["at_risk"].to_numpy().astype(np.float64)
    none, all_failed = survival == 1, survival == 0
    most = exact_share(np.zeros(len(at_risk)), at_risk, level)[1]
    # Where all have failed, the curve has no limits: the share can't be told from 1.
    least, greatest = np.where(none, 0.0, 1 - high), np.where(none, most, np.where(all_failed, 1.0, 1 - low))
    return 1 - survival, least, greatest


def _p_at(mine: pl.DataFrame, theirs: pl.DataFrame) -> FloatArray:
    """Two-sided p that two curves are at one height, on the log(-log) scale."""
    place, spread = [], []
    for rows in (mine, theirs):
        survival, se = (rows[name].fill_null(np.nan).to_numpy() for name in ("survival", "se"))
        log_survival = np.log(np.where((survival > 0) & (survival < 1), survival, np.nan))
        place.append(np.log(-log_survival))
        spread.append((se / (survival * log_survival)) ** 2)
    return np.asarray(chdtrc(1, (place[0] - place[1]) ** 2 / (spread[0] + spread[1])))
