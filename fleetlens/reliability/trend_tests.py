"""Do repairs of a unit come ever more often? Two tests of a constant rate."""

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import chdtr, chdtrc, ndtr

from fleetlens.reliability.counting import nullable
from fleetlens.reliability.histories import histories

__all__ = ["BETTER", "NONE", "WORSE", "trend_tests"]

WORSE, BETTER, NONE = "getting worse", "getting better", "no trend shown"


def trend_tests(
    unit: npt.ArrayLike,
    time: npt.ArrayLike,
    start: npt.ArrayLike | None,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    ended_by_event: npt.ArrayLike = False,
    n_groups: int | None = None,
    level: float = 0.95,
) -> pl.DataFrame:
    """Laplace's and the MIL-HDBK-189 test of the units of each group together, a row per group.

    `unit` and `time`: one event an index, `unit` being the index into `start`, `end` and `group`, which have one unit
    an index; ages in one unit. `start` None: from age 0. `ended_by_event`: units whose record ends at their last event
    because of it (one for all or one a unit); where a record ends by itself its end must be given, not the last event.

    Columns: group, units, events (those that count: not the ones that ended a record), laplace (normal, above 0 where
    events come late), laplace_p, chi_squared on degrees (2 x sum of log((end - start) / (time - start)); small where
    events come late), p, both two-sided, and reading, by the latter at `level`: "getting worse", "getting better", "no
    trend shown". Null without an event that counts.
    Each unit is compared with its own even spread, given its number of events: units may differ in rate, and the age
    at which a record starts may too. Both take the events of a unit as Poisson; events in clusters make p too small.
    Raises FleetlensError as `histories` does.

    Cox & Lewis 1966, The Statistical Analysis of Series of Events, chapter 3; MIL-HDBK-189, 1981, appendix C; several
    units: Ascher & Feingold 1984, Repairable Systems Reliability, section 5.
    """
    known = histories(unit, time, start, end, group, ended_by_event=ended_by_event, n_groups=n_groups)
    counts = ~known.last
    length = (known.end - known.start)[known.owner]
    passed = known.time - known.start[known.owner]
    events = known.per_group(counts.astype(np.float64))
    some = events > 0
    excess = known.per_group(np.where(counts, passed - length / 2, 0.0))
    variance = known.per_group(np.where(counts, length**2 / 12, 0.0))
    laplace = np.where(some, excess / np.sqrt(np.where(some, variance, 1.0)), np.nan)
    chi_squared = np.where(some, 2 * known.per_group(np.where(counts, np.log(length / passed), 0.0)), np.nan)
    degrees = 2 * events
    late, early = chdtr(degrees, chi_squared), chdtrc(degrees, chi_squared)
    p = np.minimum(1.0, 2 * np.minimum(late, early))
    shown = pl.when(pl.col("p") >= 1 - level).then(pl.lit(NONE))
    columns = {
        "laplace": laplace,
        "laplace_p": 2 * ndtr(-np.abs(laplace)),
        "chi_squared": chi_squared,
        "degrees": np.where(some, degrees, np.nan),
        "p": np.where(some, p, np.nan),
    }
    return pl.DataFrame(
        {
            "group": np.arange(known.n_groups),
            "units": np.bincount(known.group, minlength=known.n_groups),
            "events": events.astype(np.int64),
            **{name: nullable(values) for name, values in columns.items()},
        }
    ).with_columns(
        pl.col("degrees").cast(pl.Int64),
        reading=pl.when(pl.col("p").is_null())
        .then(None)
        .otherwise(shown.when(pl.col("chi_squared") < pl.col("degrees")).then(pl.lit(WORSE)).otherwise(pl.lit(BETTER))),
    )
