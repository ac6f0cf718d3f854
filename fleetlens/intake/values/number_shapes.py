"""The shapes in which numbers are written: a text taken apart into sign, digits with marks, and what stands around.

Marks between thousands: point, comma, apostrophe, blank; one kind in one number, in groups of three, or of two
before the last three.
"""

import polars as pl

from fleetlens.intake.values.text import is_filler

__all__ = ["BETWEEN", "Mark", "digits", "fits", "parts"]

Mark = str  # "." or ","
BETWEEN = "\x1f"  # the unit separator of ISO 646

_EASY = r"^[+-]?[0-9](?:[0-9.,' ]*[0-9])?$"
# Before a number: letters (with a point or colon that belongs to them: "Fr.12", "km: 12"), or a sign or two.
_BEFORE = r"(?:\p{L}[^0-9+\-()]*)?\p{L}\.?:?|(?:\p{L}[^0-9+\-()]*)?[^0-9\s+\-().,'\p{L}]{1,2}"
_BEHIND = r"[^0-9\s+\-().,'][^0-9+\-()]*"
_NUMBER = (
    rf"^(?<lead>{_BEFORE})?\s*(?:(?<open>\()\s*|(?<sign>[+-])\s*)?(?<lead2>{_BEFORE})?\s*"
    r"(?<body>[0-9](?:[0-9.,' ]*[0-9])?|[.,][0-9]+)(?<stub>[.,]-{0,2})?(?:[eE](?<exponent>[+-]?[0-9]{1,3}))?"
    rf"\s*(?<tail>{_BEHIND})?(?:(?<close>\))|(?<behind>-))?\s*(?<tail2>{_BEHIND})?$"
)
_PARTS = ("text", "shape", "sign", "body", "exponent", "around")


def parts(texts: pl.Series) -> pl.DataFrame:
    """Plain texts taken apart; one row is a text, in the order given.

    Columns: text; shape (easy: digits, marks and a sign in front; hard: more than that; filler; null: no number);
    sign ("-" or ""; "()" and a sign behind are "-"); body (digits with marks); exponent ("" or such as "+11");
    around (the texts before and behind, BETWEEN them; "" for none).
    """
    texts = texts.alias("text")
    easy = texts.str.contains(_EASY).fill_null(False)
    first = pl.col("text").str.slice(0, 1)
    found = texts.to_frame().select(
        pl.col("text"),
        shape=pl.lit("easy"),
        sign=pl.when(first == "-").then(pl.lit("-")).otherwise(pl.lit("")),
        body=pl.col("text").str.strip_chars_start("+-"),
        exponent=pl.lit(""),
        around=pl.lit(""),
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
    groups = pl.col("text").str.extract_groups(_NUMBER).alias("groups")
    rows = texts.to_frame().with_columns(groups).unnest("groups")
    other = rows["body"].is_null()
    rows = rows.with_columns(filler=is_filler(texts) if other.any() else pl.lit(False))
    # Brackets come in pairs, and a number has one sign.
    pair = pl.col("open").is_not_null() == pl.col("close").is_not_null()
    signs = pl.sum_horizontal(pl.col("open", "sign", "behind").is_not_null())
    number = (pl.col("body").is_not_null() & pair & (signs <= 1)).fill_null(False)
    negative = (pl.col("open").is_not_null() | pl.col("behind").is_not_null() | (pl.col("sign") == "-")).fill_null(
        False
    )
    filler = pl.when(pl.col("filler")).then(pl.lit("filler"))
    return rows.select(
        "text",
        shape=pl.when(number).then(pl.lit("hard")).otherwise(filler),
        sign=pl.when(negative).then(pl.lit("-")).otherwise(pl.lit("")),
        body=pl.when(number).then("body"),
        exponent=pl.col("exponent").fill_null(""),
        around=pl.concat_str("lead", "lead2", "tail", "tail2", separator=BETWEEN, ignore_nulls=True),
    )


def fits(body: pl.Expr, decimal: Mark) -> pl.Expr:
    """Whether digits with marks are a number where `decimal` is the decimal mark."""
    other = "." if decimal == "," else ","
    grouped = [
        rf"[1-9][0-9]{{0,2}}(?:{mark}[0-9]{{3}})+|[1-9][0-9]?(?:{mark}[0-9]{{2}})+{mark}[0-9]{{3}}"
        for mark in (rf"\{other}", "'", " ")
    ]
    return body.str.contains(rf"^(?:[0-9]+|{'|'.join(grouped)})?(?:\{decimal}[0-9]+)?$")


def digits(body: pl.Expr, decimal: Mark) -> pl.Expr:
    """Digits with marks as digits with a point."""
    other = "." if decimal == "," else ","
    bare = body.str.replace_all(other, "", literal=True).str.replace_all(r"[' ]", "")
    pointed = bare.str.replace(decimal, ".", literal=True) if decimal == "," else bare
    return pl.when(pointed.str.starts_with(".")).then(pl.lit("0") + pointed).otherwise(pointed)
