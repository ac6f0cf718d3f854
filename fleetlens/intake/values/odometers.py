"""Odometer readings of an export: digits with a point, and the unit where the cell says one.

An odometer shows tenths at most (common practice, no source), so one mark before three last digits stands between
thousands: 148.220 is read without asking. Repaired: marks of thousands, decimal commas, 148k and 92k mi, words such
as km, mi, odo. Of km and mi in one cell the km are kept if both say the same within 1 %, of km and hours the km.
Taken as blank: fillers, and six or more nines.
Set aside: hours (4512h), negative readings, two readings that contradict each other.
Remarked, and left for the vehicle's own readings to judge: 0, 1, 123456 and the like; a point among few digits
(148.2 may be thousands).
"""

from dataclasses import dataclass

import polars as pl

from fleetlens.intake.values import number_shapes
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.numbers import plain_text, with_affixes
from fleetlens.intake.values.text import plain

__all__ = ["Odometers", "clean"]

_NINES = r"^9{6,}$"
_MAYBE_FILLER = ("0", "1", "12345", "123456", "1234567", "111111")
_TWO = r"^(.*?[0-9].*?)\s*[/|;=(]\s*([^()]*?[0-9][^()]*?)\)?$"
_AGREE = 0.01
_DISTANCE = "distance"


@dataclass(frozen=True, slots=True)
class Odometers:
    """Readings of one column: `cleaned`, and `units` ("km" or "mi" where the cell says so, else null)."""

    cleaned: Cleaned
    units: pl.Series


def clean(texts: pl.Series) -> Odometers:
    """Each reading as digits with a point in its own unit; null where blank, unreadable or set aside."""
    # The unit travels through as the tail of the value, to be cut off again.
    found = by_distinct(texts, _clean)
    unit = found.values.str.extract("(km|mi)$").alias("unit")
    values = found.values.str.strip_suffix("km").str.strip_suffix("mi")
    return Odometers(Cleaned(values, found.repaired, found.unreadable, found.remarks), unit)


def _clean(texts: pl.Series) -> pl.DataFrame:
    tidy = plain(texts)
    rows = _read(tidy).with_columns(texts.str.strip_chars().alias("given"))
    two = rows["text"].str.contains(_TWO).fill_null(False) & rows["number"].is_null()
    if two.any():
        rows = pl.concat([rows.with_row_index("place").filter(~two), _both(rows.with_row_index("place").filter(two))])
        rows = rows.sort("place").drop("place")
    nines = rows["number"].str.contains(_NINES).fill_null(False)
    blank = (rows["shape"] == "filler").fill_null(False) | nines
    rows = rows.with_columns(blank=blank, number=pl.when(~nines).then("number"))
    good = pl.col("number").is_not_null()
    lost = ~good & ~pl.col("blank") & pl.col("text").is_not_null()
    maybe = pl.when(pl.col("number").is_in(_MAYBE_FILLER)).then(
        pl.lit("may stand for nothing: the vehicle's other readings must judge")
    )
    few = pl.col("number").cast(pl.Float64, strict=False) < 1000
    few &= pl.col("number").str.contains(".", literal=True)
    return rows.select(
        value=pl.col("number") + pl.col("unit").fill_null(""),
        repaired=pl.when("blank")
        .then(pl.lit("filler"))
        .when(good & ((pl.col("number") != pl.col("given")) | pl.col("unit").is_not_null()))
        .then("repaired"),
        unreadable=lost,
        remark=pl.when(lost)
        .then("why")
        .when(good & few)
        .then(pl.lit("may be thousands: few digits before the point"))
        .when(good)
        .then(maybe),
    )


def _read(tidy: pl.Series) -> pl.DataFrame:
    """One reading in each text: columns text, shape, number, unit, repaired, why."""
    rows = with_affixes(number_shapes.parts(tidy), hours=False)
    body, kind = pl.col("body"), pl.col("kind")
    thousands = body.str.contains(r"^[1-9][0-9]{0,2}[.,][0-9]{3}$")
    comma, point = number_shapes.fits(body, ","), number_shapes.fits(body, ".")
    bare = (
        pl.when(thousands)
        .then(body.str.replace_all("[.,]", ""))
        .when(point)
        .then(number_shapes.digits(body, "."))
        .when(comma)
        .then(number_shapes.digits(body, ","))
    )
    distance = kind.is_null() | kind.is_in([_DISTANCE, "label"])
    rows = rows.with_columns(
        number=pl.when(distance & (pl.col("sign") == "") & (pl.col("exponent") == "")).then(bare),
        unit=pl.when(kind == _DISTANCE).then("name"),
    )
    k = pl.col("thousands").fill_null(False)
    rows = rows.with_columns(
        number=pl.when(k).then(plain_text(pl.col("number").cast(pl.Float64, strict=False) * 1000)).otherwise("number")
    )
    return rows.select(
        "text",
        "shape",
        "number",
        "unit",
        repaired=pl.when(k)
        .then(pl.lit("thousands_word"))
        .when(kind.is_not_null())
        .then(pl.lit("unit"))
        .when(~thousands & ~point & body.str.contains(",", literal=True))
        .then(pl.lit("decimal_mark"))
        .when(body.str.contains("[,' ]") | thousands | ~point)
        .then(pl.lit("thousands_mark"))
        .when(pl.col("text") == pl.col("number"))
        .then(pl.lit("characters"))
        .otherwise(pl.lit("plain_number")),
        why=pl.when(kind == "hours")
        .then(pl.lit("hours, not a distance: set aside"))
        .when(pl.col("sign") == "-")
        .then(pl.lit("an odometer can't read less than 0"))
        .when(kind.is_not_null() & ~distance)
        .then(pl.format("'{}' is no unit of an odometer", "name"))
        .otherwise(pl.lit("not an odometer reading")),
    )


def _both(rows: pl.DataFrame) -> pl.DataFrame:
    """Cells with two readings; the one in km stands where the other doesn't contradict it."""
    pair = rows["text"].str.extract_groups(_TWO)
    one, two = _read(pair.struct.field("1")), _read(pair.struct.field("2"))
    hours = [part["why"].str.starts_with("hours") & part["number"].is_null() for part in (one, two)]
    km = [part["unit"] == "km" for part in (one, two)]
    miles = [part["unit"] == "mi" for part in (one, two)]
    frame = rows.drop("number", "unit", "repaired", "why").with_columns(
        one=one["number"],
        two=two["number"],
        one_km=km[0].fill_null(False),
        two_km=km[1].fill_null(False),
        one_hours=hours[0],
        two_hours=hours[1],
        units=(km[0] & miles[1] | km[1] & miles[0]).fill_null(False),
    )
    in_km = pl.when("one_km").then("one").otherwise("two")
    in_miles = pl.when("one_km").then("two").otherwise("one")
    apart = (in_km.cast(pl.Float64, strict=False) / (in_miles.cast(pl.Float64, strict=False) * 1.609344) - 1).abs()
    number = (
        pl.when(pl.col("units") & (apart <= _AGREE))
        .then(in_km)
        .when(pl.col("one_km") & pl.col("two_hours"))
        .then("one")
        .when(pl.col("two_km") & pl.col("one_hours"))
        .then("two")
    )
    return frame.select(
        "place",
        "text",
        "shape",
        number.alias("number"),
        unit=pl.when(number.is_not_null()).then(pl.lit("km")),
        repaired=pl.lit("two_units"),
        why=pl.when("units")
        .then(pl.lit("km and mi in one cell that don't say the same: set aside"))
        .otherwise(pl.lit("two readings in one cell: set aside")),
    ).join(rows.select("place", "given"), on="place", how="left")
