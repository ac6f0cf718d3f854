"""Vehicles that a file tells of by the way: given their own identifiers, and completed by what is known of them.

A wide export often knows a vehicle by its registration mark or VIN only. Where the store, or a list in the same load,
holds that vehicle under a fleet number, the row is that vehicle's; else the mark itself names a new one, however it is
spaced or written. A mark that has been several vehicles' tells nothing of any: its jobs find theirs by the day.
"""

import duckdb
import polars as pl

from fleetlens.intake.values.identity import resolve
from fleetlens.intake.values.registrations import key
from fleetlens.intake.values.vins import clean
from fleetlens.store import merge, queries

__all__ = ["completed"]

_VIN = r"^[A-HJ-NPR-Z0-9]{17}$"
_IDENTITIES = ("vin", "fleet_number", "registration", "seen_on")


def completed(connection: duckdb.DuckDBPyConnection, vehicles: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """The rows as they are to be staged, and how many are left out because their mark was several vehicles'.

    What they leave blank is as it is known from elsewhere; what only they tell is given to the rows that this load has
    staged of the same vehicles.
    """
    columns = [name for name in vehicles.columns if name not in ("place", "known", "vehicle_id")]
    named = _named(connection, vehicles)
    told = named.with_columns(pl.col(columns).fill_null(pl.col(columns).drop_nulls().first().over("vehicle_id")))
    first = told.select("vehicle_id", *columns).unique("vehicle_id", keep="first")
    merge.fill(connection, "staged_vehicles", "vehicle_id", first)
    known = queries.inside(connection, "intake/known_vehicles")
    both = told.join(known, on="vehicle_id", how="left", suffix=":known", maintain_order="left")
    whole = both.with_columns(pl.coalesce(name, f"{name}:known").alias(name) for name in columns)
    return whole.select(vehicles.columns), vehicles.height - named.height


def _named(connection: duckdb.DuckDBPyConnection, vehicles: pl.DataFrame) -> pl.DataFrame:
    """The rows under the vehicles' own identifiers, without those whose mark was several vehicles'."""
    asked = _by_mark(connection, vehicles)
    if asked.is_empty():
        return vehicles
    known = queries.inside(connection, "intake/known_vehicles")
    seen = [known.with_columns(seen_on=pl.coalesce("in_service_on", "history_from"))]
    seen.append(known.filter(pl.col("left_service_on").is_not_null()).with_columns(seen_on="left_service_on"))
    marks = pl.concat(seen).rename({"vehicle_id": "fleet_number"}).select(_IDENTITIES)
    mentions = asked.select("vin", "registration").with_columns(
        fleet_number=pl.lit(None, pl.String), seen_on=pl.lit(None, pl.Date)
    )
    found = resolve(pl.concat([marks, mentions.select(_IDENTITIES)])).vehicles.tail(asked.height)
    own = found["vehicle"].is_in(marks["fleet_number"].implode())
    # An answer that is a VIN of several fleet numbers is a doubt too.
    first = pl.col("vehicle_id").first().over(pl.coalesce("vin", pl.col("registration").map_batches(key)))
    answers = asked.with_columns(found).select(
        "vehicle_id",
        own=pl.when(own).then("vehicle").otherwise(first),
        doubt=pl.col("why").is_not_null() | pl.col("vehicle").is_in(marks["vin"].drop_nulls().implode()),
    )
    rows = vehicles.join(answers, on="vehicle_id", how="left", maintain_order="left")
    rows = rows.filter(~pl.col("doubt").fill_null(False))
    # The mark in another spelling is no news of a vehicle.
    renamed = (pl.col("own") != pl.col("vehicle_id")).fill_null(False)
    return rows.with_columns(
        vehicle_id=pl.coalesce("own", "vehicle_id"),
        registration=pl.when(~renamed).then("registration"),
        vin=pl.when(~renamed).then("vin"),
    ).select(vehicles.columns)


def _by_mark(connection: duckdb.DuckDBPyConnection, vehicles: pl.DataFrame) -> pl.DataFrame:
    """The identifiers of the rows that are no known vehicle's and are a mark or VIN: vehicle_id, vin, registration."""
    distinct = vehicles.select("vehicle_id", "vin", "registration").unique(maintain_order=True)
    ids = connection.from_arrow(distinct.select("vehicle_id").unique().to_arrow())
    there = (
        connection.table("vehicles")
        .project("vehicle_id")
        .union(connection.table("staged_vehicles").project("vehicle_id"))
    )
    unknown: pl.DataFrame = ids.join(there, "vehicle_id", how="anti").pl()
    asked = distinct.join(unknown, on="vehicle_id", how="semi", maintain_order="left")
    number = clean(asked["vehicle_id"]).values
    number = number.set(~number.str.contains(_VIN).fill_null(False), None)
    same = key(asked["vehicle_id"]) == key(asked["registration"])
    named = same.fill_null(False) | number.is_not_null()
    mark = asked["registration"].fill_null(asked["vehicle_id"].set(number.is_not_null(), None))
    made = asked.with_columns(vin=clean(asked["vin"]).values.fill_null(number), registration=mark)
    return made.filter(named).unique("vehicle_id", keep="first", maintain_order=True)
