"""Parquet as rows of text. Rows are numbered from 2, as if their names stood in row 1."""

from collections.abc import Iterator
from contextlib import closing
from functools import partial
from io import BytesIO
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.parquet

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.limits import checked_cells
from fleetlens.intake.readers.sheet import Batch, Sheet, as_column, as_written

__all__ = ["sheet"]

_ROWS = 250_000  # at a time


def sheet(content: Content) -> Sheet:
    """The rows of a Parquet file; one inside an archive is held in memory, unpacked.

    Raises FleetlensError where it isn't Parquet.
    """
    source: Path | bytes = content.path if content.plain else content.whole()
    try:
        names = tuple(pyarrow.parquet.read_schema(_opened(source)).names)
    except (pa.ArrowException, OSError) as error:
        raise _unreadable(content.where, error) from None
    return Sheet(
        path=content.path,
        part=content.part,
        columns=tuple(map(as_column, names)),
        header_row=1,
        found=(),
        read=partial(_read, content.where, source, names),
        written=names,
        label=content.label,
    )


def _opened(source: Path | bytes) -> Path | BytesIO:
    return source if isinstance(source, Path) else BytesIO(source)


def _read(where: str, source: Path | bytes, names: tuple[str, ...], columns: tuple[str, ...] | None) -> Iterator[Batch]:
    row, wanted = 2, list(names) if columns is None else [as_written(name) for name in columns]
    try:
        with closing(pyarrow.parquet.ParquetFile(_opened(source))) as file:
            for batch in file.iter_batches(batch_size=_ROWS, columns=wanted):
                frame = pl.DataFrame(pa.Table.from_batches([batch]))
                texts = [_as_text(where, frame[name]).alias(as_column(name)) for name in frame.columns]
                numbered = pl.DataFrame(texts).with_columns(row=pl.int_range(row, row + frame.height))
                checked_cells(where, numbered)
                row += frame.height
                yield Batch(numbered, [], (row - 2) / file.metadata.num_rows)
    except (pa.ArrowException, OSError) as error:
        raise _unreadable(where, error) from None


def _as_text(where: str, values: pl.Series) -> pl.Series:
    if values.dtype.is_nested() or values.dtype in (pl.Binary, pl.Object, pl.Duration, pl.Time):
        raise FleetlensError(
            f"the column {values.name!r} can't be read as text, number or date",
            where=where,
            do="write it as text, number, true or false, or date",
        )
    if isinstance(values.dtype, pl.Datetime):
        return values.dt.strftime("%Y-%m-%d %H:%M:%S%.6f")  # the time on the wall, in the zone of the column
    return values.cast(pl.String)


def _unreadable(where: str, error: Exception) -> FleetlensError:
    return FleetlensError(
        f"this is no Parquet file that can be read: {str(error).splitlines()[0]}",
        where=where,
        do="save it again as Parquet",
    )
