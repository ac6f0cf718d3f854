"""The shapes in which dates are written: a text taken apart into three parts and a time of day."""

import polars as pl

from fleetlens.intake.values.month_names import month
from fleetlens.intake.values.text import is_filler

__all__ = ["parts"]

_HOUR, _SIXTY = r"(?:[01][0-9]|2[0-3])", r"[0-5][0-9]"
_OFFSET = r"(?:Z|[+-][0-9]{2}:?[0-9]{2})"
_ISO = rf"^[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}(?:[T ]{_HOUR}:{_SIXTY}(?::{_SIXTY}(?:\.[0-9]{{1,9}})?)?{_OFFSET}?)?$"
_FIXED = rf"^[0-9]{{2}}[./-][0-9]{{2}}[./-][0-9]{{4}}(?: {_HOUR}:{_SIXTY}(?::{_SIXTY})?)?$"

_CLOCK = (
    r"(?:(?:\s*,\s*|\s+|[Tt])(?:at\s+|um\s+|kl\.?\s*|a las\s+)?(?<hour>[0-9]{1,2})(?:[:.hH](?<minute>[0-9]{2})"
    r"(?:[:.](?<second>[0-9]{2})(?:[.,](?<fraction>[0-9]{1,9}))?)?)?\s*(?:h|Uhr|(?<half>[AaPp])\.?[Mm]\.?)?"
    r"\s*(?<offset>[Zz]|UTC|[+-][0-9]{2}:?[0-9]{2})?)?$"
)
_NUMERIC = r"^(?<a>[0-9]{1,4})(?:\s*[/.\-]\s*|\s)(?<b>[0-9]{1,2})(?:\s*[/.\-]\s*|\s)(?<c>[0-9]{1,4})\.?" + _CLOCK
_DAY = r"(?:st|nd|rd|th|er|º|ª|°|:e|:a)?"
_GAP = r"(?:\s*[./,\-]\s*|\s+|\s*'\s*)?"
_OF = r"(?:(?:de|of|den)\s+)?"
_NAMED = rf"^(?<a>[0-9]{{1,4}}){_DAY}{_GAP}{_OF}(?<b>\p{{L}}{{3,}})\.?{_GAP}{_OF}'?(?<c>[0-9]{{1,4}})" + _CLOCK
_NAME_FIRST = (
    rf"^(?<b>\p{{L}}{{3,}})\.?\s*(?<a>[0-9]{{1,2}}){_DAY}(?:\s*[,./\-]\s*|\s+)'?(?<c>[0-9]{{2}}|[0-9]{{4}})" + _CLOCK
)
_COMPACT = (
    r"^(?<a>[0-9]{4})(?<b>[0-9]{2})(?<c>[0-9]{2})(?:[T ]?(?<hour>[0-9]{2}):?(?<minute>[0-9]{2})(?::?(?<second>[0-9]{2})"
    rf"(?:\.(?<fraction>[0-9]{{1,9}}))?)?(?<offset>{_OFFSET})?)?(?<half>)$"
)
_SERIAL = r"^(?<a>[0-9]{5})(?:[.,](?<b>[0-9]{1,15}))?$"
_ZERO = r"^(?:0{1,4}[/.\- ]0{1,2}[/.\- ]0{1,4}|0{8})(?:[T ][0:.]+)?$"

_PARTS = ("text", "shape", "a", "b", "c", "clock")


def parts(texts: pl.Series) -> pl.DataFrame:
    """Plain texts taken apart; one row is a text, in the order given.

    Columns: text; shape (iso, numeric, named, compact, serial; filler: stands for nothing, as do all zeros; null: no
    shape of a date); a, b, c (digits;
    year, month, day where the shape is iso or compact or a has four digits; in a named date b is the month's
    number); clock ("", or the time as " HH:MM" and on, with its offset; null: not a time).
    """
    texts = texts.alias("text")
    iso, fixed = texts.str.contains(_ISO), texts.str.contains(_FIXED)
    easy = (iso | fixed).fill_null(False) & ~texts.str.starts_with("00").fill_null(False)
    found = texts.to_frame().select(
        pl.col("text"),
        shape=pl.when(iso).then(pl.lit("iso")).when(fixed).then(pl.lit("numeric")),
        a=pl.when(iso).then(pl.col("text").str.slice(0, 4)).otherwise(pl.col("text").str.slice(0, 2)),
        b=pl.when(iso).then(pl.col("text").str.slice(5, 2)).otherwise(pl.col("text").str.slice(3, 2)),
        c=pl.when(iso).then(pl.col("text").str.slice(8, 2)).otherwise(pl.col("text").str.slice(6, 4)),
        clock=pl.col("text").str.slice(10),
    )
    if easy.all():
        return found
    hard = _hard(texts.filter(~easy))
    if not easy.any():
        return hard
    places = pl.int_range(len(texts), eager=True)
    return (
        pl.concat([found.filter(easy), hard])
        .with_columns(place=pl.concat([places.filter(easy), places.filter(~easy)]))
        .sort("place")
        .drop("place")
    )


