"""What every cleaner gives: the values of a column, what was repaired, what couldn't be read and why."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import polars as pl

__all__ = ["REPAIRS", "Cleaned", "by_distinct", "counted", "least", "quoted"]

# Every repair by name, in words for people.
REPAIRS = {
    "filler": "a word or sign that stands for nothing was taken as blank",
    "characters": "blanks, quotes, dashes or digits of another kind were written the plain way",
    "mojibake": "characters read in the wrong encoding were put right",
    "date_shape": "a date in another shape was written as YYYY-MM-DD",
    "time_shape": "a time of day in another shape was written as HH:MM",
    "two_digit_year": "a year of two digits was completed: the latest such year that isn't later than next year",
    "century": "a year before 1950 was moved by a hundred years, as the map says",
    "date_serial": "the day number of a spreadsheet was written as a date",
    "month_name": "the name of a month was read",
    "midnight": "00:00 was dropped from a column whose times are all 00:00",
    "time_zone": "a time with an offset from UTC was turned into the workshop's time",
    "decimal_mark": "a decimal comma was written as a point",
    "thousands_mark": "the marks between thousands were left out",
    "currency": "the sign or code of the currency was left out",
    "unit": "the unit was left out",
    "unit_turned": "the value was turned into the unit of the column",
    "negative": "a negative number in brackets or with its sign behind was written with the sign in front",
    "thousands_word": "thousands written as k were written out",
    "plain_number": "a number in another shape was written the plain way",
    "two_units": "of two readings in one cell the distance in km was kept",
    "flag": "a word for yes or no was written as true or false",
    "vin_form": "a VIN was written in capitals without blanks and hyphens",
    "vin_letters": "I, O or Q, which no VIN holds, was read as 1 or 0",
    "vin_check_digit": "one look-alike character was put right; the check digit proves it",
    "word": "a word of another spelling or language was written as our list has it",
    "number_tail": "the .0 that a spreadsheet adds to a number was left out",
    "code_cell": "a cell was read as a list of fault codes",
}

_SCHEMA = {"value": pl.String, "repaired": pl.String, "unreadable": pl.Boolean, "remark": pl.String}


@dataclass(frozen=True, slots=True)
class Cleaned:
    """One column, cleaned; the four series have a row for each text given, in its order.

    `values`: the text that the tidy rules accept; null where blank or unreadable.
    `repaired`: a name of REPAIRS where the value is other than the text; of several the one that assumes most.
    `unreadable`: true where there was something and it can't be read, or has to be set aside.
    `remarks`: why, in words; also what is worth a second look though it was read.
    """

    values: pl.Series
    repaired: pl.Series
    unreadable: pl.Series
    remarks: pl.Series


def by_distinct(texts: pl.Series, clean: Callable[[pl.Series], pl.DataFrame]) -> Cleaned:
    """Clean a column by its distinct texts.

    `clean` takes texts and gives a frame with a row for each and the columns value, repaired, unreadable and
    remark. Texts that hardly repeat are handed over as they are, because looking for repeats would cost more.
    """
    texts = texts.cast(pl.String).alias("text")
    if _hardly_repeats(texts):
        found = clean(texts)
    else:
        distinct = texts.unique()
        answers = clean(distinct).with_columns(distinct)
        found = texts.to_frame().join(answers, on="text", how="left", maintain_order="left")
    found = found.select(pl.col(name).cast(kind) for name, kind in _SCHEMA.items())
    return Cleaned(
        values=found["value"].alias(texts.name),
        repaired=found["repaired"],
        unreadable=found["unreadable"].fill_null(False),
        remarks=found["remark"],
    )


def _hardly_repeats(texts: pl.Series) -> bool:
    return 3 * cast(int, texts.approx_n_unique()) > len(texts)


def counted(texts: pl.Series) -> pl.DataFrame:
    """The texts that aren't null and how many rows hold each: columns text and count.

    Texts that hardly repeat come as they are, each with a count of 1.
    """
    texts = texts.cast(pl.String).alias("text").drop_nulls()
    if _hardly_repeats(texts):
        return texts.to_frame().with_columns(count=pl.lit(1, pl.UInt32))
    return texts.to_frame().group_by("text").agg(count=pl.len())


def least(texts: pl.Series) -> tuple[str, ...]:
    """The first two texts in the order of their characters, as examples that don't hang on the order of rows."""
    found: list[str] = []
    while len(found) < 2 and not texts.is_empty():
        found.append(str(texts.min()))
        texts = texts.filter(texts != found[-1])
    return tuple(found)


def quoted(examples: tuple[str, ...]) -> str:
    """Examples for a sentence: '03/04/2021' and '05/06/2021'."""
    return " and ".join(f"'{example}'" for example in examples)
