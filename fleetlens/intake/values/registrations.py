"""Registration marks made comparable: the same mark typed in several ways has one key.

Nothing is repaired: the mark stays as it was typed, because which of O and 0 is right can't be known from it.
"""

import polars as pl

from fleetlens.intake.values.text import plain

__all__ = ["key", "lookalike_key"]

_LIKE = {"O": "0", "I": "1", "S": "5", "B": "8"}


def key(texts: pl.Series) -> pl.Series:
    """Each mark in capitals, only its letters and digits; null where it has none."""
    bare = plain(texts).str.to_uppercase().str.replace_all(r"[^\p{L}\p{N}]", "")
    return bare.set(bare == "", None).alias(texts.name)


def lookalike_key(texts: pl.Series) -> pl.Series:
    """The key with one character for those that are taken for each other: O and 0, I and 1, S and 5, B and 8.

    Two marks with one look-alike key may be one vehicle, and may be two: ask, don't join.
    """
    return key(texts).str.replace_many(list(_LIKE), list(_LIKE.values()))
