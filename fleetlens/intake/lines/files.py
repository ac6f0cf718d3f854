"""The texts of one column of a file, row for row."""

import csv
import difflib
from pathlib import Path

import polars as pl

from fleetlens.errors import FleetlensError

__all__ = ["texts"]

_LONGEST_CELL = 1_000_000  # letters; a longer one is no job line
_DELIMITERS = ",;\t|"


def texts(path: Path, column: str) -> list[str]:
    """The cells of `column`, one for each row of the file in its order; a blank cell is "".

    A CSV file (comma, semicolon, tab or bar; UTF-8 or, failing that, Windows 1252) or a Parquet file.
    Raises FleetlensError where the file can't be read or has no such column.
    """
    try:
        return _parquet(path, column) if path.suffix.lower() == ".parquet" else _csv(path, column)
    except FileNotFoundError:
        raise FleetlensError("there is no such file", where=str(path), do="check the path") from None
    except OSError as error:
        raise FleetlensError(f"this file can't be read: {error.strerror or error}", where=str(path)) from None


def _parquet(path: Path, column: str) -> list[str]:
    try:
        names = list(pl.read_parquet_schema(path))
        _check(column, names, path)
        cells = pl.read_parquet(path, columns=[column])[column]
        return ["" if cell is None else str(cell) for cell in cells.to_list()]
    except pl.exceptions.PolarsError as error:
        raise FleetlensError(f"this is no Parquet file: {error}", where=str(path), do="write it again") from None


def _csv(path: Path, column: str) -> list[str]:
    content = path.read_bytes()
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    lines = text.splitlines(keepends=True)
    head = next((line for line in lines if line.strip()), "")
    delimiter = max(_DELIMITERS, key=head.count) if any(sign in head for sign in _DELIMITERS) else ","
    csv.field_size_limit(_LONGEST_CELL)
    rows = csv.reader(lines, delimiter=delimiter, strict=False)
    try:
        names = next(rows, None)
        if names is None:
            raise FleetlensError("this file is empty", where=str(path), do="a file with a heading and rows")
        names = [name.strip() for name in names]
        _check(column, names, path)
        at = names.index(column)
        # In a file of one column a blank line is a row with nothing in it.
        return [row[at] if at < len(row) else "" for row in rows if row or len(names) == 1]
    except csv.Error as error:
        raise FleetlensError(
            f"this file can't be read as CSV: {error}",
            where=f"{path}, line {rows.line_num}",
            do="write it again as CSV",
        ) from None


def _check(column: str, names: list[str], path: Path) -> None:
    if column not in names:
        near = difflib.get_close_matches(column, names, n=1, cutoff=0.0)
        raise FleetlensError(
            f"there is no column {column!r}",
            where=str(path),
            do=f"--column {near[0]}" if near else "a file with a heading",
        )
