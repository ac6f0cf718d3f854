"""Cells that name a component, as the key of our list; a name that our list doesn't hold stays as it is."""

from functools import cache

import polars as pl

from fleetlens.intake.maps.shape import words
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain
from fleetlens.vocabulary.components import components

__all__ = ["clean", "known"]


@cache
def known() -> dict[str, str]:
    """Every name of a component in plain small letters, and its key; keys and labels come before synonyms."""
    found = {words(synonym): part.name for part in components().values() for synonym in part.synonyms}
    found |= {words(part.label): part.name for part in components().values()}
    return found | {words(name): name for name in (*components(), "vehicle")}


def clean(texts: pl.Series) -> Cleaned:
    """Each cell as the key of the component that it names as a whole; others as they are. Nothing is unreadable."""
    return by_distinct(texts, _clean)


def _clean(texts: pl.Series) -> pl.DataFrame:
    tidy = plain(texts)
    filler = is_filler(tidy).fill_null(False)
    keys = [known().get(words(text), text) if text is not None else None for text in tidy]
    frame = pl.DataFrame(
        {"value": keys, "given": texts.str.strip_chars(), "filler": filler}, schema_overrides={"value": pl.String}
    )
    return frame.select(
        value=pl.when(~pl.col("filler")).then("value"),
        repaired=pl.when("filler").then(pl.lit("filler")).when(pl.col("value") != pl.col("given")).then(pl.lit("word")),
        unreadable=pl.lit(False),
        remark=pl.lit(None, dtype=pl.String),
    )
