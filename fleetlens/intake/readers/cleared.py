"""Rows that are none, and cells that mean the one above: taken out, filled, and counted.

A row is left out only by one of these rules. Its first filled cell is its lead.
- blank row: no cell is filled.
- header again, title again: its cells are those of the header or of a title above it.
- total row: the lead begins with a word for a total or a balance carried; of the other cells at most one is neither
  empty nor a number, none is a date, and at least one is empty.
- footer: the lead begins like "printed on" or "page 3 of 7", and at most one other cell is filled.
A cell is filled from the row above where it holds nothing but a mark for it: ", '', do., ditto, as above.
"""

import csv
import re
from collections import Counter
from collections.abc import Sequence

import polars as pl

from fleetlens.intake.readers.sheet import Ragged

__all__ = ["Clearing"]

_TOTAL = (
    r"(?i)^\W*(?:(?:grand|sub|over-?all|running|page)[- ]?)?"
    r"(?:totals?|sum|summe|gesamt(?:summe)?|zwischensumme|endsumme|übertrag|(?:sub)?totaal|(?:sous-|sub)?total(?:e|en|es)?"
    r"|somme|suma|razem|(?:balance )?(?:brought|carried) forward)(?:\W|$)"
)
_FOOTER = (
    r"(?i)^\W*(?:printed|print date|page:? ?\d|end of (?:report|list|file)"
    r"|(?:report )?(?:generated|created|exported|run) (?:on|by|at|from)\b"
    r"|gedruckt|erstellt am|ausdruck|druckdatum|seite \d|ende der liste|imprimé|édité le|fin de"
    r"|afgedrukt|pagina \d|einde|stampato|impreso|wydrukowano"
    r"|\d+ (?:rows?|records?|jobs?|entries) (?:listed|printed|exported|found|in all))"
)
# What the two have in common with every text that they match.
# fmt: off
_WORDS = [
    "total", "sum", "gesamt", "übertrag", "ÜBERTRAG", "totaal", "forward", "suma", "somme", "razem", "print", "page",
    "seite", "end", "generated", "created", "exported", "run", "gedruckt", "erstellt", "ausdruck", "druck", "imprim",
    "édité", "ÉDITÉ", "fin", "afgedrukt", "pagina", "eind", "stampato", "impreso", "wydruk", "listed", "found",
    "in all",
]
# fmt: on
_NUMBER = re.compile(
    r"^[-+(]*(?:[€£$%]|eur|gbp|usd|chf)?\s*[-+(]*\d[\d.,'’\s]*\)?-?\s*(?:[€£$%]|eur|gbp|usd|chf|km|mi|h|hrs?|l)?$", re.I
)
_DATE = re.compile(r"^\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\b")
_MARKS = (
    '"',
    "''",
    "”",
    "“",
    "〃",
    '-"-',
    '- " -',
    '--"--',
    "do.",
    "ditto",
    "as above",
    "dto.",
    "dto",
    "dito",
    "idem",
    "s.o.",
    "w.o.",
)
_DITTO = [
    spelt
    for mark in _MARKS
    for spelt in dict.fromkeys((mark, mark.upper(), mark.capitalize(), f" {mark} ", f" {mark}", f"{mark} "))
]
_BLANKS = " \t\r\n\u00a0"


