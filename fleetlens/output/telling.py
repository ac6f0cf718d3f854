"""What the sentences beside charts share: a figure with its limits, and the first few of many."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import polars as pl

from fleetlens.output.words import harmless, interval

__all__ = ["MOST_NAMED", "Sentence", "few", "figure"]

MOST_NAMED = 4

Sentence = Callable[[pl.DataFrame, Sequence[str]], str]  # of the rows, split by these keys


def few(told: Sequence[str]) -> str:
    """The first few in a row, and how many more there are."""
    more = len(told) - MOST_NAMED
    shown = [harmless(one) for one in told[:MOST_NAMED]]
    return "; ".join([*shown, *([f"and {more} more"] if more > 0 else [])])


def figure(row: Mapping[str, Any], name: str, unit: str = "") -> str:
    """A figure of the row with the limits beside it."""
    return interval(row[name], row[f"{name}_low"], row[f"{name}_high"], unit)
