"""The values of one of our columns, cleaned as its origin in the map says.

What can't be read stays as it was written and is noted with the reason, so that its row is refused and nothing is
silently lost, nor taken for what it isn't: 12.5 in a column of decimal commas, 1.2E+11 for a number of a job.
"""

from collections import Counter

import polars as pl

from fleetlens.intake.maps.column_map import Origin
from fleetlens.intake.maps.forms import Weighed, cleaner
from fleetlens.intake.values.cleaned import REPAIRS, Cleaned
from fleetlens.intake.values.text import plain

__all__ = ["UNREAD", "Cleaner", "Tally", "unread"]

UNREAD = {"row": pl.Int64, "column": pl.String, "reason": pl.String}


class Tally:
    """What was repaired in a source, counted by column; as far as its reading has come."""

    def __init__(self) -> None:
        self.repairs: Counter[tuple[str, str]] = Counter()
        self.sentences: Counter[str] = Counter()

    def clear(self) -> None:
        """Begin anew, because the source is read from the start."""
        self.repairs.clear()
        self.sentences.clear()

    def count(self, key: str, repaired: pl.Series) -> None:
        """Add the repairs of one batch of the column `key`."""
        for repair, count in repaired.drop_nulls().value_counts().iter_rows():
            self.repairs[key, repair] += count

    def notes(self, name: str) -> tuple[str, ...]:
        """The counts in words, each beginning with the name of the source."""
        repaired = (
            f"{name}: {count:,} value{'s' if count > 1 else ''} of {column}: {REPAIRS.get(repair, repair)}"
            for (column, repair), count in sorted(self.repairs.items())
        )
        return (*repaired, *(f"{name}: {sentence.format(count)}" for sentence, count in self.sentences.items()))


def unread(ours: str, rows: pl.DataFrame, cleaned: Cleaned) -> pl.DataFrame:
    """The cells of the column that couldn't be read, as UNREAD, with the reason."""
    lost = cleaned.unreadable
    if not lost.any():
        return pl.DataFrame(schema=UNREAD)
    reasons = cleaned.remarks.filter(lost).fill_null("it can't be read")
    return pl.DataFrame({"row": rows["row"].filter(lost), "reason": reasons}).select(
        "row", column=pl.lit(ours), reason="reason"
    )


class Cleaner:
    """One column of one table. `unread`: what of the rows cleaned last couldn't be read, as UNREAD."""

    def __init__(self, table: str, ours: str, origin: Origin, tally: Tally, weighed: Weighed) -> None:
        self.ours, self.origin = ours, origin
        self._key, self._tally = f"{table}.{ours}", tally
        self._meanings = dict(
            zip(_same(pl.Series(origin.values.keys(), dtype=pl.String)), origin.values.values(), strict=True)
        )
        self._clean = cleaner(table, ours, origin, weighed)
        self.unread = pl.DataFrame(schema=UNREAD)

    def clean(self, rows: pl.DataFrame) -> pl.Series:
        """The cleaned text of the column for each of `rows`, the file's columns."""
        if self.origin.constant:
            return pl.repeat(self.origin.constant, rows.height, eager=True, dtype=pl.String).alias(self.ours)
        given = rows[self.origin.column]
        if not self._meanings:
            return self._read(given, rows)
        distinct = given.drop_nulls().unique()
        known = {
            text: ours
            for text, same in zip(distinct, _same(distinct), strict=True)
            if (ours := self._meanings.get(same)) is not None
        }
        if not known:
            return self._read(given, rows)
        emptied = given.is_in([text for text, ours in known.items() if not ours]).sum()
        if emptied:
            self._tally.sentences[f"values of {self._key} left blank, as the map says: {{:,}}"] += int(emptied)
        told = given.is_in(list(known)).fill_null(False)
        rest = self._read(given.set(told, None), rows)
        return (
            pl.select(pl.when(told).then(given.replace_strict(known, default=None)).otherwise(rest))
            .to_series()
            .alias(self.ours)
        )

    def _read(self, given: pl.Series, rows: pl.DataFrame) -> pl.Series:
        cleaned = self._clean(given)
        self.unread = unread(self.ours, rows, cleaned)
        self._tally.count(self._key, cleaned.repaired)
        return pl.select(pl.when(cleaned.unreadable).then(given).otherwise(cleaned.values)).to_series().alias(self.ours)


def _same(texts: pl.Series) -> list[str]:
    """Values as they are compared with those of the map."""
    return [" ".join((tidy or "").split()).casefold() for tidy in plain(texts)]
