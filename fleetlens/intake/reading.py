"""Files as batches of text: every value as it was written, with the number of its row."""

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.sheet import Batch, Ragged

__all__ = ["batches", "empty", "ends_inside_quotes", "header"]

_BLOCK = 16 << 20  # bytes of CSV at a time; no single row may be longer
_HEADER = 1 << 16  # characters; longer than any header
_ROWS = 250_000  # rows of Parquet at a time


def header(path: Path) -> list[str]:
    """The column names of the file, as written.

    Raises FleetlensError where it isn't what its ending says.
    """
    try:
        if path.suffix.lower() == ".parquet":
            return list(pyarrow.parquet.read_schema(path).names)
    except pa.ArrowException as error:
        raise _unreadable(path, error) from None
    with path.open(encoding="utf-8-sig", newline="") as file:
        lines = io.StringIO(file.read(_HEADER), newline="")
    names = next((row for row in csv.reader(lines) if row), None)
    if names is None:
        raise empty(path)
    return names


def batches(path: Path, columns: Sequence[tuple[str, str]]) -> Iterator[Batch]:
    """The rows of the file in their order; `columns` are the ones wanted, as (name in the file, our name).

    Raises FleetlensError where the file can't be read to its end.
    """
    try:
        yield from _parquet_batches(path, columns) if path.suffix.lower() == ".parquet" else _csv_batches(path, columns)
    except (pa.ArrowException, OSError) as error:
        raise _unreadable(path, error) from None


def ends_inside_quotes(path: Path) -> bool:
    """Whether a CSV file with an odd number of quotation marks opens one and never closes it.

    Its last row then holds all that follows; in any other file a last row over several lines closes its marks.
    """
    names = header(path)
    last: tuple[int, list[str]] = (1, [])
    for batch in batches(path, [(name, str(place)) for place, name in enumerate(names)]):
        if batch.rows.height:
            last = (int(batch.rows["row"][-1]), [str(value) for value in batch.rows.row(-1)])
        last = max([last, *((row.row, [row.text]) for row in batch.ragged)])
    return any("\n" in value for value in last[1])


def _csv(path: Path, names: Sequence[str], ragged: list[Ragged]) -> "pyarrow.csv.CSVStreamingReader":
    def aside(row: "pyarrow.csv.InvalidRow") -> str:
        ragged.append(Ragged(row.number, row.actual_columns, row.expected_columns, row.text))
        return "skip"

    return pyarrow.csv.open_csv(
        _ended(path),
        # One thread: only then does the reader know the number of a row.
        read_options=pyarrow.csv.ReadOptions(use_threads=False, block_size=_BLOCK),
        parse_options=pyarrow.csv.ParseOptions(newlines_in_values=True, invalid_row_handler=aside),
        convert_options=pyarrow.csv.ConvertOptions(
            column_types={name: pa.string() for name in names}, include_columns=names, strings_can_be_null=False
        ),
    )


def _ended(path: Path) -> Path | io.BytesIO:
    """The file, or its content with an end of line where it is a header without one, which the reader can't take."""
    with path.open("rb") as file:
        start = file.read(_HEADER)
    return path if len(start) == _HEADER or b"\n" in start else io.BytesIO(start + b"\n")


def _csv_batches(path: Path, columns: Sequence[tuple[str, str]]) -> Iterator[Batch]:
    waiting: list[Ragged] = []  # the reader may tell of them ahead of the rows around them
    next_row, size, seen = 2, path.stat().st_size, 0
    with _csv(path, [name for name, _ in columns], waiting) as reader:
        for batch in reader:
            if batch.num_rows == 0:
                continue
            numbers = pl.int_range(next_row, next_row + batch.num_rows + len(waiting), eager=True).alias("row")
            numbers = numbers.filter(~numbers.is_in([row.row for row in waiting])).head(batch.num_rows)
            next_row = int(numbers[-1]) + 1
            aside = [row for row in waiting if row.row < next_row]
            waiting[:] = [row for row in waiting if row.row >= next_row]
            seen += batch.nbytes
            rows = pl.DataFrame(pa.table(batch)).rename(dict(columns)).with_columns(numbers)
            yield Batch(rows, aside, min(seen / size, 1.0))
    if waiting:
        yield Batch(pl.DataFrame(schema={ours: pl.String for _, ours in columns} | {"row": pl.Int64}), waiting, 1.0)


def _parquet_batches(path: Path, columns: Sequence[tuple[str, str]]) -> Iterator[Batch]:
    row = 2
    with pyarrow.parquet.ParquetFile(path) as file:
        for batch in file.iter_batches(batch_size=_ROWS, columns=[name for name, _ in columns]):
            rows = pl.DataFrame(pa.table(batch)).rename(dict(columns))
            texts = [_as_text(path, rows[name]) for name in rows.columns]
            numbered = pl.DataFrame(texts).with_columns(row=pl.int_range(row, row + rows.height))
            row += rows.height
            yield Batch(numbered, [], (row - 2) / file.metadata.num_rows)


def _as_text(path: Path, values: pl.Series) -> pl.Series:
    if values.dtype.is_nested() or values.dtype in (pl.Binary, pl.Object, pl.Duration, pl.Time):
        raise FleetlensError(
            f"the column {values.name!r} can't be read as text, number or date",
            where=str(path),
            do="write it as text, number, true or false, or date",
        )
    if isinstance(values.dtype, pl.Datetime):
        return values.dt.strftime("%Y-%m-%d %H:%M:%S%.6f")  # the time on the wall, in the zone of the column
    return values.cast(pl.String)


def empty(path: Path) -> FleetlensError:
    """The error for a file with nothing in it, not even a header."""
    return FleetlensError("this file is empty", where=str(path), do="save it again, with a header row, or leave it out")


def _unreadable(path: Path, error: Exception) -> FleetlensError:
    kind = "Parquet" if path.suffix.lower() == ".parquet" else "CSV"
    detail = str(error).splitlines()[0]
    if "straddling" in detail:  # the reader's word for a row that is longer than a block
        return FleetlensError(
            f"a row of this file is longer than {_BLOCK >> 20} MB: most likely a quotation mark is never closed",
            where=str(path),
            do="look for a quotation mark too many or too few",
        )
    return FleetlensError(
        f"this is no {kind} file that can be read: {detail}", where=str(path), do=f"save it again as {kind}"
    )
