"""Small helpers that turn arrays into columns of a table."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from fleetlens.sample.chance import Floats, Ints

DAY = 86_400


def named(names: Sequence[str | None], index: Ints) -> pl.Series:
    """The name for each index; null where the index is negative."""
    texts = pl.Series(list(names), dtype=pl.String)
    return texts.gather(pl.Series(np.maximum(index, 0))).zip_with(
        pl.Series(index >= 0), pl.Series([None], dtype=pl.String)
    )


def worded(options: Sequence[Sequence[str]], row: Ints, draw: Floats) -> pl.Series:
    """One of the texts of `options[row]`, by a draw between 0 and 1; null where there are none."""
    sizes = np.array([len(texts) for texts in options])
    starts = np.cumsum(sizes) - sizes
    flat = [text for texts in options for text in texts] or [""]
    chosen = starts[row] + np.floor(draw * sizes[row]).astype(np.int64)
    return named(flat, np.where(sizes[row] > 0, chosen, -1))


def seconds(day: Floats) -> Ints:
    """Whole minutes in working hours, 07:00 to 17:00, as seconds since 1970; later days give later times."""
    whole = np.floor(day)
    minutes = np.floor((day - whole) * 600.0) + 420.0
    return (whole * DAY + minutes * 60.0).astype(np.int64)


def moments(at: Ints) -> pl.Series:
    """Seconds since 1970 as date and time."""
    return pl.Series(at * 1_000_000).cast(pl.Datetime("us"))


def dates(day: Ints) -> pl.Series:
    """Days since 1970 as dates."""
    return pl.Series(day.astype(np.int32)).cast(pl.Date)


def numbered(prefix: str, number: Ints, width: int) -> pl.Series:
    """Identifiers such as V000012."""
    return prefix + pl.Series(number).cast(pl.String).str.zfill(width)


def where(keep: np.ndarray[tuple[int], np.dtype[np.bool_]], values: pl.Series) -> pl.Series:
    """The values, null where `keep` is false."""
    return values.zip_with(pl.Series(keep), pl.Series([None], dtype=values.dtype))
