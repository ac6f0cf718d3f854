"""Numbers of an export, written as digits with a point.

Repaired, each under its own name: decimal comma; points, commas, apostrophes and blanks between thousands; signs and
codes of currencies; brackets or a sign behind for negative; 148k; known units; in a column of hours also minutes,
days, 1:30 and 1h30, turned into hours. Taken as blank: fillers such as "tba", "n/a", "-", "?".
Asked: which mark is the decimal one, where no value of the column decides (1.234 alone), or where some say one and
some the other; the currency, where there are several: amounts are never converted.
Refused: a unit that isn't the column's, a number with the wrong marks, a text that isn't a number.
A percent sign is left out: 12 % is 12.
"""

from dataclasses import dataclass

import polars as pl

from fleetlens.intake.values import affixes, number_shapes
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.number_shapes import Mark
from fleetlens.intake.values.text import plain

__all__ = ["NumberForm", "clean", "plain_text", "with_affixes"]

_DURATION = r"(?i)^([0-9]{1,4})(?::([0-5][0-9])|\s*(?:h|std\.?|hrs?\.?)\s*([0-5]?[0-9])\s*(?:m|min\.?|mins)?)$"


@dataclass(frozen=True, slots=True)
class NumberForm:
    """How the numbers of one column are read.

    `decimal`: "," or "."; None where no number of the column has a point or comma. `unit`: of the column, as the
    tables have it ("h", "" for none). `currency`: the only one taken; None takes any.
    """

    decimal: Mark | None = None
    unit: str = ""
    currency: str | None = None


def clean(texts: pl.Series, form: NumberForm) -> Cleaned:
    """Each text as digits with a point, and a sign in front where negative; null where blank or unreadable."""
    return by_distinct(texts, lambda distinct: _clean(distinct, form))


def with_affixes(rows: pl.DataFrame, hours: bool) -> pl.DataFrame:
    """Add what stands around each number: kind, name, factor and thousands (null: nothing does).

    Of two, labels and pieces give way to the other; two that matter are kind "other".
    """
    distinct = rows["around"].filter(rows["around"] != "").unique()
    read = [_one(around.split(number_shapes.BETWEEN), hours) for around in distinct]
    answers = pl.DataFrame(
        {
            "around": distinct,
            "kind": [affix.kind for affix in read],
            "name": [affix.name for affix in read],
            "factor": [affix.factor for affix in read],
            "thousands": [affix.thousands for affix in read],
        },
        schema={
            "around": pl.String,
            "kind": pl.String,
            "name": pl.String,
            "factor": pl.Float64,
            "thousands": pl.Boolean,
        },
    )
    if answers.is_empty():
        return rows.with_columns(pl.lit(None, kind).alias(name) for name, kind in list(answers.schema.items())[1:])
    return rows.join(answers, on="around", how="left", maintain_order="left")


def _one(around: list[str], hours: bool) -> affixes.Affix:
    read = [affixes.read(text, hours) for text in around]
    thousands = any(affix.thousands for affix in read)
    weighty = [affix for affix in read if affix.kind != "label"] or read[:1]
    if len({(affix.kind, affix.name) for affix in weighty}) > 1:
        return affixes.Affix("other", " ".join(around))
    return affixes.Affix(weighty[0].kind, weighty[0].name, weighty[0].factor, thousands)


def plain_text(number: pl.Expr) -> pl.Expr:
    """A number as text, without the point where it is whole."""
    return number.round(9).cast(pl.String).str.replace(r"\.0$", "")


