"""The rows of one file, checked by their own rules: good ones into a temporary table, the others with reasons."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

import duckdb
import polars as pl

from fleetlens.intake import rules
from fleetlens.intake.ahead import ahead
from fleetlens.intake.by_the_way import completed
from fleetlens.intake.readers.sheet import Ragged
from fleetlens.intake.sources import Source
from fleetlens.store import merge, queries
from fleetlens.vocabulary.codes import normalise
from fleetlens.vocabulary.tables import Table
from fleetlens.vocabulary.units import km_factor

__all__ = ["BROKEN", "Staged", "stage", "staged_table"]

# A broken rule, before it is known which file and row its place means.
BROKEN = {"place": pl.Int64, "column": pl.String, "value": pl.String, "rule": pl.String, "reason": pl.String}
_PARENTS = {"place": pl.Int64, "parent": pl.String}
_KEPT = 200  # characters of a value that is kept with its refusal


@dataclass(frozen=True, slots=True)
class Staged:
    """What reading a file gave: all its rows, those that an earlier load took from this very file, broken rules.

    `parents`: place and parent (the vehicle or job that it names) of the refused rows, so that an unknown one can
    be told too.
    """

    rows_in: int
    known: int
    broken: pl.DataFrame
    parents: pl.DataFrame


def staged_table(table: Table) -> str:
    """Name of the temporary table that takes the rows of `table`."""
    return f"staged_{table.name}"


def stage(
    connection: duckdb.DuckDBPyConnection, source: Source, number: int, today: date, progress: Callable[[float], None]
) -> Staged:
    """Read the file, the `number`th of the load, into its temporary table.

    `progress` is told the share of the file that is read.
    A file that was loaded before is read only where rows of it were refused then; all others are known.
    """
    identity = {"sha256": source.sha256, "table_name": source.table.name}
    before = queries.inside(connection, "intake/rows_before", **identity)
    tried_again = None
    progress(0.0)
    if before.height:
        tried_again = queries.inside(connection, "intake/refused_before", **identity)["row"]
        if tried_again.is_empty():
            rows_in = int(before["rows_in"][0])
            return Staged(rows_in, rows_in, pl.DataFrame(schema=BROKEN), pl.DataFrame(schema=_PARENTS))
    rows_in = known = 0
    broken, parents = [pl.DataFrame(schema=BROKEN)], [pl.DataFrame(schema=_PARENTS)]
    for good, batch, share in ahead(_checked(source, number, today, tried_again)):
        whole, untold = completed(connection, good) if source.partial else (good, 0)
        merge.append(connection, staged_table(source.table), whole)
        broken.append(batch.broken)
        parents.append(batch.parents)
        rows_in += batch.rows_in
        known += batch.known + untold
        progress(share)
    return Staged(rows_in, known, pl.concat(broken), pl.concat(parents))


def _checked(
    source: Source, number: int, today: date, tried_again: pl.Series | None
) -> Iterator[tuple[pl.DataFrame, Staged, float]]:
    """Batch by batch: the good rows as their temporary table takes them, what became of all, the share read so far."""
    table, kept_rules = source.table, rules.rules(source.table, today)
    anew = None if tried_again is None else frozenset(tried_again)
    flags = [f"broken:{index}" for index in range(len(kept_rules))]
    for batch in ahead(source.batches()):
        rows = _texts(table, batch.rows, number)
        known = pl.lit(False) if tried_again is None else ~pl.col("row").is_in(tried_again.implode())
        rows = rows.with_columns(known=known).with_columns(rules.typed(table))
        rows = rows.with_columns(
            rule.broken.fill_null(False).alias(flag) for rule, flag in zip(kept_rules, flags, strict=True)
        )
        lost = _unread(rows, batch.unread)
        wrong = pl.any_horizontal(*flags, pl.col("place").is_in(lost["place"].implode()))
        bad = rows.filter(wrong)
        good = rows.filter(~wrong) if bad.height else rows
        refused = bad.filter(~pl.col("known"))
        broken = [
            refused.filter(flag).select(
                "place",
                column=pl.lit(rule.column),
                value=rules.text_of(rule.column).str.slice(0, _KEPT),
                rule=pl.lit(rule.name),
                reason=rule.reason,
            )
            for rule, flag in zip(kept_rules, flags, strict=True)
            if refused.height
        ]
        if lost.height:  # a cell that couldn't be read has one reason only
            lost = lost.join(refused.select("place"), on="place", how="semi")
            broken = [lost, *(one.join(lost, on=["place", "column"], how="anti") for one in broken)]
        again = [row for row in batch.ragged if anew is None or row.row in anew]
        parents = [refused.select("place", parent=r.column).drop_nulls() for r in table.references]
        yield (
            _canonical(table, good),
            Staged(
                rows.height + len(batch.ragged),
                int(rows["known"].sum()) + len(batch.ragged) - len(again),
                pl.concat([_ragged(again, number), *broken]),
                pl.concat([pl.DataFrame(schema=_PARENTS), *parents]),
            ),
            batch.share,
        )


def _unread(rows: pl.DataFrame, cells: pl.DataFrame | None) -> pl.DataFrame:
    """Cells that a column map couldn't read, as broken rules of the rows that hold them."""
    if cells is None:
        return pl.DataFrame(schema=BROKEN)
    found = [
        rows.select("row", "place", value=rules.text_of(name).str.slice(0, _KEPT))
        .drop_nulls("value")
        .join(cells.filter(column=name), on="row")
        .select("place", "column", "value", rule=pl.lit("unreadable"), reason="reason")
        for name in cells["column"].unique(maintain_order=True)
    ]
    return pl.concat(found)


