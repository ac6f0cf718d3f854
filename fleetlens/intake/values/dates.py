"""Dates and times of an export, written as YYYY-MM-DD or YYYY-MM-DD HH:MM.

Repaired, each under its own name: day, month and year in other orders and with other marks; years of two digits
(the latest such year that isn't later than next year); 20240304; month names in eleven languages; the day numbers
of spreadsheets (base 1900, or 1904 by the map; ECMA-376 part 1, 18.17.4) from 1950 to next year; 14.30 and 2:30 pm;
a column's 00:00 where all its times are 00:00; by the map: a time with an offset turned into the workshop's zone,
and a year before 1950 moved by a hundred years. Taken as blank: fillers and dates all of zeros.
Asked: day-month or month-day, where no value of the column decides, or where some say one and some the other.
Refused: days that don't exist (30 Feb, 31/06, 1900-01-00), times that don't, years of one or three digits.
A time without an offset is the clock on the workshop's wall; so is one with an offset, unless the map names a zone.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.values import date_shapes
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import plain

__all__ = ["DateForm", "Order", "clean"]

Order = Literal["day_first", "month_first", "year_first"]

_DAY_ZERO = {1900: "1899-12-30", 1904: "1904-01-01"}  # from 1 March 1900 on; earlier numbers are refused anyway
_FIRST_YEAR = 1950  # as in the tidy rules: nothing in a workshop's record is older
_SECONDS = 86_400


@dataclass(frozen=True, slots=True)
class DateForm:
    """How the dates of one column are read.

    `today`: two-digit years and day numbers lie no later than the end of the year after it.
    `order`: of the three parts where the year of four digits doesn't come first; None where the column has no such
    dates, or none that could be read two ways.
    `base`: the year from which a spreadsheet's day numbers count. `midnight_is_day`: all times of the column are
    00:00, so they are dropped. `zone`: where a time with an offset is turned to, such as "Europe/Berlin".
    `mend_century`: a year before 1950 is moved by a hundred years.
    """

    today: date
    order: Order | None = None
    base: Literal[1900, 1904] = 1900
    midnight_is_day: bool = False
    zone: str | None = None
    mend_century: bool = False

    def __post_init__(self) -> None:
        """Raises FleetlensError where the zone isn't known."""
        if self.zone is not None:
            try:
                pl.Series([datetime(2000, 1, 1)]).dt.replace_time_zone(self.zone)
            except pl.exceptions.PolarsError as error:
                raise FleetlensError(
                    f"'{self.zone}' is no time zone that we know", do="write one such as Europe/Berlin, or UTC"
                ) from error


def clean(texts: pl.Series, form: DateForm) -> Cleaned:
    """Each text as YYYY-MM-DD, with ` HH:MM` and what else it says of the time; null where blank or unreadable."""
    return by_distinct(texts, lambda distinct: _clean(distinct, form))


def _clean(texts: pl.Series, form: DateForm) -> pl.DataFrame:
    tidy = plain(texts)
    rows = date_shapes.parts(tidy).with_columns(texts.str.strip_chars().alias("given"))
    rows = _in_order(rows, form)
    if (rows["shape"] == "serial").any():
        rows = _serials(rows, form)
    else:
        rows = rows.with_columns(number=pl.lit(None, pl.String))
    day = (pl.col("y") + "-" + pl.col("m") + "-" + pl.col("d")).str.to_date("%Y-%m-%d", strict=False)
    rows = rows.with_columns(exists=day.is_not_null() & (pl.col("y").str.len_chars() == 4))
    value = (
        pl.when(pl.col("shape") == "serial")
        .then("number")
        .when(pl.col("exists") & (pl.col("shape") == "iso") & ~pl.col("moved"))
        .then("text")
        .when(pl.col("exists"))
        .then(pl.col("y") + "-" + pl.col("m") + "-" + pl.col("d") + pl.col("clock").str.replace("^T", " "))
    )
    rows = rows.with_columns(value=value)
    if form.midnight_is_day:
        midnight = pl.col("value").str.contains(r"[T ]00:00(:00(\.0+)?)?$").fill_null(False)
        rows = rows.with_columns(
            value=pl.when(midnight).then(pl.col("value").str.slice(0, 10)).otherwise("value"), midnight=midnight
        )
    else:
        rows = rows.with_columns(midnight=pl.lit(False))
    rows = _in_zone(rows, form.zone)
    blank = (pl.col("shape") == "filler").fill_null(False)
    lost = pl.col("value").is_null() & ~blank & pl.col("text").is_not_null()
    return rows.select(
        "value",
        repaired=pl.when(blank).then(pl.lit("filler")).when(pl.col("value").is_not_null()).then(_repair()),
        unreadable=lost,
        remark=pl.when(lost).then(_why(form)) if rows.select(lost.any()).item() else pl.lit(None, pl.String),
    )