class Clearing:
    """The rules at work on one reading of a sheet: batch after batch, with what the last row held."""

    def __init__(self, headers: Sequence[Sequence[str]], titles: Sequence[Sequence[str]], tally: Counter[str]) -> None:
        self._again = {_key(row): "header again" for row in headers} | {_key(row): "title row" for row in titles}
        self._again.pop((), None)
        self._leads = [key[0] for key in self._again]
        self._last: dict[str, str] = {}
        self._tally = tally

    def kept(self, frame: pl.DataFrame, columns: Sequence[str]) -> pl.DataFrame | None:
        """Which rows of `frame` are rows of the table, as one column "kept"; None where all are."""
        lead = _leads(frame, columns)
        # Any of the words is looked for first, since that is cheap; the rules themselves judge what is left.
        worded = lead.str.contains_any(_WORDS, ascii_case_insensitive=True)
        asked = (worded | lead.str.strip_chars(_BLANKS).is_in(self._leads)).fill_null(False)
        blank = lead.is_null()
        out = []
        if asked.any():
            asked &= lead.is_in([text for text in lead.filter(asked).unique() if self._leading(text)])
            # Headers and titles come again on every page: rows alike are judged once.
            alike = frame.filter(asked).select(columns).rows()
            judged = {row: self.reason(row) for row in set(alike)}
            out = [index for index, row in zip(asked.arg_true(), alike, strict=True) if judged[row]]
            self._tally.update(reason for row in alike if (reason := judged[row]))
        if not out and not blank.any():
            return None
        self._tally["blank row"] += int(blank.sum())
        return pl.DataFrame({"kept": ~blank}).select(kept=pl.col("kept") & ~pl.int_range(pl.len()).is_in(out))

    def _leading(self, lead: str) -> bool:
        """Whether a row with this lead may be left out, by a rule on its other cells."""
        lead = lead.strip(_BLANKS)
        return lead in self._leads or bool(re.search(_TOTAL, lead) or re.search(_FOOTER, lead))

    def ragged(self, rows: Sequence[Ragged], between: str) -> list[Ragged]:
        """Of the rows of another length, those that no rule leaves out."""
        return [row for row in rows if not self._named(next(csv.reader([row.text], delimiter=between), []), most=False)]

    def _named(self, cells: Sequence[str], *, most: bool = True) -> bool:
        """Whether a rule leaves the row out; counted. `most`: the row is as wide as the table."""
        reason = self.reason(cells, whole=most)
        if reason:
            self._tally[reason] += 1
        return reason is not None

    def reason(self, cells: Sequence[str], *, whole: bool = True) -> str | None:
        """The rule that leaves a row out. `whole`: it is as wide as the table; else what it lacks counts as empty."""
        key = _key(cells)
        if not key:
            return "blank row"
        if key in self._again:
            return self._again[key]
        lead, *others = key
        if re.search(_TOTAL, lead) and (len(key) < len(cells) or not whole):
            texts = [cell for cell in others if not _NUMBER.match(cell)]
            if len(texts) <= 1 and not any(_DATE.match(cell) for cell in others):
                return "total row"
        if re.search(_FOOTER, lead) and len(others) <= 1 and (len(cells) > 2 or not whole):
            return "footer"
        return None

    def filled(self, frame: pl.DataFrame, columns: Sequence[str]) -> pl.DataFrame:
        """The rows with the cells that mean the one above filled from it."""
        marks = frame.select(pl.col(columns).is_in(_DITTO).any()).row(0) if frame.height else ()
        filled = []
        for name, marked in zip(columns, marks, strict=False):
            if not marked:
                continue
            ditto = frame[name].is_in(_DITTO)
            above = pl.Series(name, frame.select(pl.when(~ditto).then(pl.col(name)))[name]).forward_fill()
            series = above.fill_null(self._last[name]) if name in self._last else above
            self._tally["ditto cell"] += int((ditto & series.is_not_null()).sum())
            filled.append(series.fill_null(frame[name]))
        frame = frame.with_columns(filled)
        if frame.height:
            self._last = dict(zip(columns, frame.select(columns).row(-1), strict=True))
        return frame


def _key(cells: Sequence[str]) -> tuple[str, ...]:
    return tuple(tidy for cell in cells if (tidy := (cell or "").strip(_BLANKS)))


def _leads(frame: pl.DataFrame, columns: Sequence[str]) -> pl.Series:
    """The first filled cell of each row, null where there is none."""
    first = frame.select(_or_null(columns[0])).to_series()
    if not first.null_count():
        return first
    first = frame.select(pl.coalesce(pl.when(pl.col(name) != "").then(name) for name in columns)).to_series()
    if not (first.str.strip_chars(_BLANKS) == "").any():  # cells of blanks are rare, and cost a closer look at all
        return first
    return frame.select(pl.coalesce(_or_null(name) for name in columns)).to_series()


def _or_null(name: str) -> pl.Expr:
    return pl.when(pl.col(name).str.strip_chars(_BLANKS) != "").then(pl.col(name))
