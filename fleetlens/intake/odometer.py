"""Which odometer readings of a vehicle can be true together, and what the others may have meant."""

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.intake.instruments import explain
from fleetlens.intake.stories import DAY, MAX_KM_PER_DAY
from fleetlens.store import merge, queries

__all__ = ["APPLY", "PROPOSALS", "PROPOSE", "judge", "store_readings"]

PROPOSALS = "odometer_proposals"  # the setting of the store: are proposed distances only listed, or used?
PROPOSE, APPLY = "propose", "apply"
TOGETHER = 500_000  # readings judged at a time, so that memory stays bounded


def store_readings(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill the table `readings` anew from vehicles, jobs and odometer, each judged as the store's settings say."""
    merge.empty(connection, "readings")
    settings = dict(connection.table("settings").fetchall())
    apply = settings.get(PROPOSALS, PROPOSE) == APPLY
    for first, last in queries.inside(connection, "intake/reading_ranges", most=TOGETHER).iter_rows():
        readings = queries.inside(connection, "intake/readings", first_key=first, last_key=last)
        merge.append(connection, "readings", judge(readings, apply=apply))


def judge(readings: pl.DataFrame, *, apply: bool = False) -> pl.DataFrame:
    """The readings with what each counts as, in the order of vehicle, time and distance.

    `readings`: vehicle_key, read_at, km, source, job_key. Added are good (is it used), why (null where used as read),
    raw_km (as read), proposed_km, kind and segment; km is the distance used. The rule:

    1. A vehicle whose readings never fall, and never run more than MAX_KM_PER_DAY for each day begun, is left alone.
    2. Else the cheapest story of its readings is told, see `fleetlens.intake.stories.story`. In short: as few readings
       as can be are set aside, and the odometer starts anew only where that saves three readings or more. A wrong run
       between two readings that go on as ever counts as one mistake, so it is no new instrument. (A single reading
       is set aside beforehand where two before it and two after it go on without it.)
    3. A segment after (or before) a break is another instrument: of at least 3 readings over at least 30 days that
       rise. It runs on from the segment before at that one's own rate, over its last 90 days or the next longer span;
       or exactly by 100,000 or 1,000,000 (km or miles) where it goes on past a full odometer that was nearly reached.
       Raw and used km are kept.
    4. A segment or run that goes on once multiplied or divided by 1.609344 or 10 is none: it is the same instrument in
       another unit, or with tenths run in or a digit lost. The greater number of readings stands; of equally many the
       earlier segment, else as `story` says.
    5. A reading set aside has a proposed distance where it fits between its neighbours so multiplied or divided; with
       one neighbour only, where it runs on from that at no more than twice the vehicle's own pace.
       Proposals are used only with `apply`; the reading is then good, of the kind corrected.
    6. Kinds: as read, runs on, corrected; of those not used unit, tenths (or a last digit lost), filler (0, 1, 123456
       or 999999), typo (between others; whatever its cause), unsettled (before or after all others: too few to tell a
       typo from a new instrument).

    A reading that contradicts none counts as it stands, even where it looks copied or odd. The unit is the odometer's
    own: hours of a generator do as well. What a contradiction comes from is never said. Source of the rule: our own.
    """
    rows = readings.sort("vehicle_key", "read_at", "km", "source", "job_key", nulls_last=True).with_row_index("place")
    vehicle, at, km = pl.col("vehicle_key"), pl.col("read_at").dt.timestamp("us"), pl.col("km")
    days, step = (at - at.shift(1)) // DAY + 1, km - km.shift(1)
    impossible = (vehicle == vehicle.shift(1)) & ((step < 0) | (step > MAX_KM_PER_DAY * days))
    # Most vehicles have no impossible step at all, and need no search.
    doubtful = rows.join(rows.filter(impossible), on="vehicle_key", how="semi", maintain_order="left")
    judged = rows.join(_explained(doubtful, apply=apply), on="place", how="left", maintain_order="left").with_columns(
        pl.col("good").fill_null(True),
        pl.col("kind").fill_null("as read"),
        pl.col("segment").fill_null(1).cast(pl.Int32),
        raw_km="km",
        km=pl.coalesce("used", "km"),
    )
    return judged.join(_reasons(judged), on="place", how="left", maintain_order="left").select(
        "vehicle_key", "read_at", "km", "source", "job_key", "good", "why", "raw_km", "proposed_km", "kind", "segment"
    )


def _explained(doubtful: pl.DataFrame, *, apply: bool) -> pl.DataFrame:
    """Of each reading, by `place`: good, kind, segment, used (the distance) and proposed_km; vehicle by vehicle."""
    at, km = doubtful["read_at"].dt.timestamp("us").to_numpy(), doubtful["km"].to_numpy()
    ends = doubtful.group_by("vehicle_key", maintain_order=True).len()["len"].cum_sum().to_list()
    told = [explain(at[here], km[here], apply=apply) for here in map(slice, [0, *ends[:-1]], ends)]
    nothing: list[npt.NDArray[np.float64]] = [np.empty(0)]
    return pl.DataFrame(
        {
            "place": doubtful["place"],
            "good": pl.Series(np.concatenate([one.good for one in told] or nothing), dtype=pl.Boolean),
            "kind": pl.Series([kind for one in told for kind in one.kind], dtype=pl.String),
            "segment": pl.Series(np.concatenate([one.segment for one in told] or nothing), dtype=pl.Int64),
            "used": pl.Series(np.concatenate([one.km for one in told] or nothing)),
            "proposed_km": pl.Series(np.concatenate([one.proposed for one in told] or nothing)).fill_nan(None),
        }
    )


def _reasons(rows: pl.DataFrame) -> pl.DataFrame:
    """`place` and `why` of the readings not used as read; the sentence names the good readings around each."""
    touched = rows.filter(pl.col("kind") != "as read")
    rows = rows.join(touched, on="vehicle_key", how="semi", maintain_order="left")
    reading = pl.format("{} km on {}", pl.col("raw_km").round(0).cast(pl.Int64), pl.col("read_at").dt.date())
    standing = pl.when("good").then("told")
    rows = rows.with_columns(told=reading).with_columns(
        before=standing.forward_fill().over("vehicle_key"),
        after=standing.backward_fill().over("vehicle_key"),
        last=pl.when("good").then("told").shift(1).forward_fill().over("vehicle_key"),
    )
    # The last reading of the segment before, for every reading of a segment that runs on.
    joins = rows.filter("good").group_by("vehicle_key", "segment").agg(join=pl.col("last").first())
    rows = rows.join(joins, on=["vehicle_key", "segment"], how="left", maintain_order="left")
    where = (
        pl.when(pl.col("before").is_null())
        .then(pl.format("before {}", "after"))
        .when(pl.col("after").is_null())
        .then(pl.format("after {}", "before"))
        .otherwise(pl.format("between {} and {}", "before", "after"))
    )
    meant = pl.format("; would fit as {} km", pl.col("proposed_km").round(0).cast(pl.Int64)).fill_null("")
    used = pl.col("km").round(0).cast(pl.Int64)
    why = (
        pl.when(kind="runs on")
        .then(pl.format("another instrument, runs on from {}: {} used as {} km", "join", "told", used))
        .when(kind="corrected")
        .then(pl.format("contradicts the readings around it as read: {} used as {} km", "told", used))
        .otherwise(pl.format("contradicts the readings around it: {}, {}{}", "told", where, meant))
    )
    return rows.filter(pl.col("kind") != "as read").select("place", why=why)
