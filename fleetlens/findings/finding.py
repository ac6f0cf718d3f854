"""The answer to a question: rows with their method, period, what was counted, left out and assumed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import polars as pl


@dataclass(frozen=True, slots=True)
class Period:
    """The days the record covers; null where the store holds no dated row."""

    start: date | None
    end: date | None

    def __str__(self) -> str:
        return f"{self.start:%Y-%m-%d} to {self.end:%Y-%m-%d}" if self.start and self.end else "no dated record"


@dataclass(frozen=True, slots=True)
class Count:
    """How many of what, and for which reason they were counted or left out."""

    reason: str
    count: int
    what: str

    @property
    def counted(self) -> str:
        """The count with its noun: 1 life, 3 lives."""
        singular = {"lives": "life", "copies": "copy", "comebacks": "comeback"}.get(
            self.what, self.what.removesuffix("s")
        )
        return f"{self.count:,} {singular if self.count == 1 else self.what}"

    def __str__(self) -> str:
        return f"{self.counted}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Finding:
    """One question answered on one snapshot. Faces print it; they never compute it again.

    A null in `rows` means that the figure is unknown. `notes` are sentences about single rows or doubts;
    `assumed` are sentences that hold for the whole answer.
    """

    question: str
    rows: pl.DataFrame
    method: str
    period: Period
    snapshot: str
    counted: tuple[Count, ...] = ()
    excluded: tuple[Count, ...] = ()
    assumed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    filters: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
