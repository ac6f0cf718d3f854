"""One vehicle under several identities: joined by VIN, then fleet number, then registration with dates.

A mention with a VIN is that VIN's vehicle; without one, its fleet number's; with neither, it is the vehicle that held
the registration on that date. A mark belongs to a vehicle from the first to the last date on which both are named
together, and beyond that as far as no other vehicle comes into question: before the first holder and after the last.
Reported and not resolved: a VIN under two fleet numbers, a fleet number on two VINs, a mark on two vehicles at a
time, and mentions that fall into such a doubt or between two holders; they have no vehicle.
"""

from dataclasses import dataclass

import polars as pl

from fleetlens.intake.values.registrations import key

__all__ = ["Identities", "resolve"]

_CONTRADICTION = pl.Schema(
    [("kind", pl.String()), ("value", pl.String()), ("vehicles", pl.List(pl.String)), ("reason", pl.String())]
)


@dataclass(frozen=True, slots=True)
class Identities:
    """`vehicles`: one row a mention, in the order given: vehicle (null: in doubt, or no identity) and why (in words).

    A vehicle is called by its fleet number where it has one and that is no other's; else by its VIN, else by its
    registration's key. `contradictions`: kind, value (the VIN, fleet number or mark), vehicles, reason.
    """

    vehicles: pl.DataFrame
    contradictions: pl.DataFrame


def resolve(mentions: pl.DataFrame) -> Identities:
    """The vehicle of each mention. `mentions` has the columns vin, fleet_number, registration (texts) and seen_on."""
    rows = mentions.select(
        pl.col("vin").cast(pl.String).str.strip_chars().str.to_uppercase().replace("", None),
        pl.col("fleet_number").cast(pl.String).str.strip_chars().replace("", None),
        pl.col("registration").cast(pl.String).map_batches(key, return_dtype=pl.String),
        pl.col("seen_on").cast(pl.Date),
    ).with_row_index("place")
    pairs = rows.select("vin", "fleet_number").drop_nulls().unique()
    vin_twice = _twice(pairs, "vin", "fleet_number")
    number_twice = _twice(pairs, "fleet_number", "vin")
    single = pairs.join(number_twice, on="fleet_number", how="anti")
    named = single.join(vin_twice, on="vin", how="anti")
    rows = (
        rows.join(single.rename({"vin": "vin_of_number"}), on="fleet_number", how="left")
        .join(number_twice.select("fleet_number", doubtful=pl.lit(True)), on="fleet_number", how="left")
        .with_columns(known_vin=pl.coalesce("vin", "vin_of_number"))
        .join(named.rename({"fleet_number": "own_number", "vin": "known_vin"}), on="known_vin", how="left")
    )
    doubtful = pl.col("doubtful").fill_null(False) & pl.col("vin").is_null()
    firm = pl.coalesce("own_number", "known_vin", pl.when(~doubtful).then("fleet_number"))
    rows = rows.with_columns(firm=firm, doubtful=doubtful)
    held = _held(rows)
    marks = rows.filter(pl.col("firm").is_null() & ~pl.col("doubtful") & pl.col("registration").is_not_null())
    by_mark = _by_mark(marks.select("place", "registration", "seen_on"), held)
    found = rows.join(by_mark, on="place", how="left").sort("place")
    why = (
        pl.when("doubtful")
        .then(pl.lit("the fleet number goes with several VINs: give the VIN"))
        .when(pl.col("firm").is_null() & pl.col("by_mark").is_null() & pl.col("registration").is_null())
        .then(pl.lit("no VIN, fleet number or registration"))
        .when(pl.col("firm").is_null())
        .then("doubt")
    )
    return Identities(
        vehicles=found.select(vehicle=pl.coalesce("firm", "by_mark"), why=why),
        contradictions=pl.concat(
            [
                _told(vin_twice, "vin", "two_fleet_numbers", "one VIN under several fleet numbers: {}"),
                _told(number_twice, "fleet_number", "two_vins", "one fleet number on several VINs: {}"),
                _overlaps(held),
            ]
        ),
    )


