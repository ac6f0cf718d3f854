"""What the values of a file's column are like, counted on its first rows."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from fleetlens.intake.values import date_evidence
from fleetlens.intake.values.text import is_filler, plain
from fleetlens.vocabulary.units import km_factor

__all__ = ["Contents", "look"]

_CODE_TEXT = r"(?i)\b[PCBU][ -]?[0-3O] ?[0-9A-FO]{3}\b|SPN\W{0,3}\d+"
_UNIT = "km|kms|mi|mls|miles|k|h|hrs?|eur|gbp"
_NUMBER = rf"^[(\-+]?[£$€]?\s*[-+]?\d{{1,3}}([ .,'’]?\d{{3}})*([.,]\d+)?\s*[)%£$€-]?\s*(?i:{_UNIT})?\.?$"
_VIN_LIKE = r"(?i)^[A-Z0-9]{17}$"
_MANY = 200  # distinct values looked at one by one


@dataclass(frozen=True, slots=True)
class Contents:
    """Shares (0 to 1) of the filled values of a column, and what stands in it.

    `rows`, `filled`, `distinct`: counts. `words_each`, `letters_each`: means. `examples`: the first distinct values.
    `distinct_values`: all of them where they are few, else ().
    """

    rows: int
    filled: int = 0
    distinct: int = 0
    dates: float = 0.0
    numbers: float = 0.0
    whole: float = 0.0
    vins: float = 0.0
    codes: float = 0.0
    code_only: float = 0.0
    units: float = 0.0
    words_each: float = 0.0
    letters_each: float = 0.0
    examples: tuple[str, ...] = ()
    distinct_values: tuple[str, ...] = ()

    @property
    def share_filled(self) -> float:
        """Share of the rows that hold something."""
        return self.filled / self.rows if self.rows else 0.0


def look(texts: pl.Series, today: date) -> Contents:
    """What the values of one column are like."""
    tidy = plain(texts)
    tidy = tidy.filter(tidy.is_not_null() & ~is_filler(tidy).fill_null(True))
    filled, distinct = len(tidy), tidy.unique(maintain_order=True)
    if not filled:
        return Contents(len(texts))
    dated = date_evidence.evidence(tidy, today)
    dates = (dated.rows - dated.blank - dated.no_date - dated.serials) / dated.rows
    compact = tidy.str.replace_all(r"[ -]", "")
    rest = tidy.str.replace_all(_CODE_TEXT, " ").str.replace_all(r"[\s,;/+|&-]", "")
    has_code = tidy.str.contains(_CODE_TEXT)
    return Contents(
        rows=len(texts),
        filled=filled,
        distinct=len(distinct),
        dates=dates,
        numbers=_share(tidy.str.contains(_NUMBER)),
        whole=_share(tidy.str.contains(r"^\d+$")),
        vins=_share(compact.str.contains(_VIN_LIKE) & compact.str.contains(r"\d") & ~compact.str.contains(r"^\d+$")),
        codes=_share(has_code),
        code_only=_share(has_code & (rest.str.len_chars() <= 4)),
        units=_share(tidy.is_in([text for text in distinct.head(_MANY) if km_factor(text) is not None])),
        words_each=float(tidy.str.count_matches(r"\p{L}{2,}").mean() or 0.0),  # type: ignore[arg-type] # a mean of counts
        letters_each=float(tidy.str.len_chars().mean() or 0.0),  # type: ignore[arg-type] # a mean of counts
        examples=tuple(distinct.head(3)),
        distinct_values=tuple(distinct) if len(distinct) <= _MANY else (),
    )


def _share(hits: pl.Series) -> float:
    return float(hits.fill_null(False).mean() or 0.0)  # type: ignore[arg-type] # a share of booleans
