"""What a column's dates say of the order in which they are written; it adds up over batches.

Decided: day-month if a first part is over 12 and no second part is; month-day the other way round. Neither or both
is a question, with counts and examples. Of years with two digits it is assumed that they come last, unless a first
part is over 31, or some last part can't be a year and every first part can.
"""

from dataclasses import dataclass, fields
from datetime import date

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.values import date_shapes
from fleetlens.intake.values.cleaned import counted, least, quoted
from fleetlens.intake.values.dates import DateForm, Order
from fleetlens.intake.values.text import plain

__all__ = ["DateEvidence", "evidence"]


@dataclass(frozen=True, slots=True)
class DateEvidence:
    """Counts of the rows of one column, by what their dates say; evidence of two batches adds up with `+`.

    `day_first` and `month_first`: the date can only be so; `either`: both can be, with different days;
    `alike`: both can be, with the same day. `other_shapes`: read without knowing the order. `no_date`: neither
    blank nor a date. `year_not_first`, `year_not_last`, `over_31`: of dates with a year of two digits.
    """

    today: date
    rows: int = 0
    blank: int = 0
    day_first: int = 0
    month_first: int = 0
    either: int = 0
    alike: int = 0
    other_shapes: int = 0
    serials: int = 0
    no_date: int = 0
    times: int = 0
    midnights: int = 0
    offsets: int = 0
    year_not_first: int = 0
    year_not_last: int = 0
    over_31: int = 0
    examples: tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]] = ((), (), ())

    def __add__(self, other: "DateEvidence") -> "DateEvidence":
        """The evidence of both batches. Raises FleetlensError where they were read on different days."""
        if self.today != other.today:
            raise FleetlensError(
                f"dates read on {self.today} and on {other.today} can't be weighed together", do="read them anew"
            )
        first, second, third = (
            least(pl.Series([*mine, *theirs], dtype=pl.String))
            for mine, theirs in zip(self.examples, other.examples, strict=True)
        )
        counts = {
            field.name: getattr(self, field.name) + getattr(other, field.name)
            for field in fields(self)
            if field.name not in {"today", "examples"}
        }
        return DateEvidence(today=self.today, examples=(first, second, third), **counts)

    @property
    def question(self) -> str | None:
        """The sentence that asks for the order; None where the evidence decides, or where nothing depends on it."""
        if self._year_first:
            return None
        either, day, month = self.examples
        if self.day_first and self.month_first:
            return (
                f"{self.day_first} dates can only be day-month ({quoted(day)}) and {self.month_first} only month-day "
                f"({quoted(month)}), {self.either} could be either: set date_order to day_first or month_first for "
                "the column and correct the others, or split the file where the habit changed"
            )
        if self.either and not self.day_first and not self.month_first:
            return (
                f"{quoted(either)} can be read as day-month or as month-day, and none of the {self.either} such dates "
                "tells which: set date_order to day_first or month_first"
            )
        return None

    @property
    def form(self) -> DateForm | None:
        """How the column is to be read; None where that has to be asked."""
        if self.question:
            return None
        order: Order | None = None
        if self._year_first:
            order = "year_first"
        elif self.day_first or self.month_first:
            order = "day_first" if self.day_first else "month_first"
        only_midnights = self.midnights > 0 and self.midnights == self.times
        return DateForm(self.today, order, midnight_is_day=only_midnights)

    @property
    def _year_first(self) -> bool:
        return bool(self.over_31 or (self.year_not_last and not self.year_not_first))


def evidence(texts: pl.Series, today: date) -> DateEvidence:
    """Weigh the dates of one batch of a column."""
    seen = counted(plain(texts))
    rows = date_shapes.parts(seen["text"]).with_columns(seen["count"])
    a, b, c = (pl.col(name).cast(pl.Int64, strict=False) for name in "abc")
    shape = pl.col("shape")
    filler = (shape == "filler").fill_null(False)
    loose = ((shape == "numeric") & (pl.col("a").str.len_chars() <= 2)).fill_null(False)
    short = loose & (pl.col("c").str.len_chars() <= 2)
    # A year of two digits that would lie before 1950 and after next year is none.
    first_wrong = {name: value.is_between(today.year % 100 + 2, 49) for name, value in (("a", a), ("c", c))}
    days = a.is_between(1, 31) & b.is_between(1, 31)
    kinds = {
        "blank": filler,
        "day_first": loose & days & (a > 12) & (b <= 12),
        "month_first": loose & days & (b > 12) & (a <= 12),
        "either": loose & days & (a <= 12) & (b <= 12) & (a != b),
        "alike": loose & days & (a <= 12) & (a == b),
        "other_shapes": ~loose & shape.is_not_null() & ~filler,
        "serials": shape == "serial",
        "no_date": shape.is_null() & ~filler,
        "times": pl.col("clock").str.len_chars() > 0,
        "midnights": pl.col("clock").str.contains(r"^[T ]00:00(:00(\.0+)?)?$"),
        "offsets": pl.col("clock").str.contains(r"(Z|[+-][0-9]{2}:?[0-9]{2})$"),
        "year_not_first": short & first_wrong["a"],
        "year_not_last": short & first_wrong["c"] & (a <= today.year % 100 + 1),
        "over_31": short & (a > 31) & c.is_between(1, 31) & b.is_between(1, 12),
    }
    rows = rows.with_columns(kind.fill_null(False).alias(name) for name, kind in kinds.items())
    counts = rows.select(pl.col("count").filter(pl.col(name)).sum().alias(name) for name in kinds).row(0, named=True)
    counts["blank"] += len(texts) - seen["count"].sum()
    counts["times"] += int(rows.filter((shape == "serial") & b.is_not_null() & (b != 0))["count"].sum())
    either, day, month = (least(rows.filter(pl.col(name))["text"]) for name in ("either", "day_first", "month_first"))
    return DateEvidence(today, rows=len(texts), examples=(either, day, month), **counts)