def _texts(table: Table, rows: pl.DataFrame, number: int) -> pl.DataFrame:
    """All columns of the table as text, named "column:text", blank as null; with `place` and `row`."""
    given = set(rows.columns)
    place = pl.lit(number * merge.ROWS) + pl.col("row") * merge.PARTS
    if "part" in given:
        place += pl.col("part")
    texts = [
        (pl.col(name).str.strip_chars() if name in given else pl.lit(None, dtype=pl.String)).alias(f"{name}:text")
        for name in (column.name for column in table.columns)
    ]
    rows = rows.select(pl.col("row"), place.alias("place"), *texts)
    return rows.with_columns(pl.when(pl.col(pl.String) != "").then(pl.col(pl.String)))


def _canonical(table: Table, rows: pl.DataFrame) -> pl.DataFrame:
    """The columns of the temporary table: kilometres, codes in their one spelling."""
    columns = [column.name for column in table.columns]
    if "odometer_unit" in columns:
        units = {unit: km_factor(unit) for unit in rows["odometer_unit"].drop_nulls().unique()}
        factor = (
            pl.col("odometer_unit").replace_strict(units, default=1.0, return_dtype=pl.Float64)
            if units
            else pl.lit(1.0)
        )
        rows = rows.with_columns((pl.col("odometer") * factor).alias("odometer_km"))
        columns = ["odometer_km" if name == "odometer" else name for name in columns if name != "odometer_unit"]
    if table.name == "job_codes":
        codes = {text: code for text in rows["code"].unique() if (code := normalise(text))}
        spelt = pl.DataFrame(
            {
                "code": list(codes),
                "tidy": [code.code for code in codes.values()],
                "failure_type": [code.failure_type for code in codes.values()],
            },
            schema={"code": pl.String, "tidy": pl.String, "failure_type": pl.String},
        )
        rows = rows.join(spelt, on="code", how="left", maintain_order="left").with_columns(code="tidy")
        columns.insert(columns.index("code") + 1, "failure_type")
    return rows.select("place", "known", *columns)


def _ragged(rows: list[Ragged], number: int) -> pl.DataFrame:
    """Rows of the wrong length as broken rules."""
    return pl.DataFrame(
        {
            "place": [number * merge.ROWS + row.row * merge.PARTS for row in rows],
            "column": [""] * len(rows),
            "value": [row.text[:_KEPT] for row in rows],
            "rule": ["ragged"] * len(rows),
            "reason": [
                f"the row has {row.values} values where the header has {row.header}: "
                f"look for a comma or a quotation mark too {'many' if row.values > row.header else 'few'}"
                for row in rows
            ],
        },
        schema=BROKEN,
    )
