"""Which odometer readings of a vehicle can be true together."""

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.store import merge, queries

__all__ = ["MAX_KM_PER_DAY", "judge", "store_readings"]

MAX_KM_PER_DAY = (
    2_000.0  # for each day begun between two readings: two drivers on a motorway round the clock stay below it
)
_DAY = 86_400_000_000  # microseconds


def store_readings(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill the table `readings` anew from vehicles, jobs and odometer, each reading judged."""
    merge.empty(connection, "readings")
    merge.append(connection, "readings", judge(queries.inside(connection, "intake/readings")))


def judge(readings: pl.DataFrame) -> pl.DataFrame:
    """The readings with `good` and `why`, in the order of vehicle, time and distance.

    `readings`: vehicle_key, read_at, km, source, job_key. Kept is, for each vehicle, the longest chain of readings
    in which the distance never falls and no step is longer than MAX_KM_PER_DAY for each day begun; of several
    longest chains the one with the least distance at its end, then the one whose distances are least, compared
    from the first on. `why` is null where `good`. The unit is the odometer's own: hours of a generator do as well.
    """
    rows = readings.sort("vehicle_key", "read_at", "km", "source", "job_key", nulls_last=True).with_row_index("place")
    vehicle, at, km = pl.col("vehicle_key"), pl.col("read_at").dt.timestamp("us"), pl.col("km")
    days, step = (at - at.shift(1)) // _DAY + 1, km - km.shift(1)
    impossible = (vehicle == vehicle.shift(1)) & ((step < 0) | (step > MAX_KM_PER_DAY * days))
    # Most vehicles have no impossible step at all, and need no search.
    doubtful = rows.join(rows.filter(impossible), on="vehicle_key", how="semi", maintain_order="left")
    good = np.ones(rows.height, dtype=bool)
    for group in doubtful.partition_by("vehicle_key", maintain_order=True):
        chain = longest_chain(group["read_at"].dt.timestamp("us").to_numpy(), group["km"].to_numpy())
        good[group["place"].to_numpy()] = chain
    judged = rows.with_columns(good=pl.Series(good, dtype=pl.Boolean))
    return judged.join(_reasons(judged), on="place", how="left", maintain_order="left").drop("place")


def longest_chain(at: npt.NDArray[np.int64], km: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    """Which readings of one vehicle, ordered by time and distance, make its longest possible chain; see `judge`.

    Worked from the end to the beginning: for each reading the longest chain that starts there, and the next
    reading of it. Quadratic in the readings of the vehicle.
    """
    count = at.size
    length = np.ones(count, dtype=np.int64)
    end = km.copy()  # distance at the end of the best chain from here
    onward = np.full(count, -1)
    for here in range(count - 1, -1, -1):
        later = np.arange(here + 1, count)
        step = km[later] - km[here]
        days = (at[later] - at[here]) // _DAY + 1
        possible = later[(step >= 0) & (step <= MAX_KM_PER_DAY * days)]
        if possible.size:
            best = _best(possible, length, end, km)
            onward[here], length[here], end[here] = best, length[best] + 1, end[best]
    kept = np.zeros(count, dtype=bool)
    here = _best(np.arange(count), length, end, km) if count else -1
    while here >= 0:
        kept[here] = True
        here = onward[here]
    return kept


def _best(
    among: npt.NDArray[np.int64],
    length: npt.NDArray[np.int64],
    end: npt.NDArray[np.float64],
    km: npt.NDArray[np.float64],
) -> int:
    """Of the readings `among`, the one whose chain is longest, then ends lowest, then begins lowest.

    Two readings of one distance never tie: the earlier one can go on to the later, so its chain is longer.
    """
    longest = among[length[among] == length[among].max()]
    lowest = longest[end[longest] == end[longest].min()]
    return int(lowest[np.argmin(km[lowest])])


def _reasons(rows: pl.DataFrame) -> pl.DataFrame:
    """`place` and `why` of the readings set aside; the sentence names the good readings around each."""
    bad = rows.filter(~pl.col("good"))
    rows = rows.join(bad, on="vehicle_key", how="semi", maintain_order="left")
    told = pl.format("{} km on {}", pl.col("km").round(0).cast(pl.Int64), pl.col("read_at").dt.date())
    around = pl.when("good").then(told)
    rows = rows.with_columns(
        before=around.forward_fill().over("vehicle_key"), after=around.backward_fill().over("vehicle_key"), told=told
    )
    where = (
        pl.when(pl.col("before").is_null())
        .then(pl.format("before {}", "after"))
        .when(pl.col("after").is_null())
        .then(pl.format("after {}", "before"))
        .otherwise(pl.format("between {} and {}", "before", "after"))
    )
    why = pl.format("contradicts the readings around it: {}, {}", "told", where)
    return rows.filter(~pl.col("good")).select("place", why=why)
