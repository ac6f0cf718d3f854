"""A cleaned column as plain tuples, and the promises that every cleaner keeps."""

import polars as pl

from fleetlens.intake.values.cleaned import REPAIRS, Cleaned


def told(cleaned: Cleaned) -> list[tuple[str | None, str | None]]:
    """Value and repair of each row."""
    return list(zip(cleaned.values, cleaned.repaired, strict=True))


def column(*texts: str | None) -> pl.Series:
    return pl.Series("column", texts, dtype=pl.String)


def keeps_its_promises(texts: pl.Series, cleaned: Cleaned) -> None:
    """A row for each text; nothing silent, nothing lost, blank stays blank."""
    rows = zip(texts, cleaned.values, cleaned.repaired, cleaned.unreadable, cleaned.remarks, strict=True)
    for text, value, repaired, unreadable, remark in rows:
        tidy = "" if text is None else pl.Series([text]).str.strip_chars()[0]
        if tidy == "":
            assert (value, repaired, unreadable, remark) == (None, None, False, None)
        assert repaired is None or repaired in REPAIRS
        assert value != ""
        if unreadable:
            assert (value, repaired) == (None, None)
            assert remark
        elif value is None:
            assert (
                tidy == ""
                or repaired == "filler"
                or pl.Series([text]).str.contains("^[\\s\u200b-\u200f\u2060\ufeff\u00ad]*$")[0]
            )
        elif value != tidy:
            assert repaired, f"{text!r} became {value!r} silently"
