"""What a column's numbers say of their decimal mark and currency; it adds up over batches.

Decided: a number that can be read with one mark only (12,5 or 1.234,56 or 1.234.567) decides for all. 1.234 can be
read both ways and decides nothing. None or both is a question, with counts and examples.
"""

from collections import Counter
from dataclasses import dataclass

import polars as pl

from fleetlens.intake.values import number_shapes
from fleetlens.intake.values.cleaned import counted, least, quoted
from fleetlens.intake.values.numbers import NumberForm, with_affixes
from fleetlens.intake.values.text import plain

__all__ = ["NumberEvidence", "evidence"]


@dataclass(frozen=True, slots=True)
class NumberEvidence:
    """Counts of the rows of one column, by what their numbers say; evidence of two batches adds up with `+`.

    `comma`, `point`: numbers that can be read only with that decimal mark. `either`: with both, as other numbers.
    `whole`: numbers without point or comma. `no_number`: neither blank nor a number. `currencies`: name and rows.
    """

    rows: int = 0
    blank: int = 0
    comma: int = 0
    point: int = 0
    either: int = 0
    whole: int = 0
    no_number: int = 0
    currencies: tuple[tuple[str, int], ...] = ()
    examples: tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]] = ((), (), ())

    def __add__(self, other: "NumberEvidence") -> "NumberEvidence":
        """The evidence of both batches."""
        either, comma, point = (
            least(pl.Series([*mine, *theirs], dtype=pl.String))
            for mine, theirs in zip(self.examples, other.examples, strict=True)
        )
        currencies = Counter(dict(self.currencies)) + Counter(dict(other.currencies))
        return NumberEvidence(
            rows=self.rows + other.rows,
            blank=self.blank + other.blank,
            comma=self.comma + other.comma,
            point=self.point + other.point,
            either=self.either + other.either,
            whole=self.whole + other.whole,
            no_number=self.no_number + other.no_number,
            currencies=tuple(sorted(currencies.items())),
            examples=(either, comma, point),
        )

    @property
    def question(self) -> str | None:
        """The sentence that asks; None where the evidence decides, or where nothing depends on it."""
        either, comma, point = self.examples
        if self.comma and self.point:
            return (
                f"{self.comma} numbers can only have a decimal comma ({quoted(comma)}) and {self.point} only a decimal "
                f"point ({quoted(point)}), {self.either} could have either: set decimal to ',' or '.' for the column "
                "and correct the others"
            )
        if self.either and not self.comma and not self.point:
            return (
                f"{quoted(either)} can be read with thousands or with decimals, and none of the {self.either} such "
                "numbers tells which: set decimal to ',' or '.', whichever is the decimal mark"
            )
        if len(self.currencies) > 1:
            told = " and ".join(f"{name} ({rows} rows)" for name, rows in self.currencies)
            return f"the amounts are in {told}, and none is converted: set currency to the one that is to be taken"
        return None

    @property
    def form(self) -> NumberForm | None:
        """How the column is to be read; None where that has to be asked."""
        if self.question:
            return None
        decimal = "," if self.comma else "." if self.point else None
        return NumberForm(decimal, currency=self.currencies[0][0] if self.currencies else None)


def evidence(texts: pl.Series) -> NumberEvidence:
    """Weigh the numbers of one batch of a column."""
    seen = counted(plain(texts))
    rows = with_affixes(number_shapes.parts(seen["text"]).with_columns(seen["count"]), hours=False)
    body, shape = pl.col("body"), pl.col("shape")
    comma, point = number_shapes.fits(body, ","), number_shapes.fits(body, ".")
    marked = body.str.contains(r"[.,]")
    kinds = {
        "blank": shape == "filler",
        "comma": marked & comma & ~point,
        "point": marked & point & ~comma,
        "either": marked & comma & point,
        "whole": ~marked & comma,
        "no_number": shape.is_null() | (body.is_not_null() & ~comma & ~point),
    }
    rows = rows.with_columns(kind.fill_null(False).alias(f"is_{name}") for name, kind in kinds.items())
    counts = rows.select(pl.col("count").filter(f"is_{name}").sum().alias(name) for name in kinds).row(0, named=True)
    counts["blank"] += len(texts) - seen["count"].sum()
    currencies = rows.filter(pl.col("kind") == "currency").group_by("name").agg(pl.col("count").sum()).sort("name")
    either, with_comma, with_point = (least(rows.filter(f"is_{name}")["text"]) for name in ("either", "comma", "point"))
    return NumberEvidence(
        rows=len(texts),
        currencies=tuple(currencies.rows()),
        examples=(either, with_comma, with_point),
        **counts,
    )
