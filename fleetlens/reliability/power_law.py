"""The rate of repairs of a unit as it ages: the power law, with intervals, for all groups at once."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import chdtri, ndtri

from fleetlens.reliability.counting import nullable
from fleetlens.reliability.histories import Histories, histories
from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray
from fleetlens.reliability.weibull import FITTED, WeibullFit, fit

__all__ = ["PowerLaw", "power_law"]


@dataclass(frozen=True, slots=True, eq=False)
class PowerLaw:
    """Expected events of a unit by age t: (t / scale)^shape; above 1 they come ever more often.

    `rows`: a row per group: group, units, events, shape, shape_low, shape_high, limits ("exact" where all units were
    seen from age 0 to one and the same end, else "likelihood"), shape_unbiased (null unless exact), scale, scale_low,
    scale_high (profile likelihood), until (greatest age observed), rate, rate_low, rate_high (events per unit of age
    of one unit at that age; limits from the covariance of the logarithms), outcome as of `weibull.fit`.
    """

    rows: pl.DataFrame
    level: float
    _fit: WeibullFit = field(repr=False)

    def expected(self, ages: npt.ArrayLike) -> pl.DataFrame:
        """Expected events of one unit by each of `ages`, a row per group and age: group, age, expected."""
        asked = np.atleast_1d(np.asarray(ages, dtype=np.float64))
        grid = self.rows.select("group", "shape", "scale").join(pl.DataFrame({"age": asked}), how="cross")
        return grid.select("group", "age", expected=(pl.col("age") / pl.col("scale")) ** pl.col("shape"))


def power_law(
    unit: npt.ArrayLike,
    time: npt.ArrayLike,
    start: npt.ArrayLike | None,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    ended_by_event: npt.ArrayLike = False,
    n_groups: int | None = None,
    level: float = 0.95,
) -> PowerLaw:
    """Fit the power law to the histories of each group by maximum likelihood; arguments as of `trend_tests`.

    All units of a group share shape and scale, and a repair leaves the unit as old as it was. Each stretch between
    two events then counts as a Weibull life that enters at the event before, which is how it is fitted. An event of a
    unit at one and the same age as its event before can't be told from that one and is moved by a billionth of it.
    Raises FleetlensError as `histories` does.

    Crow 1974, in Proschan & Serfling (eds), Reliability and Biometry, 379-410; MIL-HDBK-189, 1981, appendix C; limits
    of the shape: 2 n shape / estimate is chi-squared on 2 n degrees of freedom, 2 (n - 1) where the n-th event ends
    observation (Bain & Engelhardt 1991, Statistical Analysis of Reliability and Life-Testing Models, chapter 9).
    """
    known = histories(unit, time, start, end, group, ended_by_event=ended_by_event, n_groups=n_groups)
    stretches = _stretches(known)
    fitted = fit(*stretches[:3], group=stretches[3], n_groups=known.n_groups, level=level)
    own = fitted.rows.select("shape", "shape_low", "shape_high", "scale", "scale_low", "scale_high", "outcome")
    shape, scale = (own[name].fill_null(np.nan).to_numpy().copy() for name in ("shape", "scale"))
    until = np.full(known.n_groups, np.nan)
    np.fmax.at(until, known.group, known.end)
    exact = _exact(known) & (own["outcome"] == FITTED).to_numpy()
    events, ended = known.per_group(), known.per_group(known.last.astype(np.float64))
    # There the maximum has a closed form, good to the last digit.
    shape[exact] = events[exact] / known.per_group(np.log(known.end[known.owner] / known.time))[exact]
    units = np.bincount(known.group, minlength=known.n_groups)
    scale[exact] = (until * (units / np.maximum(events, 1)) ** (1 / shape))[exact]
    tail, free = (1 - level) / 2, np.maximum(events - ended, 1)
    over = np.where(exact, shape / (2 * np.maximum(events, 1)), np.nan)
    z, rate, spread = ndtri(0.5 + level / 2), shape / until * (until / scale) ** shape, _spread_of_rate(fitted, until)
    columns = {
        "shape": shape,
        "shape_low": np.where(exact, over * chdtri(2 * free, 1 - tail), own["shape_low"].fill_null(np.nan)),
        "shape_high": np.where(exact, over * chdtri(2 * free, tail), own["shape_high"].fill_null(np.nan)),
        "shape_unbiased": np.where(exact, shape * (events - ended - 1) / np.maximum(events, 1), np.nan),
        "scale": scale,
        **{name: own[name].fill_null(np.nan).to_numpy() for name in ("scale_low", "scale_high")},
        "until": until,
        "rate": rate,
        "rate_low": rate * np.exp(-z * spread),
        "rate_high": rate * np.exp(z * spread),
    }
    rows = pl.DataFrame(
        {
            "group": np.arange(known.n_groups),
            "units": units,
            "events": events.astype(np.int64),
            **{name: nullable(values) for name, values in columns.items()},
            "outcome": own["outcome"],
        }
    )
    names = pl.when(pl.Series(exact)).then(pl.lit("exact")).otherwise(pl.lit("likelihood"))
    shown = pl.when(pl.col("outcome") == FITTED).then(names)
    place = rows.columns.index("shape_high") + 1
    ordered = [*rows.columns[:place], "limits", *rows.columns[place:]]
    return PowerLaw(rows.with_columns(limits=shown).select(ordered), level, fitted)


def _stretches(known: Histories) -> tuple[FloatArray, BoolArray, FloatArray, IntArray]:
    """End, whether an event ended it, entry and group of each stretch between events of a unit."""
    order = np.lexsort((known.time, known.owner))
    owner, time = known.owner[order], known.time[order]
    first = np.append(True, owner[1:] != owner[:-1]) if len(owner) else np.empty(0, dtype=np.bool_)
    entry = np.where(first, known.start[owner], np.append(0.0, time[:-1])[: len(time)])
    # A life must last: of events at one age the later ones begin a billionth earlier.
    entry = np.where(entry >= time, time * (1 - 1e-9), entry)
    latest = known.start.copy()
    np.maximum.at(latest, owner, time)
    rest = np.flatnonzero(latest < known.end)
    failed = np.repeat([True, False], [len(time), len(rest)])
    return (
        np.concatenate((time, known.end[rest])),
        failed,
        np.concatenate((entry, latest[rest])),
        known.group[np.concatenate((owner, rest))],
    )


def _exact(known: Histories) -> BoolArray:
    """Groups all of whose units were seen from age 0 to one and the same end; those ended by an event, one unit."""
    least, greatest = np.full(known.n_groups, np.inf), np.zeros(known.n_groups)
    np.minimum.at(least, known.group, known.end)
    np.maximum.at(greatest, known.group, known.end)
    late = np.bincount(known.group, known.start > 0, minlength=known.n_groups) > 0
    units = np.bincount(known.group, minlength=known.n_groups)
    ended = known.per_group(known.last.astype(np.float64))
    counted = known.per_group() - ended > 0
    return np.asarray((least == greatest) & ~late & counted & ((ended == 0) | (units == 1)))


def _spread_of_rate(fitted: WeibullFit, until: FloatArray) -> FloatArray:
    """Standard error of the log of the rate at the age `until`."""
    names = ("shape", "scale", "var_log_shape", "var_log_scale", "cov_log")
    shape, scale, var_shape, var_scale, crossed = (fitted.rows[name].fill_null(np.nan).to_numpy() for name in names)
    by_shape = 1 + shape * np.log(until / scale)
    return np.asarray(np.sqrt(by_shape**2 * var_shape - 2 * by_shape * shape * crossed + shape**2 * var_scale))
