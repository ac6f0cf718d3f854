"""The rows of an export as lines of jobs: values given once filled in, job numbers built, lines counted.

All three carry on from batch to batch, so that a file of any size streams.
"""

import polars as pl

from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.values.text import dittos, plain

__all__ = ["Filled", "Lines", "Visits", "joined", "key_columns"]

_JOB_TABLES = ("jobs", "vehicles")


class Filled:
    """Fills what belongs to the job or the vehicle and stands on the first row of a job only.

    A row is of the job above where its job number (or the columns the number is made from) is blank, a ditto mark,
    or the same. Within a job a blank or a ditto mark takes the value above; a new job takes nothing over.
    """

    def __init__(self, column_map: ColumnMap) -> None:
        self._key = key_columns(column_map)
        self._columns = [
            name
            for name in column_map.columns
            if any(
                name in origin.columns for table in _JOB_TABLES for origin in column_map.tables.get(table, {}).values()
            )
        ]
        self._last: pl.DataFrame | None = None

    def fill(self, rows: pl.DataFrame) -> pl.DataFrame:
        """The rows with the values filled in; the columns of jobs and vehicles that `rows` has."""
        columns = [name for name in self._columns if name in rows.columns]
        key = [name for name in self._key if name in columns]
        if not key or not rows.height:
            return rows
        bare = rows.with_columns(_without_dittos(rows[name]) for name in columns)
        if self._last is not None:
            bare = pl.concat([self._last, bare])
        run = pl.struct(pl.col(key).forward_fill()).rle_id().alias("job:run")
        filled = bare.with_columns(run).with_columns(pl.col(columns).forward_fill().over("job:run")).drop("job:run")
        if self._last is not None:
            filled = filled.slice(1)
        self._last = filled.tail(1)
        return filled


class Lines:
    """Numbers the lines of each job in the order of the file, from 1. Keeps a count for each job of the file."""

    def __init__(self) -> None:
        self._counts: dict[str, int] = {}

    def number(self, jobs: pl.Series) -> pl.Series:
        """For each line, named by its job, its number within the job, as text; null where the job is."""
        frame = jobs.alias("job").to_frame().with_columns(within=pl.int_range(1, pl.len() + 1).over("job"))
        names = frame["job"].drop_nulls().unique()
        before = pl.DataFrame(
            {"job": names, "before": [self._counts.get(name, 0) for name in names]},
            schema={"job": pl.String, "before": pl.Int64},
        )
        numbered = frame.join(before, on="job", how="left", maintain_order="left")
        numbered = numbered.with_columns(line=pl.col("within") + pl.col("before"))
        self._counts.update(numbered.drop_nulls("job").group_by("job").agg(pl.col("line").max()).iter_rows())
        return numbered["line"].cast(pl.String)


class Visits:
    """Tells apart the rows of a file without job numbers that share the values their number is made from."""

    def __init__(self) -> None:
        self._lines = Lines()

    def number(self, made: pl.Series) -> pl.Series:
        """The numbers; the second row with the same values gets /2 behind it, and so on."""
        again = self._lines.number(made)
        return pl.select(pl.when(again == "1").then(made).otherwise(made + "/" + again)).to_series()


def joined(parts: list[pl.Series]) -> pl.Series:
    """A job number built from its parts: V12/2024-03-04; null where a part is."""
    return pl.select(pl.concat_str(parts, separator="/")).to_series()


def key_columns(column_map: ColumnMap) -> list[str]:
    """The file's columns that tell a job: its number, or what the number is made from."""
    jobs = column_map.tables.get("jobs", {})
    if "job_id" not in jobs:
        return []
    made_from = jobs["job_id"].made_from
    return [jobs[name].column for name in made_from if name in jobs] if made_from else [jobs["job_id"].column]


def _without_dittos(texts: pl.Series) -> pl.Series:
    tidy = plain(texts)
    return tidy.set(dittos(tidy), None).alias(texts.name)
