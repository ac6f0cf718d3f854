"""Cells of a column of fault codes: each read as the list of codes that it holds.

Repaired: the spellings, lists and ranges that lines are read by, and a bare 0401, because a column of codes says by
itself what its numbers are. Taken as blank: fillers, and the P0000 that stands for no code.
Refused: lookalikes (an invoice number, a part number), and 401, whose zero a spreadsheet may have eaten: which letter
and which digit are missing is a guess.
"""

import re
from dataclasses import dataclass

import polars as pl

from fleetlens.intake.lines.code_mentions import codes_in
from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain

__all__ = ["CodeCells", "clean"]

_BETWEEN = ", "
_NO_CODE = ("P0000", "NO CODE", "NO CODES", "NO DTC", "NO DTCS", "NO FAULT CODES")
_THREE_DIGITS = re.compile(r"[0-9]{3}")
_LONGEST = 2_000  # characters; a longer cell is no list of codes


@dataclass(frozen=True, slots=True)
class CodeCells:
    """`codes`: the codes of each cell, in order, each once, with its failure type (null: none); `cleaned`: the same
    joined by commas, with repairs and remarks."""

    cleaned: Cleaned
    codes: pl.Series


def clean(texts: pl.Series) -> CodeCells:
    """Each cell as a list of codes in their one spelling; null where blank, or where it holds none."""
    cleaned = by_distinct(texts, _clean)
    return CodeCells(cleaned, cleaned.values.str.split(_BETWEEN))


def _clean(texts: pl.Series) -> pl.DataFrame:
    tidy, given = plain(texts), texts.str.strip_chars()
    filler = (is_filler(tidy) | tidy.str.to_uppercase().is_in(_NO_CODE)).fill_null(False)
    values = [None if blank or not text else _codes(text) for text, blank in zip(tidy, filler, strict=True)]
    frame = pl.DataFrame({"value": values, "given": given, "tidy": tidy, "filler": filler}, strict=False)
    frame = frame.with_columns(pl.col("value").cast(pl.String))
    lost = pl.col("value").is_null() & ~pl.col("filler") & pl.col("tidy").is_not_null()
    return frame.select(
        "value",
        repaired=pl.when("filler")
        .then(pl.lit("filler"))
        .when(pl.col("value") != pl.col("given"))
        .then(pl.lit("code_cell")),
        unreadable=lost,
        remark=pl.when(lost & pl.col("tidy").str.contains(r"^[0-9]{3}$"))
        .then(pl.lit("may be a code whose letter and first digit are lost: write it in full, such as P0401"))
        .when(lost)
        .then(pl.lit("no fault code: write it as P0401, P0401-64 or SPN 1208 FMI 3")),
    )


def _codes(text: str) -> str | None:
    if len(text) > _LONGEST or _THREE_DIGITS.fullmatch(text):  # in a line "code 401" is told; a bare cell isn't
        return None
    found = codes_in(text) or codes_in(f"code {text}")
    told = (f"{one.code}-{one.failure_type}" if one.failure_type else one.code for one in found)
    return _BETWEEN.join(dict.fromkeys(told)) or None