def _in_order(rows: pl.DataFrame, form: DateForm) -> pl.DataFrame:
    """Add y, m and d, each as text of four, two and two digits, null where the parts don't say."""
    a, b, c, shape = pl.col("a"), pl.col("b"), pl.col("c"), pl.col("shape")
    long_a = a.str.len_chars() == 4
    forward = (shape == "iso") | (shape == "compact") | (long_a & shape.is_in(["numeric", "named"]))
    numeric = (shape == "numeric") & ~long_a
    named = (shape == "named") & ~long_a
    alike = a.str.zfill(2) == b.str.zfill(2)
    day_first = named | (numeric & (pl.lit(form.order == "day_first") | (pl.lit(form.order is None) & alike)))
    month_first = numeric & pl.lit(form.order == "month_first")
    year_first = numeric & pl.lit(form.order == "year_first") & (a.str.len_chars() == 2)
    year = pl.when(forward | year_first).then(a).when(day_first | month_first).then(c)
    month = pl.when(forward | year_first | day_first).then(b).when(month_first).then(a)
    day = pl.when(forward | year_first).then(c).when(day_first).then(a).when(month_first).then(b)
    short = year.str.len_chars() == 2
    last = form.today.year + 1
    number = pl.col("y").cast(pl.Int64, strict=False)
    full = pl.when(2000 + number <= last).then(2000 + number).otherwise(1900 + number).cast(pl.String)
    rows = rows.with_columns(y=year, m=month.str.zfill(2), d=day.str.zfill(2), short=short.fill_null(False))
    if rows["short"].any():
        rows = rows.with_columns(y=pl.when("short").then(full).otherwise("y"))
    if not form.mend_century:
        return rows.with_columns(moved=pl.lit(False))
    moved = ((pl.col("y").str.len_chars() == 4) & (number < _FIRST_YEAR) & (number + 100 <= last)).fill_null(False)
    return rows.with_columns(moved=moved).with_columns(
        y=pl.when("moved").then((number + 100).cast(pl.String)).otherwise("y")
    )


def _serials(rows: pl.DataFrame, form: DateForm) -> pl.DataFrame:
    """Add `number`: the date and time of a spreadsheet's day number, to the second."""
    zero = pl.lit(_DAY_ZERO[form.base]).str.to_date("%Y-%m-%d")
    is_serial = pl.col("shape") == "serial"
    days = pl.when(is_serial).then("a").cast(pl.Int64, strict=False)
    share = pl.when(is_serial).then(pl.lit("0.") + pl.col("b").fill_null("0")).cast(pl.Float64, strict=False)
    moment = (zero + pl.duration(days=days)).cast(pl.Datetime("us")) + pl.duration(
        seconds=(share * _SECONDS).round().cast(pl.Int64)
    )
    in_range = moment.dt.year().is_between(_FIRST_YEAR, form.today.year + 1)
    text = (
        pl.when(moment == moment.dt.truncate("1d"))
        .then(moment.dt.strftime("%Y-%m-%d"))
        .when(moment == moment.dt.truncate("1m"))
        .then(moment.dt.strftime("%Y-%m-%d %H:%M"))
        .otherwise(moment.dt.strftime("%Y-%m-%d %H:%M:%S"))
    )
    return rows.with_columns(number=pl.when(is_serial & in_range).then(text))


