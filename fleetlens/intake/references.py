"""Rows that name their vehicle by its registration mark or VIN: given the vehicle's own identifier.

Only an identifier that is no vehicle's own is looked up, by the rules of `values.identity`: a VIN is its vehicle's; a
mark, however it is spaced or written small or large, is the vehicle's that held it on the day. O and 0 are two
characters: which is right can't be known. What stays in doubt stays as it is, and is refused as an unknown vehicle.
"""

import duckdb
import polars as pl

from fleetlens.intake.staging import staged_table
from fleetlens.intake.values.identity import resolve
from fleetlens.intake.values.vins import clean
from fleetlens.store import queries
from fleetlens.vocabulary.tables import Table

__all__ = ["name_vehicles"]

_DATED = {"jobs": "opened_at", "odometer": "read_at"}
_SCHEMA = {"vehicle_id": pl.String, "seen_on": pl.Date}
_VIN = r"^[A-HJ-NPR-Z0-9]{17}$"
_TOLD = 5  # doubts that are told one by one


def name_vehicles(
    connection: duckdb.DuckDBPyConnection, table: Table, parents: pl.DataFrame
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Name the vehicles of the staged rows of `table` by their own identifiers, and those of `parents`.

    `parents`: place and parent of rows refused already. Gives the parents and what there is to tell.
    """
    if table.name not in _DATED:
        return parents, ()
    asked = _unknown(connection, table, parents)
    if asked.is_empty():
        return parents, ()
    asked = asked.with_columns(_answers(queries.inside(connection, "intake/vehicle_marks"), asked))
    found = asked.drop_nulls("vehicle")
    connection.register("named_vehicles", found.to_arrow())
    connection.execute(queries.text(f"intake/name_vehicles_of_{table.name}"))
    connection.unregister("named_vehicles")
    told = found.unique("vehicle_id", keep="first")
    undated = dict(found.filter(pl.col("seen_on").is_null()).select("vehicle_id", "vehicle").iter_rows())
    parents = parents.with_columns(pl.col("parent").replace(undated))
    return parents, (*_counted(told.height, table), *_doubts(asked))


def _unknown(connection: duckdb.DuckDBPyConnection, table: Table, parents: pl.DataFrame) -> pl.DataFrame:
    """The identifiers that are no vehicle's own, each with the days on which it is named; refused rows have none."""
    day = f"cast({_DATED[table.name]} as date) as seen_on"
    staged = connection.table(staged_table(table)).join(connection.table("vehicles"), "vehicle_id", how="anti")
    lost: pl.DataFrame = staged.project(f"vehicle_id, {day}").distinct().pl()
    refused = parents.select(vehicle_id="parent").unique().drop_nulls()
    known = connection.table("vehicles").project("vehicle_id").pl()
    undated = refused.join(known, on="vehicle_id", how="anti").with_columns(seen_on=pl.lit(None, pl.Date))
    both = pl.concat([lost.cast(_SCHEMA), undated.cast(_SCHEMA)])  # type: ignore[arg-type]
    return both.sort("vehicle_id", "seen_on")


def _answers(marks: pl.DataFrame, asked: pl.DataFrame) -> list[pl.Series]:
    """The vehicle of each identifier that is asked for, or why there is a doubt."""
    vin = clean(asked["vehicle_id"]).values
    is_vin = vin.str.contains(_VIN).fill_null(False)
    mentions = pl.DataFrame(
        {
            "vin": vin.set(~is_vin, None),
            "fleet_number": pl.Series([None] * asked.height, dtype=pl.String),
            "registration": asked["vehicle_id"].set(is_vin, None),
            "seen_on": asked["seen_on"],
        }
    )
    answers = resolve(pl.concat([marks, mentions])).vehicles.tail(asked.height)
    own = answers["vehicle"].is_in(marks["fleet_number"].implode())
    return [answers["vehicle"].set(~own, None).alias("vehicle"), answers["why"].alias("why")]


def _counted(found: int, table: Table) -> tuple[str, ...]:
    if not found:
        return ()
    what = "1 vehicle is" if found == 1 else f"{found:,} vehicles are"
    return (f"{what} named in {table.name} by a registration mark or VIN, in one spelling or another",)


def _doubts(asked: pl.DataFrame) -> tuple[str, ...]:
    doubtful = asked.drop_nulls("why").unique("vehicle_id", keep="first", maintain_order=True)
    shown = doubtful.select("vehicle_id", "why").head(_TOLD).iter_rows()
    more = (f"{doubtful.height - _TOLD:,} more are in doubt",) if doubtful.height > _TOLD else ()
    return (*(f"vehicle {name!r}: {why}" for name, why in shown), *more)
