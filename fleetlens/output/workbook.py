"""A finding as an XLSX workbook: a sheet of typed rows, and a sheet that says what they mean."""

import io
import re
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import polars as pl
import xlsxwriter

from fleetlens.errors import FleetlensError
from fleetlens.findings.finding import Finding
from fleetlens.output.flat import flat, heading, text_of

MOST_ROWS = 1_048_575  # a sheet's rows less the header, ECMA-376
MOST_LETTERS = 32_767  # letters in a cell, ECMA-376
# Text stays text: a workbook that computes or links what a workshop typed can be made to do harm.
OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
_BARE_WHOLE = {"model_year", "load_id", "row"}  # whole numbers that name something: no thousands mark


def workbook(finding: Finding) -> bytes:
    """Header frozen and with units, a filter on it, cells typed, text never read as a formula or a link.

    Raises FleetlensError when the rows don't fit on a sheet.
    """
    if finding.rows.height > MOST_ROWS:
        raise FleetlensError(
            f"{finding.rows.height:,} rows don't fit on a sheet, which holds {MOST_ROWS:,}",
            do="write to a .parquet or .csv file, or narrow the question with filters",
        )
    held = io.BytesIO()
    with xlsxwriter.Workbook(held, OPTIONS) as book:
        table = flat(finding.rows)
        rows_sheet(book, _sheet_name(finding.question), table)
        about_sheet(book, finding, table.columns)
    return held.getvalue()


def rows_sheet(book: xlsxwriter.Workbook, name: str, table: pl.DataFrame) -> None:
    """A sheet of typed cells under headings with units; `table` is flat."""
    sheet = book.add_worksheet(name)
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    made: dict[str, Any] = {}
    for at, column in enumerate(table.get_columns()):
        look = _number_format(column)
        cell = made.setdefault(look, book.add_format({"num_format": look}))
        sheet.set_column(at, at, _width(column))
        sheet.write_string(0, at, heading(column.name), head)
        for row, value in enumerate(column.to_list(), start=1):
            _write(sheet, row, at, value, cell)
    sheet.freeze_panes(1, 0)
    if table.width:
        sheet.autofilter(0, 0, table.height, table.width - 1)


def about_sheet(book: xlsxwriter.Workbook, finding: Finding, columns: list[str]) -> None:
    """A sheet that says how the finding came about, and what `columns` mean."""
    sheet = book.add_worksheet("About")
    bold = book.add_format({"bold": True, "valign": "top"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 100)
    for row, (left, right) in enumerate(_about(finding, columns)):
        sheet.write_string(row, 0, left[:MOST_LETTERS], bold)
        sheet.write_string(row, 1, right[:MOST_LETTERS], wrapped)
    sheet.freeze_panes(0, 1)


def _about(finding: Finding, columns: list[str]) -> Iterator[tuple[str, str]]:
    """The lines of the second sheet: what is said, and about what."""
    yield "Question", finding.question
    yield "Method", finding.method
    yield "Period", str(finding.period)
    yield (
        "Filters",
        "; ".join(f"{name}: {', '.join(them)}" for name, them in finding.filters.items()) or "none",
    )
    yield "Snapshot", finding.snapshot
    for title, lines in (
        ("Counted", finding.counted),
        ("Left out", finding.excluded),
        ("Assumed", finding.assumed),
        ("Note", finding.notes),
        ("Caution", finding.cautions),
    ):
        yield from ((title, str(line)) for line in lines)
    yield "", ""
    yield "Column", "Meaning"
    yield from ((heading(name), f"{text_of(name).meaning} [{name}]".strip()) for name in columns)


def _write(sheet: Any, row: int, at: int, value: Any, look: Any) -> None:
    """One cell; unknown stays empty."""
    if value is None:
        return
    if isinstance(value, bool):
        sheet.write_boolean(row, at, value)
    elif isinstance(value, (int, float, Decimal)):
        sheet.write_number(row, at, value, look)
    elif isinstance(value, (date, datetime)):
        # a sheet has no time zones: what is stored is UTC, as the heading says
        sheet.write_datetime(row, at, value.replace(tzinfo=None) if isinstance(value, datetime) else value, look)
    else:
        text = str(value)
        sheet.write_string(row, at, text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1] + "…")


def _number_format(column: pl.Series) -> str:
    kind, unit = column.dtype, text_of(column.name).unit
    if kind == pl.Date:
        return "yyyy-mm-dd"
    if kind == pl.Datetime:
        return "yyyy-mm-dd hh:mm:ss"
    if kind.is_integer():
        return "0" if column.name in _BARE_WHOLE else "#,##0"
    if kind.is_numeric():
        return {"km": "#,##0", "share": "0.000"}.get(unit, "#,##0.00")
    return "General"


def _width(column: pl.Series) -> int:
    """Letters wide enough for most cells and for the longest word of the heading."""
    words = max(len(word) for word in heading(column.name).split())
    longest = column.cast(pl.String).str.len_chars().max() if column.dtype == pl.String else 10
    return min(60, max(10, words + 4, int(longest if isinstance(longest, int) else 0) + 2))


def _sheet_name(question: str) -> str:
    """A name that a sheet may have: at most 31 letters, none reserved, not that of the second sheet."""
    name = re.sub(r"[\[\]:*?/\\']", " ", question).strip()[:31].strip()
    return "Rows" if name.lower() in {"", "about", "history"} else name[0].upper() + name[1:]
