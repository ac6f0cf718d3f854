"""One sentence for each chart of what policies and options cost, for those who can't see it."""

from collections.abc import Sequence

import polars as pl

from fleetlens.output.advice_charts import POLICIES
from fleetlens.output.groups import grouped
from fleetlens.output.telling import Sentence, few
from fleetlens.output.words import harmless, interval, say

__all__ = ["SENTENCES"]


def _policies(rows: pl.DataFrame, by: Sequence[str]) -> str:
    told = [
        harmless(
            f"{one['group']} "
            + ", ".join(f"{words} {say(one[name])}" for name, words in POLICIES.items() if one[name] is not None)
        )
        for one in grouped(rows, by).to_dicts()
        if any(one[name] is not None for name in POLICIES)
    ]
    return f"Long-run cost per 1,000 km by policy: {few(told) or 'none can be priced'}."


def _options(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{one['option']} "
        + interval(one["expected_cost"], one["expected_cost_low"], one["expected_cost_high"], "currency")
        for one in rows.filter(pl.col("expected_cost").is_not_null()).to_dicts()
    ]
    return f"Expected cost to the horizon with 95 % limits: {'; '.join(told) or 'none can be priced'}."


# The columns that a chart's finding has, and its sentence.
SENTENCES: tuple[tuple[set[str], Sentence], ...] = (
    ({"cost_per_1000km_run_to_failure", "policy"}, _policies),
    ({"expected_cost", "option"}, _options),
)
