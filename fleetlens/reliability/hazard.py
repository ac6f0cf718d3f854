"""The cumulative hazard: failures a life would have had by an age if each were mended as if nothing had been."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.reliability.counting import nullable, running, sweep
from fleetlens.reliability.lives import check

__all__ = ["CumulativeHazard", "nelson_aalen"]


@dataclass(frozen=True, slots=True, eq=False)
class CumulativeHazard:
    """`steps`: a row per group and distinct failure time: group, time, at_risk, failures, hazard, se, low, high.

    Straight against age: the hazard is constant; bent upwards: wear-out; downwards: early failures.
    """

    steps: pl.DataFrame
    level: float


def nelson_aalen(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
) -> CumulativeHazard:
    """Cumulative hazards of all groups; ages, entry and ties as for `kaplan_meier`.

    The sum of failures / at risk, with the variance failures / at risk^2 and limits hazard x exp(-/+ z se / hazard).
    Raises FleetlensError as `kaplan_meier` does. Nelson 1972, Technometrics 14, 945-966; Aalen 1978, Annals of
    Statistics 6, 701-726.
    """
    lives = check(end, failed, entry, group, n_groups)
    swept = sweep(lives)
    hazard = running(swept.failures / swept.at_risk, swept.starts)
    se = np.sqrt(running(swept.failures / swept.at_risk**2, swept.starts))
    widen = np.exp(ndtri(0.5 + level / 2) * se / np.where(hazard > 0, hazard, 1.0))
    columns = {"hazard": hazard, "se": se, "low": hazard / widen, "high": hazard * widen}
    steps = pl.DataFrame(
        {
            "group": swept.group,
            "time": swept.time,
            "at_risk": swept.at_risk,
            "failures": swept.failures,
            **{name: nullable(values) for name, values in columns.items()},
        }
    )
    return CumulativeHazard(steps, level)
