"""Which rules rows broke, how often, with examples: of a store, or of one load that is being checked."""

import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.finding import Count, Finding
from fleetlens.store.reader import Snapshot

__all__ = ["EXAMPLES", "broken_rules", "by_rule", "with_examples"]

EXAMPLES = 3


def broken_rules(snapshot: Snapshot) -> Finding:
    """The rules that the rows of all loads broke, the commonest first."""
    refusals = snapshot.frame("findings/refused")
    return Finding(
        question="rules that rows broke",
        rows=by_rule(refusals),
        method="Rows that broke a rule, by table, column and rule. A row that broke several counts for each.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("kept in the store", refusals.height, "broken rules"),),
    )


def by_rule(refusals: pl.DataFrame) -> pl.DataFrame:
    """The rules broken in `refusals` (path, table_name, row, column, rule, reason), the commonest first.

    Columns: rule; table_name; column ("" for the whole row); rows; examples (the first few, in words).
    """
    file = pl.col("path").str.replace_all(r"\\", "/").str.split("/").list.last()
    example = pl.format("{} row {}: {}", file, "row", "reason")
    counted = with_examples(refusals.with_columns(example=example), "example")
    return counted.with_columns(pl.col("examples").list.eval(pl.element().struct.field("example")).list.join("; "))


def with_examples(refusals: pl.DataFrame, *told: str) -> pl.DataFrame:
    """The rules broken in `refusals`, the commonest first: rule, table_name, column, rows, examples.

    `examples`: the first few, each with the columns `told`. A row that broke a rule in two columns counts for each.
    """
    return (
        refusals.group_by("rule", "table_name", "column", maintain_order=True)
        .agg(rows=pl.len().cast(pl.Int64), examples=pl.struct(*told).head(EXAMPLES))
        .sort("rows", "rule", "table_name", "column", descending=[True, False, False, False])
    )
