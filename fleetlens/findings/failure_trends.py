"""Whether a component fails ever more often on a vehicle as that runs: trend tests and the power law."""

from collections.abc import Sequence

import polars as pl

from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.vehicle_failures import VEHICLE_KEYS, answer, histories
from fleetlens.reliability.power_law import power_law
from fleetlens.reliability.trend_tests import trend_tests
from fleetlens.store.reader import Snapshot

__all__ = ["failure_trends"]

PER_KM = 100_000
FEW_FAILURES = 6  # common practice, no source
TOO_FEW = f"fewer than {FEW_FAILURES} failures, can't tell"
SURE = 0.05


def failure_trends(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    *,
    by: Sequence[str] = (),
) -> Finding:
    """Whether failures come ever more often on a vehicle as it runs, a row for each component and group of `by`.

    `trend` reads the MIL-HDBK-189 test at 5 %; Laplace's stands beside it. `growth` is the power law's shape: above 1
    the failures of a vehicle come ever more often; `rate_now` the failures per 100,000 km of a vehicle at the greatest
    distance observed. Raises FleetlensError as recurrent_failures does. Sources: fleetlens.reliability.trend_tests and
    power_law.
    """
    keys = chosen(by, VEHICLE_KEYS)
    known = histories(snapshot, component, keys, filters)
    given = (*known.events, *known.spans, known.group)
    tests = trend_tests(*given, n_groups=known.groups.height)
    law = power_law(*given, n_groups=known.groups.height).rows
    few = law["events"] < FEW_FAILURES
    rows = known.groups.with_columns(
        vehicles=law["units"],
        failures=law["events"],
        laplace=tests["laplace"],
        laplace_p=tests["laplace_p"],
        trend_p=tests["p"],
        growth=law["shape"],
        growth_low=law["shape_low"],
        growth_high=law["shape_high"],
        until_km=law["until"],
        rate_now=law["rate"] * PER_KM,
        rate_now_low=law["rate_low"] * PER_KM,
        rate_now_high=law["rate_high"] * PER_KM,
        trend=pl.select(pl.when(few).then(pl.lit(TOO_FEW)).otherwise(tests["reading"])).to_series(),
    )
    return answer(
        snapshot,
        known,
        filters,
        question="trend of failures",
        rows=rows,
        method=(
            "Vehicles as repairable systems by odometer, each observed between the odometers of its record. Tests "
            "of Laplace and of MIL-HDBK-189 against failures spread evenly over each vehicle's own distance; the power "
            "law by maximum likelihood with 95 % limits (Crow 1974), which looks at vehicles of different age too."
        ),
        notes=tuple(_disagreeing(rows, keys)),
    )


def _disagreeing(rows: pl.DataFrame, keys: list[str]) -> list[str]:
    """Groups in which the two tests disagree, which failures in clusters or a trend up and down can make."""
    sure = pl.col("trend_p") < SURE
    apart = rows.filter((sure != (pl.col("laplace_p") < SURE)) & (pl.col("failures") >= FEW_FAILURES))
    if apart.is_empty():
        return []
    told = "; ".join(named(row, ["component", *keys]) for row in apart.iter_rows(named=True))
    return [f"The two tests disagree, so don't build on the trend: {told}."]