def _hard(texts: pl.Series) -> pl.DataFrame:
    """What has neither of the two easy shapes; each further shape tries what is left over."""
    rest = texts.to_frame().with_row_index("place")
    done = []
    shapes = (
        ("filler", _ZERO),
        ("serial", _SERIAL),
        ("numeric", _NUMERIC),
        ("compact", _COMPACT),
        ("named", _NAMED),
        ("named", _NAME_FIRST),
    )
    for shape, pattern in shapes:
        if not rest.height:
            break
        hit = rest["text"].str.contains(pattern).fill_null(False)
        if hit.any():
            done.append(_taken_apart(rest.filter(hit), shape, pattern))
            rest = rest.filter(~hit)
    empty = [pl.lit(None, pl.String).alias(name) for name in ("a", "b", "c", "clock")]
    shapeless = pl.when(is_filler(rest["text"])).then(pl.lit("filler"))
    done.append(rest.with_columns(*empty, shape=shapeless).select("place", *_PARTS))
    return pl.concat(done).sort("place").drop("place")


def _taken_apart(rows: pl.DataFrame, shape: str, pattern: str) -> pl.DataFrame:
    if shape == "filler":
        empty = [pl.lit("").alias(name) for name in ("a", "b", "c", "clock")]
        return rows.with_columns(*empty, shape=pl.lit(shape)).select("place", *_PARTS)
    groups = pl.col("text").str.extract_groups(pattern)
    if shape == "serial":
        rows = rows.with_columns(groups.struct.field("a", "b")).with_columns(
            shape=pl.lit(shape), c=pl.lit(""), clock=pl.lit("")
        )
        return rows.select("place", *_PARTS)
    rows = rows.with_columns(groups.alias("groups")).unnest("groups").with_columns(shape=pl.lit(shape))
    if shape == "named":
        numbers = {name: number for name in rows["b"].unique() if (number := month(name))}
        rows = rows.with_columns(
            pl.col("b").replace_strict(numbers, default=None, return_dtype=pl.Int64).cast(pl.String).str.zfill(2)
            if numbers
            else pl.lit(None, pl.String).alias("b")
        ).with_columns(shape=pl.when(pl.col("b").is_not_null()).then("shape"))
    return _with_clock(rows).select("place", *_PARTS)


def _with_clock(rows: pl.DataFrame) -> pl.DataFrame:
    """The time of day in 24 hours from its parts; null where there is no such time."""
    hour = pl.col("hour").cast(pl.Int64)
    half = pl.col("half").str.to_lowercase()
    # 12 am is 00:00 and 12 pm is 12:00; with a half of the day the hour goes from 1 to 12.
    in_24 = (
        pl.when(half.is_null() | (half == ""))
        .then(hour)
        .when(hour.is_between(1, 12))
        .then(hour % 12 + pl.when(half == "p").then(12).otherwise(0))
    )
    # An hour alone is a time only with its half of the day.
    whole = pl.col("minute").is_not_null() | ((half != "") & half.is_not_null())
    minute = pl.col("minute").fill_null("00")
    exists = whole & (in_24 < 24) & (minute <= "59") & (pl.col("second").fill_null("00") <= "59")
    second = pl.when(pl.col("second").is_not_null()).then(pl.lit(":") + pl.col("second")).otherwise(pl.lit(""))
    fraction = pl.when(pl.col("fraction").is_not_null()).then(pl.lit(".") + pl.col("fraction")).otherwise(pl.lit(""))
    offset = pl.col("offset").fill_null("").str.replace("(?i)utc|z", "Z")
    clock = pl.lit(" ") + in_24.cast(pl.String).str.zfill(2) + ":" + minute + second + fraction + offset
    return rows.with_columns(clock=pl.when(pl.col("hour").is_null()).then(pl.lit("")).when(exists).then(clock))
