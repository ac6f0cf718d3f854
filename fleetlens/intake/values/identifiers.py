"""Identifiers (job numbers, fleet numbers, part numbers) after a spreadsheet has had them.

Repaired: plain characters, blanks in a row, the .0 behind a number. Taken as blank: fillers.
Refused: 1.2E+11, because the digits are lost and two numbers may have become one.
Refused where the identifier is to be of one thing: several in one cell, as on one invoice for twelve vans.
Remarked: what looks like a date, because a spreadsheet makes one of 3-12. Leading zeros that were eaten can't be
seen in one value, so nothing is said of them.
"""

import polars as pl

from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain, spreadsheet_error

__all__ = ["clean", "of_one"]

_DIGITS_LOST = r"^[0-9]+[.,][0-9]*[eE]\+[0-9]+$"
_LIST = r"[^,;&\n]\s*[,;&\n]\s*[^,;&\n]"
_DATE_LIKE = r"^(?:[0-9]{1,2}[-.][A-Za-z]{3}|[A-Za-z]{3}[-.][0-9]{2}|[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[ T]00:00(?::00)?)?)$"


def clean(texts: pl.Series) -> Cleaned:
    """Each identifier in plain characters; null where blank, or where its digits are lost."""
    return by_distinct(texts, _clean)


def of_one(texts: pl.Series) -> Cleaned:
    """As `clean`; a cell that lists several identifiers is unreadable, for what it tells can't be shared out."""
    found = clean(texts)
    several = found.values.str.contains(_LIST).fill_null(False)
    if not several.any():
        return found
    why = pl.Series("remark", ["several vehicles in one cell: write a row for each, with its share of the costs"])
    return Cleaned(
        values=found.values.set(several, None),
        repaired=found.repaired.set(several, None),
        unreadable=found.unreadable | several,
        remarks=found.remarks.set(several, why[0]),
    )


def _clean(texts: pl.Series) -> pl.DataFrame:
    tidy = plain(texts)
    frame = pl.DataFrame(
        {
            "given": texts.str.strip_chars(),
            "tidy": tidy,
            "value": tidy.str.replace(r"^([0-9]+)\.0$", "$1").str.replace_all(r"\s+", " "),
            "filler": is_filler(tidy).fill_null(False),
            "lost": (tidy.str.contains(_DIGITS_LOST) | spreadsheet_error(tidy)).fill_null(False),
        }
    )
    good = ~pl.col("filler") & ~pl.col("lost")
    return frame.select(
        value=pl.when(good).then("value"),
        repaired=pl.when("filler")
        .then(pl.lit("filler"))
        .when(good & pl.col("tidy").str.contains(r"^[0-9]+\.0$"))
        .then(pl.lit("number_tail"))
        .when(good & (pl.col("value") != pl.col("given")))
        .then(pl.lit("characters")),
        unreadable=pl.col("lost"),
        remark=pl.when("lost")
        .then(pl.lit("a spreadsheet has cut off digits or shows an error: export the column as text"))
        .when(pl.col("value").str.contains(_DATE_LIKE))
        .then(pl.lit("looks like a date: a spreadsheet may have made one of the number")),
    )
