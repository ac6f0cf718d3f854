"""Files that declare themselves complete for a period and a source: jobs that are gone from them are gone."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import duckdb
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.sources import Source
from fleetlens.store import merge, queries

__all__ = ["Origin", "apply"]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where the files of a load come from; with a period, they hold every job of that source opened in it."""

    source: str
    start: date | None = None
    end: date | None = None

    def __post_init__(self) -> None:
        if self.start and self.end and self.end < self.start:
            raise FleetlensError(
                f"a period can't begin on {self.start} and end on {self.end}", do="write the earlier day first"
            )


def apply(
    connection: duckdb.DuckDBPyConnection, sources: Sequence[Source], origin: Origin
) -> tuple[bool, tuple[str, ...]]:
    """Note where the jobs of these files come from, and remove those that a complete file no longer holds.

    A job belongs to the source that told of it last. Removed are jobs of the source, opened in the period, that the
    files don't tell of, with their codes, actions and checks; a job whose row was refused is told of, and stays as it
    was. Gives whether the store changed, and what to tell.
    Raises FleetlensError where files without a single job declare themselves complete: most likely the wrong files.
    """
    told = _told(connection, sources)
    before = _named(connection, origin.source)
    connection.execute(queries.text("intake/name_source"), {"source": origin.source})
    changed = _named(connection, origin.source) != before
    if origin.start is None or origin.end is None:
        return changed, ()
    if not told:
        raise FleetlensError(
            "files without a single job can't be complete for a period",
            do="name the files that hold the jobs, or leave out --complete",
        )
    bound = {"source": origin.source, "start": origin.start, "end": origin.end}
    connection.execute(queries.text("intake/missing_jobs"), bound)
    (count,) = connection.execute("select count(*) from missing_jobs").fetchall()[0]
    for table in ("job_codes", "job_actions", "job_checks", "job_sources", "jobs"):
        merge.remove(connection, table, "missing_jobs", "job_key")
    noun = "1 job is" if count == 1 else f"{count:,} jobs are"
    note = (
        f"{noun} no longer in {origin.source}, which is complete from {origin.start} to {origin.end}: "
        "removed with their codes, actions and checks"
    )
    return changed or bool(count), (note,) if count else ()


def _told(connection: duckdb.DuckDBPyConnection, sources: Sequence[Source]) -> int:
    """Fill the temporary table told_jobs with every job number of the files, refused rows included; how many."""
    ids = [pl.DataFrame(schema={"job_id": pl.String})]
    for source in sources:
        if source.table.name == "jobs":
            ids += [batch.rows.select(pl.col("job_id").str.strip_chars()) for batch in source.batches()]
    told = pl.concat(ids).drop_nulls().unique()
    connection.execute("create or replace temp table told_jobs (job_id varchar)")
    merge.append(connection, "told_jobs", told)
    merge.remove(connection, "told_jobs", "reused_jobs", "job_id")  # they stand for jobs of another source
    return told.height


def _named(connection: duckdb.DuckDBPyConnection, name: str) -> list[tuple[int]]:
    found: list[tuple[int]] = connection.execute(
        "select job_key from job_sources where source = $source order by job_key", {"source": name}
    ).fetchall()
    return found
