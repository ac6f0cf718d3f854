"""Refused rows as files that can be corrected and loaded again."""

from collections.abc import Sequence
from pathlib import Path

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.sources import Source

__all__ = ["BECAUSE", "refused_rows", "write_refused"]

BECAUSE = "refused_because"  # a column that no table has, so that a load leaves it aside


def refused_rows(sources: Sequence[Source], refusals: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """The refused rows of each table whole, as text under our column names, with the reasons in `BECAUSE`.

    `refusals` as in a LoadReport. A row too long or too short for its file has no columns of its own: it stands with
    its reason alone. The sources are read again.
    """
    reasons = refusals.group_by("sha256", "table_name", "row", maintain_order=True).agg(
        pl.col("reason").unique(maintain_order=True).str.join("; ").alias(BECAUSE)
    )
    found: dict[str, list[pl.DataFrame]] = {}
    for source in sources:
        mine = reasons.filter(sha256=source.sha256, table_name=source.table.name).select("row", BECAUSE)
        if mine.is_empty():
            continue
        columns = [column.name for column in source.table.columns]
        for batch in source.batches():
            rows = batch.rows.join(mine, on="row", how="inner", maintain_order="left")
            whole = [pl.col(name) if name in rows.columns else pl.lit(None, pl.String).alias(name) for name in columns]
            kept = found.setdefault(source.table.name, [])
            kept.append(rows.select(*(column.cast(pl.String) for column in whole), BECAUSE))
            ragged = mine.filter(pl.col("row").is_in([row.row for row in batch.ragged]))
            kept.append(ragged.select(*(pl.lit(None, pl.String).alias(name) for name in columns), BECAUSE))
    return {
        table: told for table, parts in found.items() if (told := pl.concat(parts).unique(maintain_order=True)).height
    }


def write_refused(sources: Sequence[Source], refusals: pl.DataFrame, folder: Path) -> list[Path]:
    """Write one CSV a table into `folder`, such as jobs-refused.csv, which loads as it is once it is corrected.

    Raises FleetlensError where the folder can't be written.
    """
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for table, rows in refused_rows(sources, refusals).items():
            written.append(folder / f"{table}-refused.csv")
            used = [name for name in rows.columns if rows[name].null_count() < rows.height]
            rows.select(used).write_csv(written[-1])
    except OSError as error:
        raise FleetlensError(
            f"the refused rows can't be written: {error.strerror}", where=str(folder), do="name another folder"
        ) from None
    return written