def _twice(pairs: pl.DataFrame, one: str, many: str) -> pl.DataFrame:
    """Values of `one` that go with several of `many`, which are listed as vehicles."""
    return pairs.group_by(one).agg(vehicles=pl.col(many).sort()).filter(pl.col("vehicles").list.len() > 1).sort(one)


def _told(twice: pl.DataFrame, column: str, kind: str, sentence: str) -> pl.DataFrame:
    reason = pl.format(sentence, pl.col("vehicles").list.join(", "))
    return twice.select(kind=pl.lit(kind), value=pl.col(column), vehicles="vehicles", reason=reason).cast(
        _CONTRADICTION
    )


def _held(rows: pl.DataFrame) -> pl.DataFrame:
    """Which vehicle was seen with which mark, and from when to when (null: never dated)."""
    return (
        rows.filter(pl.col("firm").is_not_null() & pl.col("registration").is_not_null())
        .group_by("registration", holder="firm")
        .agg(first=pl.col("seen_on").min(), last=pl.col("seen_on").max())
        .sort("registration", "first", "holder")
    )


def _overlaps(held: pl.DataFrame) -> pl.DataFrame:
    """Marks that two vehicles held at one time; a vehicle never dated may have held it at any time."""
    both = held.join(held, on="registration", suffix="_2").filter(pl.col("holder") < pl.col("holder_2"))
    undated = pl.col("first").is_null() | pl.col("first_2").is_null()
    meets = (pl.col("first") <= pl.col("last_2")) & (pl.col("first_2") <= pl.col("last"))
    found = both.filter(undated | meets).sort("registration", "holder", "holder_2")
    dates = pl.format("{} and {} both have the mark", "holder", "holder_2") + pl.when(undated).then(
        pl.lit(", and no date tells which had it when")
    ).otherwise(
        pl.format(" between {} and {}", pl.max_horizontal("first", "first_2"), pl.min_horizontal("last", "last_2"))
    )
    return found.select(
        kind=pl.lit("two_vehicles_at_a_time"),
        value=pl.col("registration"),
        vehicles=pl.concat_list("holder", "holder_2"),
        reason=dates,
    ).cast(_CONTRADICTION)


def _by_mark(mentions: pl.DataFrame, held: pl.DataFrame) -> pl.DataFrame:
    """The vehicle of each mention by mark and date, or the doubt: columns place, by_mark, doubt."""
    holders = mentions.join(held, on="registration", how="left")
    on, first, last = pl.col("seen_on"), pl.col("first"), pl.col("last")
    possible = (
        holders.with_columns(
            inside=on.is_between(first, last).fill_null(False),
            undated=(pl.col("holder").is_not_null() & first.is_null()),
        )
        .group_by("place", "registration")
        .agg(
            holders=pl.col("holder").drop_nulls().sort(),
            inside=pl.col("holder").filter("inside"),
            undated=pl.col("undated").any(),
            before=pl.col("holder").filter(last < on).sort_by(last.filter(last < on)),
            after=pl.col("holder").filter(first > on).sort_by(first.filter(first > on)),
        )
    )
    count = pl.col("holders").list.len()
    sides = pl.col("before").list.len(), pl.col("after").list.len()
    one = (
        pl.when(count == 0)
        .then("registration")
        .when(count == 1)
        .then(pl.col("holders").list.first())
        .when("undated")
        .then(None)
        .when(pl.col("inside").list.len() == 1)
        .then(pl.col("inside").list.first())
        .when(pl.col("inside").list.len() > 1)
        .then(None)
        .when((sides[1] == 0) & (sides[0] > 0))
        .then(pl.col("before").list.last())
        .when((sides[0] == 0) & (sides[1] > 0))
        .then(pl.col("after").list.first())
    )
    told = pl.format("on that date the mark may belong to any of {}", pl.col("holders").list.join(", "))
    return possible.select("place", by_mark=one, doubt=pl.when(one.is_null()).then(told))
