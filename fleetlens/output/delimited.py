"""A finding's rows as CSV, safe to open in a spreadsheet."""

import polars as pl

from fleetlens.findings.finding import Finding
from fleetlens.output.flat import flat

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv(finding: Finding) -> bytes:
    """UTF-8, ISO dates, machine names as headers, empty for unknown.

    Text that a spreadsheet could take for a formula gets an apostrophe in front; numbers never do.
    """
    table = flat(finding.rows)
    return guarded(table).write_csv(datetime_format="%Y-%m-%dT%H:%M:%S").encode()


def guarded(table: pl.DataFrame) -> pl.DataFrame:
    """`table` with an apostrophe before each text that begins like a formula."""
    texts = [
        name for name, kind in table.schema.items() if kind == pl.String or isinstance(kind, (pl.Categorical, pl.Enum))
    ]
    risky = [
        pl.any_horizontal(pl.col(name).cast(pl.String).str.starts_with(start) for start in FORMULA_STARTS)
        for name in texts
    ]
    return table.with_columns(
        pl.when(starts)
        .then(pl.lit("'") + pl.col(name).cast(pl.String))
        .otherwise(pl.col(name).cast(pl.String))
        .alias(name)
        for name, starts in zip(texts, risky, strict=True)
    )
