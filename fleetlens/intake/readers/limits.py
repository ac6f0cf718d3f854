"""Bounds that every reader keeps, and the errors that all of them may give."""

import polars as pl

from fleetlens.errors import FleetlensError

__all__ = ["CELL", "checked_cells", "empty"]

CELL = 1 << 20  # bytes of one value


def checked_cells(where: str, rows: pl.DataFrame) -> None:
    """Raises FleetlensError where a value is longer than any value of a workshop's record."""
    texts = [name for name, dtype in rows.schema.items() if dtype == pl.String]
    if rows.is_empty() or not texts:
        return
    longest = rows.select(pl.col(texts).str.len_bytes().max()).row(0)
    for name, size in zip(texts, longest, strict=True):
        if (size or 0) > CELL:
            row = rows["row"][int(rows[name].str.len_bytes().arg_max() or 0)]
            raise FleetlensError(
                f"a value is longer than {CELL >> 20} MB: most likely a quotation mark is never closed",
                where=f"{where}, row {row}, column {name}",
                do="look for a quotation mark too many or too few, or shorten it",
            )


def empty(where: str) -> FleetlensError:
    """The error for a file with nothing in it, not even a header."""
    return FleetlensError("this file is empty", where=where, do="save it again, with a header row, or leave it out")
