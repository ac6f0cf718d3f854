"""What every reader gives: one area of rows in a file, its columns as written, and its rows as batches of text."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

__all__ = ["Batch", "Ragged", "Sheet"]


@dataclass(frozen=True, slots=True)
class Ragged:
    """A row with more or fewer values than the header."""

    row: int
    values: int
    header: int
    text: str


@dataclass(frozen=True, slots=True)
class Batch:
    """Some rows of a sheet. `rows`: "row" (its number in the file, counted as the reader says) and all columns, as text.

    `share`: how much of the file has been read with it, 0 to 1, roughly.
    """

    rows: pl.DataFrame
    ragged: list[Ragged]
    share: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """One area of rows in a file: a CSV file, one sheet of a workbook, one member of an archive.

    `part` names the sheet or member, "" where the file has only one. `columns` are the names as written, made unique.
    `header_row` is the number of the row that holds them. `found` says in words what was found and done, such as
    "cp1252", "';' between columns", "header in row 3", "2 total rows left out": shown to people, never hidden.
    `left_out` counts rows that are none, by reason (blank, total, header again, footer, title).
    `read(columns)` yields the batches of the columns wanted (None: all), from the start, each time it is called.
    """

    path: Path
    part: str
    columns: tuple[str, ...]
    header_row: int
    found: tuple[str, ...]
    read: Callable[[tuple[str, ...] | None], Iterator[Batch]] = field(repr=False)
    left_out: tuple[tuple[str, int], ...] = ()

    @property
    def name(self) -> str:
        """The file's name, with the part where there is one: book.xlsx [Jobs]."""
        return f"{self.path.name} [{self.part}]" if self.part else self.path.name