def _in_zone(rows: pl.DataFrame, zone: str | None) -> pl.DataFrame:
    """Times with an offset turned to the zone; `turned` says which."""
    offset = pl.col("value").str.slice(16).str.contains(r"Z$|[+-][0-9]{2}:?[0-9]{2}$").fill_null(False)
    if zone is None or not rows.select(offset.any()).item():
        return rows.with_columns(turned=pl.lit(False))
    text = (
        pl.when(offset)
        .then("value")
        .str.replace("T", " ")
        .str.replace("Z$", "+0000")
        .str.replace(r"([+-][0-9]{2}):([0-9]{2})$", "$1$2")
        .str.replace(r"^(.{10} [0-9]{2}:[0-9]{2})([+-])", "$1:00$2")
    )
    there = text.str.to_datetime("%Y-%m-%d %H:%M:%S%.f%z", time_unit="us", strict=False)
    wall = there.dt.convert_time_zone(zone).dt.replace_time_zone(None)
    form = pl.when(wall == wall.dt.truncate("1m")).then(wall.dt.strftime("%Y-%m-%d %H:%M"))
    return rows.with_columns(
        value=pl.when(offset).then(form.otherwise(wall.dt.strftime("%Y-%m-%d %H:%M:%S"))).otherwise("value"),
        turned=offset,
    )


def _repair() -> pl.Expr:
    """The repair that assumes most, of those that a row needed."""
    said = pl.col("value").str.slice(0, 10) == pl.col("given").str.slice(0, 10)
    return (
        pl.when("moved")
        .then(pl.lit("century"))
        .when(pl.col("shape") == "serial")
        .then(pl.lit("date_serial"))
        .when("short")
        .then(pl.lit("two_digit_year"))
        .when("turned")
        .then(pl.lit("time_zone"))
        .when(pl.col("shape") == "named")
        .then(pl.lit("month_name"))
        .when(~said)
        .then(pl.when(pl.col("text") == pl.col("value")).then(pl.lit("characters")).otherwise(pl.lit("date_shape")))
        .when("midnight")
        .then(pl.lit("midnight"))
        .when(pl.col("value") != pl.col("given"))
        .then(pl.lit("time_shape"))
    )


def _why(form: DateForm) -> pl.Expr:
    a, b = (pl.col(name).cast(pl.Int64, strict=False) for name in ("a", "b"))
    year_last = (pl.col("shape") == "numeric") & (pl.col("a").str.len_chars() < 3)
    other = {"day_first": (a <= 12) & b.is_between(13, 31), "month_first": (b <= 12) & a.is_between(13, 31)}
    first, second = ("day-month", "month-day") if form.order == "day_first" else ("month-day", "day-month")
    return (
        pl.when(pl.col("shape").is_null())
        .then(pl.lit("not a date in any shape we know"))
        .when(pl.col("shape") == "serial")
        .then(pl.lit(f"as a spreadsheet's day number this lies outside {_FIRST_YEAR} to {form.today.year + 1}"))
        .when(year_last & pl.lit(form.order is None))
        .then(pl.lit("day-month or month-day isn't decided for this column: set date_order in the map"))
        .when(year_last & other.get(form.order or "", pl.lit(False)))
        .then(pl.lit(f"this can only be {second}, but the column is read as {first}"))
        .when(pl.col("clock").is_null() & pl.col("exists"))
        .then(pl.lit("there is no such time"))
        .otherwise(pl.lit("there is no such day"))
    )
