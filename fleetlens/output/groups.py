"""Rows made ready to draw: each with its group in words, and no more of them than a screen can show."""

from collections.abc import Sequence

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings.columns import COLUMNS

MOST_GROUPS = 30  # more have no mark of their own
MOST_STEPS = 300  # of one curve: more can't be told apart on a screen
MOST_ROWS = 4_500  # of a chart, below the 5,000 at which browsers drop the description of marks


def grouped(rows: pl.DataFrame, by: Sequence[str]) -> pl.DataFrame:
    """The rows with their group in words in front, in the order in which the groups come; keys and lists left out.

    A component is part of the words where there are several. Raises FleetlensError above MOST_GROUPS groups.
    """
    keys = [name for name in dict.fromkeys(["component", *by]) if name in rows.columns]
    split = [name for name in keys if name in by or rows[name].n_unique() > 1]
    named = [pl.col(name).cast(pl.String).fill_null(f"{COLUMNS[name].label.lower()} not recorded") for name in split]
    words = pl.concat_str(named, separator=" · ") if named else pl.lit("all", dtype=pl.String)
    figures = [name for name, kind in rows.schema.items() if not kind.is_nested() and name not in keys]
    ready = rows.select(words.alias("group"), *figures)
    if (count := ready["group"].n_unique()) > MOST_GROUPS:
        raise FleetlensError(
            f"{count:,} groups can't be told apart in one chart, which takes {MOST_GROUPS}",
            do="split by fewer keys, or set a filter",
        )
    return ready


def thinned(rows: pl.DataFrame) -> pl.DataFrame:
    """At most MOST_STEPS rows of each group and MOST_ROWS in all, evenly spaced, first and last of each kept."""
    slots = min(MOST_STEPS, MOST_ROWS // max(rows["group"].n_unique(), 1)) - 1
    place, last = pl.int_range(pl.len()).over("group"), pl.len().over("group") - 1
    slot = pl.when(last > slots).then(place * slots // last).otherwise(place)
    return rows.with_columns(slot=slot).unique(["group", "slot"], keep="first", maintain_order=True).drop("slot")


def least_cost(rows: pl.DataFrame) -> pl.DataFrame:
    """The row of least cost of each curve that rises again after it; a curve lowest at its end has none."""
    return (
        rows.filter(pl.col("cost_per_1000km").is_not_null())
        .with_columns(end=pl.col("km").max().over("group"))
        .filter(pl.col("cost_per_1000km") == pl.col("cost_per_1000km").min().over("group"))
        .unique("group", keep="first", maintain_order=True)
        .filter(pl.col("km") < pl.col("end"))
        .drop("end")
    )


def title(by: Sequence[str]) -> str:
    """The title of the groups."""
    return " · ".join(COLUMNS[name].label for name in by) or "Group"
