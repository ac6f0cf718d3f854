"""What every reader gives: one area of rows in a file, its columns as written, and its rows as batches of text."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

__all__ = ["Batch", "Ragged", "Sheet", "as_column", "as_written"]

_ROW = "row"  # our own column of every batch, so a file's column of that name gets a blank behind

# Facts that nobody needs to be told of: they are so in a tidy file.
_PLAIN = ("UTF-8", "',' between columns", "header in row 1")


@dataclass(frozen=True, slots=True)
class Ragged:
    """A row with more or fewer values than the header."""

    row: int
    values: int
    header: int
    text: str


@dataclass(frozen=True, slots=True)
class Batch:
    """Some rows of a sheet. `rows`: "row" (its number in the file, as the reader counts) and all columns, as text.

    `share`: how much of the file has been read with it, 0 to 1, roughly. `unread`: cells of our columns that a column
    map couldn't read, as row, column and reason; the rows hold them as they were written. None: all were read.
    """

    rows: pl.DataFrame
    ragged: list[Ragged]
    share: float
    unread: pl.DataFrame | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One area of rows in a file: a CSV file, one sheet of a workbook, one member of an archive.

    `part` names the sheet or member, "" where the file has none; `label` is the name that may say what the rows are,
    without folders and endings. `columns` are the names as written, made unique;
    `written` are the names before that, "" where there is none. `header_row` is the number of the row that holds
    them, 0 where no row does. `found` says in words what was found and done, such as "cp1252",
    "';' between columns", "header in row 3": shown to people, never hidden. `hidden`: a sheet that its workbook
    doesn't show; it is left aside unless it is asked for.
    `read(columns)` yields the batches of the columns wanted (None: all), from the start, each time it is called.
    `tally` counts the rows that are none and the cells that were filled, as far as the last reading has come.
    """

    path: Path
    part: str
    columns: tuple[str, ...]
    header_row: int
    found: tuple[str, ...]
    read: Callable[[tuple[str, ...] | None], Iterator[Batch]] = field(repr=False)
    written: tuple[str, ...] = ()
    label: str = ""
    hidden: bool = False
    tally: Counter[str] = field(default_factory=Counter, compare=False)

    @property
    def name(self) -> str:
        """The file's name, with the part where there is one: book.xlsx [Jobs]."""
        inside = self.part.replace("/", ": ")  # a name has no folders
        return f"{self.path.name} [{inside}]" if inside else self.path.name

    @property
    def left_out(self) -> tuple[tuple[str, int], ...]:
        """Rows that are none, by reason (blank row, total row, header again, footer, title row); as `tally`."""
        return tuple((reason, count) for reason, count in self.tally.items() if count and "cell" not in reason)

    @property
    def told(self) -> tuple[str, ...]:
        """All that was found, with what the last reading left out and filled: "2 total rows left out"."""
        return (*self.found, *(_words(reason, count) for reason, count in self.tally.items() if count))

    @property
    def remarkable(self) -> tuple[str, ...]:
        """What was found, but for what is so in a tidy file."""
        return tuple(fact for fact in self.told if fact not in _PLAIN)


def as_column(name: str) -> str:
    """The name of a file's column in the batches: as written, but for one that is called as our own is."""
    return f"{name} " if name == _ROW else name


def as_written(column: str) -> str:
    """The name that stands in the file for a column of the batches."""
    return _ROW if column == as_column(_ROW) else column


def _words(reason: str, count: int) -> str:
    """A count in words; the reasons are ours: "total row" is left out, "ditto cell" is filled."""
    many = reason if count == 1 else f"{reason}s" if reason != "header again" else "headers again"
    return f"{count:,} {many} {'filled' if 'cell' in reason else 'left out'}"
