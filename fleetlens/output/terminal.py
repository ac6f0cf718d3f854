"""A finding on a terminal: tables that fit its width, and beneath them how the figures came about."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

import polars as pl
from rich import box
from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from fleetlens.findings.finding import Finding
from fleetlens.output.columns import ESTIMATED, Column, columns, said_once
from fleetlens.output.words import UNKNOWN, harmless

MOST_ROWS = 50
MOST_STEPS = 20  # of a curve, which has a row per step
CURVES = ({"mean_events", "km"}, {"at_risk", "share", "km"}, {"hazard", "km"}, {"share_failed_by", "km"})
LONGEST_KEY = 16  # a longer one is wrapped
LONGEST_WORD = 24  # a longer one is broken
LONGEST_WORD_OF_TEXT = 12
BESIDE = 2  # between two columns: a blank, and the place of a divider


def show(finding: Finding, console: Console) -> None:
    """Print the finding. Text of the workshop is shown as it is, never as markup."""
    console.print(Group(*_parts(finding, console.width)))


def _parts(finding: Finding, width: int) -> Iterator[RenderableType]:
    yield Text(finding.question[:1].upper() + finding.question[1:], style="bold")
    rows = _fewer(finding.rows)
    yield from (Text(f"{label}: {value}") for label, value in said_once(rows).items())
    if rows.is_empty():
        yield Text("\nNothing to show: no row answers this question.")
    else:
        yield from _rows(rows, finding.rows.height, width)
    yield Text("")
    yield lines(_evidence(finding))
    if finding.cautions:
        yield Text("\nBefore anyone starts work", style="bold")
        yield lines(("•", caution) for caution in finding.cautions)


def _rows(rows: pl.DataFrame, of: int, width: int) -> Iterator[RenderableType]:
    """The tables, and what explains their marks."""
    shown = columns(rows)
    for table in tables(shown, width):
        yield Text("")
        yield table
    if rows.height < of:
        yield Text(f"{rows.height:,} of {of:,} rows; --out FILE or --json gives all.")
    yield lines((UNKNOWN, f"{one.heading}: {one.unknown}") for one in shown if one.unknown)
    if any(cell.startswith(ESTIMATED) for one in shown for cell in one.cells):
        yield lines([(ESTIMATED, "estimated from the vehicle's usage")])


def tables(shown: Sequence[Column], width: int) -> Iterator[Table]:
    """The columns in as many tables as the width asks for; each repeats the keys, no figure is broken."""
    keys = [one for one in shown if one.key][:4] or list(shown[:1])
    while len(keys) > 1 and _together(keys) > width // 2:
        keys.pop()
    chunk = list(keys)
    for one in (one for one in shown if one not in keys):
        if len(chunk) > len(keys) and _together([*chunk, one]) > width:
            yield _table(chunk, width)
            chunk = list(keys)
        chunk.append(one)
    yield _table(chunk, width)


def _table(shown: Sequence[Column], width: int) -> Table:
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, BESIDE - 1, 0, 0), pad_edge=False)
    for one, wide in zip(shown, _widths(shown, width), strict=True):
        side: Literal["left", "right"] = "right" if one.right else "left"
        table.add_column(Text(one.heading), width=wide, justify=side, overflow="fold")
    for row in zip(*(one.cells for one in shown), strict=True):
        table.add_row(*(Text(cell) for cell in row))
    return table


def _widths(shown: Sequence[Column], width: int) -> list[int]:
    """Widths that keep each word whole; what is left over unwraps the cells first, then the headings."""
    widths = [_least(one) for one in shown]
    spare = width - _together(shown)
    for texts in ([one.cells for one in shown], [(one.heading,) for one in shown]):
        wishes = sorted((max(_unwrapped(lines) - widths[at], 0), at) for at, lines in enumerate(texts))
        for still, (wish, at) in zip(range(len(wishes), 0, -1), wishes, strict=True):
            given = min(wish, max(spare // still, 0))  # who needs least is served first
            widths[at] += given
            spare -= given
    return widths


def _together(shown: Sequence[Column]) -> int:
    return sum(_least(one) + BESIDE for one in shown)


def _least(column: Column) -> int:
    """The width at which no figure, no key and no word of the heading is broken."""
    head = min(_longest([column.heading]), LONGEST_WORD)
    longest_key = max(map(cell_len, column.cells), default=0)
    if column.key and longest_key <= LONGEST_KEY:
        return max(longest_key, head)
    return max(min(_longest(column.cells), LONGEST_WORD if column.right else LONGEST_WORD_OF_TEXT), head)


def _longest(texts: Iterable[str]) -> int:
    return max((cell_len(word) for text in texts for word in text.split()), default=1)


def _unwrapped(texts: Iterable[str]) -> int:
    return max((cell_len(line) for text in texts for line in text.splitlines()), default=1)


def _fewer(rows: pl.DataFrame) -> pl.DataFrame:
    """As many rows as one reads: of a curve some steps with the first and the last, of a list the top."""
    if not any(curve <= set(rows.columns) for curve in CURVES) or rows.height <= MOST_STEPS:
        return rows.head(MOST_ROWS)
    return rows[[round(at * (rows.height - 1) / (MOST_STEPS - 1)) for at in range(MOST_STEPS)]]


def lines(pairs: Iterable[tuple[str, str]]) -> Table:
    """Text with a label to its left; a long text keeps clear of the labels."""
    told = Table.grid(padding=(0, BESIDE, 0, 0))
    told.add_column(no_wrap=True)
    told.add_column(overflow="fold")
    for label, text in pairs:
        told.add_row(Text(label, style="bold"), Text(harmless(text)))
    return told


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    """What stands behind the figures, as label and text."""
    filters = "; ".join(f"{name} {', '.join(values)}" for name, values in finding.filters.items())
    for label, sentences in (
        ("Method", (finding.method,)),
        ("Period", (f"{finding.period} (snapshot {finding.snapshot})",)),
        ("Only", (filters,) if filters else ()),
        ("Counted", finding.counted),
        ("Left out", finding.excluded),
        ("Assumed", finding.assumed),
        ("Note", finding.notes),
    ):
        yield from (("" if at else label, str(line)) for at, line in enumerate(sentences))
