"""The record of a load: the count of every file, proved to add up, and what the store keeps of it."""

from collections.abc import Sequence
from datetime import datetime

import duckdb
import polars as pl

from fleetlens.intake.report import COUNTS, REFUSED, FileReport, LoadReport
from fleetlens.intake.rules import RULES
from fleetlens.intake.sources import Source
from fleetlens.intake.staging import Staged
from fleetlens.store import merge, queries

__all__ = ["account", "check", "record", "refusals", "set_value"]


def account(
    sources: Sequence[Source], staged: Sequence[Staged], counts: pl.DataFrame, refused: pl.DataFrame
) -> tuple[FileReport, ...]:
    """What became of the rows of each file.

    `counts`: file, accepted, repeated, replaced; `refused`: as `refusals` gives it, with `file` and `place`.
    Raises RuntimeError where the rows of a file don't add up: a bug, never the user's fault.
    """
    placed = {row["file"]: row for row in counts.iter_rows(named=True)}
    lost = dict(refused.group_by("file").agg(pl.col("place").n_unique()).iter_rows())
    nothing = {"accepted": 0, "repeated": 0, "replaced": 0}
    files = []
    for number, (source, read) in enumerate(zip(sources, staged, strict=True)):
        found = placed.get(number, nothing)
        report = FileReport(
            path=source.place,
            table=source.table.name,
            rows_in=read.rows_in,
            accepted=found["accepted"],
            repeated=found["repeated"] + read.known,
            refused=lost.get(number, 0),
            replaced=found["replaced"],
            sha256=source.sha256,
        )
        if report.rows_in != report.accepted + report.repeated + report.refused:
            raise RuntimeError(f"the rows of {source.path} don't add up: {report}")
        files.append(report)
    return tuple(files)


def refusals(sources: Sequence[Source], broken: pl.DataFrame) -> pl.DataFrame:
    """The broken rules with their file (number, path, content), place and row, by file, row and rule."""
    named = pl.DataFrame(
        {
            "file": range(len(sources)),
            "path": [str(source.place) for source in sources],
            "sha256": [source.sha256 for source in sources],
            "table_name": [source.table.name for source in sources],
        },
        schema={"file": pl.Int64, "path": pl.String, "sha256": pl.String, "table_name": pl.String},
    )
    order = pl.col("rule").replace_strict({name: number for number, name in enumerate(RULES)}, return_dtype=pl.Int64)
    return (
        broken.with_columns(file=pl.col("place") // merge.ROWS, row=merge.row_of(pl.col("place")), order=order)
        .join(named, on="file", how="left")
        .sort("place", "order", "column")
        .select("file", "place", *REFUSED)
    )


def record(connection: duckdb.DuckDBPyConnection, snapshot: str, loaded_at: datetime, report: LoadReport) -> None:
    """Write the load into `loads`, `load_files` and `refused_rows`; `loaded_at` is UTC without a zone."""
    load_id = connection.sql("select coalesce(max(load_id), 0) + 1 from loads").fetchall()[0][0]
    load = {"load_id": load_id, "loaded_at": loaded_at, "snapshot": snapshot}
    merge.append(connection, "loads", pl.DataFrame([load | {name: getattr(report, name) for name in COUNTS}]))
    files = [
        {"load_id": load_id, "path": str(file.path), "table_name": file.table, "sha256": file.sha256}
        | {name: getattr(file, name) for name in COUNTS}
        for file in report.files
    ]
    merge.append(connection, "load_files", pl.DataFrame(files))
    merge.append(connection, "refused_rows", report.refusals.select(pl.lit(load_id).alias("load_id"), *REFUSED))


def set_value(connection: duckdb.DuckDBPyConnection, name: str, value: str) -> bool:
    """Keep a setting that the user gave; whether that changes the store."""
    bound = {"name": name, "value": value}
    if connection.execute("select 1 from settings where name = $name and value = $value", bound).fetchall():
        return False
    connection.execute("delete from settings where name = $name", {"name": name})
    connection.execute("insert into settings (name, value) values ($name, $value)", bound)
    return True


def check(connection: duckdb.DuckDBPyConnection) -> None:
    """Raises RuntimeError where a row of the store refers to nothing: a bug, never the user's fault."""
    orphans = queries.inside(connection, "intake/orphans")
    if orphans.height:
        raise RuntimeError(f"the load would leave rows that refer to nothing: {orphans.to_dicts()}")