def _clean(texts: pl.Series, form: NumberForm) -> pl.DataFrame:
    tidy = plain(texts)
    hours = form.unit == "h"
    rows = with_affixes(number_shapes.parts(tidy), hours).with_columns(texts.str.strip_chars().alias("given"))
    mark = form.decimal or "."
    body = pl.col("body")
    fits = number_shapes.fits(body, mark)
    if form.decimal is None:
        fits &= ~body.str.contains(r"[.,]")
    known = _known(form)
    right = (fits & known & pl.col("shape").is_in(["easy", "hard"])).fill_null(False)
    exponent = pl.when(pl.col("exponent") == "").then(pl.lit("")).otherwise(pl.lit("E") + pl.col("exponent"))
    rows = rows.with_columns(
        right=right, value=pl.when(right).then(pl.col("sign") + number_shapes.digits(body, mark) + exponent)
    )
    turned = pl.col("right") & (pl.col("kind") == "hours") & (pl.col("factor") != 1)
    scaled = (turned | pl.col("thousands")).fill_null(False)
    if rows.select(scaled.any()).item():
        scale = pl.col("factor") * pl.when("thousands").then(1000).otherwise(1)
        number = pl.when(scaled).then("value").cast(pl.Float64, strict=False) * scale
        rows = rows.with_columns(value=pl.when(scaled).then(plain_text(number)).otherwise("value"))
    rows = rows.with_columns(duration=pl.lit(False))
    if hours:
        rows = _durations(rows)
    filler = (pl.col("shape") == "filler").fill_null(False)
    lost = pl.col("value").is_null() & ~filler & pl.col("text").is_not_null()
    changed = (pl.col("value") != pl.col("given")).fill_null(False)
    return rows.select(
        "value",
        repaired=pl.when(filler).then(pl.lit("filler")).when(changed).then(_repair(turned | pl.col("duration"), mark)),
        unreadable=lost,
        remark=pl.when(lost).then(_why(form, fits, known)) if rows.select(lost.any()).item() else pl.lit(None),
    )


def _known(form: NumberForm) -> pl.Expr:
    """Whether what stands around the number may stand there."""
    kind, name = pl.col("kind"), pl.col("name")
    allowed = kind.is_in(["label", "percent"]) | (name.str.to_lowercase() == form.unit.lower())
    if form.unit == "h":
        return kind.is_null() | allowed | (kind == "hours")
    money = (kind == "currency") & (pl.lit(form.currency is None) | (name == (form.currency or "")))
    return kind.is_null() | allowed | money | (kind == "pieces")


def _durations(rows: pl.DataFrame) -> pl.DataFrame:
    groups = pl.col("text").str.extract_groups(_DURATION)
    hour = groups.struct.field("1").cast(pl.Float64, strict=False)
    minute = pl.coalesce(groups.struct.field("2"), groups.struct.field("3")).cast(pl.Float64, strict=False)
    return (
        rows.with_columns(hours=hour + minute / 60)
        .with_columns(duration=pl.col("hours").is_not_null())
        .with_columns(value=pl.when("duration").then(plain_text(pl.col("hours"))).otherwise("value"))
    )


def _repair(turned: pl.Expr, mark: Mark) -> pl.Expr:
    """The repair that assumes most, of those that a row needed."""
    other = "." if mark == "," else ","
    behind = (pl.col("sign") == "-") & ~pl.col("text").str.starts_with("-")
    return (
        pl.when(turned)
        .then(pl.lit("unit_turned"))
        .when("thousands")
        .then(pl.lit("thousands_word"))
        .when(pl.col("kind") == "currency")
        .then(pl.lit("currency"))
        .when(pl.col("kind").is_not_null())
        .then(pl.lit("unit"))
        .when(behind)
        .then(pl.lit("negative"))
        .when(pl.lit(mark == ",") & pl.col("body").str.contains(",", literal=True))
        .then(pl.lit("decimal_mark"))
        .when(pl.col("body").str.contains(rf"[' {other}]"))
        .then(pl.lit("thousands_mark"))
        .when(pl.col("text") == pl.col("value"))
        .then(pl.lit("characters"))
        .otherwise(pl.lit("plain_number"))
    )


def _why(form: NumberForm, fits: pl.Expr, known: pl.Expr) -> pl.Expr:
    money = pl.format("an amount in {}, but the column is in {}", "name", pl.lit(form.currency or ""))
    unit = pl.format("'{}' beside the number isn't known here", "name")
    marks = {
        ",": "the marks don't fit: in this column the comma is the decimal mark",
        ".": "the marks don't fit: in this column the point is the decimal mark",
        None: "which mark is the decimal one isn't decided for this column: set decimal in the map",
    }[form.decimal]
    return (
        pl.when(pl.col("shape").is_null())
        .then(pl.lit("not a number"))
        .when(~known & (pl.col("kind") == "currency") & pl.lit(form.currency is not None))
        .then(money)
        .when(~known)
        .then(unit)
        .when(~fits)
        .then(pl.lit(marks))
        .otherwise(pl.lit("not a number"))
    )
