"""What stands between the columns of a text file, by the evidence of its first rows."""

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass

from fleetlens.intake.readers import header

__all__ = ["Row", "delimiter", "rows", "separator_line"]

_CANDIDATES = (",", ";", "\t", "|")
_ENOUGH = 200  # rows that decide
_NUMBERED = re.compile(r"[^\W\d]\w*")
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|\Z)")
_SEPARATOR_LINE = re.compile(r"(?i)sep=([^\r\n])[ \t;,]*(?:\r\n|\r|\n|\Z)")


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a text: its cells, and where it ends, in characters from the beginning."""

    cells: list[str]
    end: int


def separator_line(text: str) -> tuple[str, int] | None:
    """The character that a first line such as "sep=;" names, and where the line ends."""
    found = _SEPARATOR_LINE.match(text)
    return (found[1], found.end()) if found else None


def rows(text: str, between: str, most: int, *, cut: bool) -> list[Row]:
    """The first rows that aren't blank lines. `cut`: the text goes on beyond, so its last row may not be whole."""
    ends = [0]

    def lines() -> Iterator[str]:
        for found in _LINE.finditer(text):
            if found[0]:
                ends.append(found.end())
                yield found[0]

    found: list[Row] = []
    reader = csv.reader(lines(), delimiter=between)
    try:
        for cells in reader:
            if cells:
                found.append(Row(cells, ends[-1]))
            if len(found) == most:
                return found
    except csv.Error:  # a cell longer than any cell may be: a quotation mark that is never closed
        return found
    return found[:-1] if cut and len(found) > 1 else found


def delimiter(text: str, *, cut: bool) -> str:
    """The candidate under which the first rows look most like a table.

    That is: a row of names, and as many of all rows as may be with as many cells as it has. Of equals the one with
    more columns; a comma where none does. A decimal comma splits the rows, but not the names above them.
    """
    scores = {between: _score(rows(text, between, _ENOUGH, cut=cut)) for between in _CANDIDATES}
    best = max(scores, key=lambda between: scores[between])
    return best if scores[best] > (0, 0) else ","


def _score(found: list[Row]) -> tuple[float, int]:
    cells = [row.cells for row in found]
    if not any(cell.strip() for row in cells for cell in row):
        return (0, 0)
    head = header.find(cells)
    width = len(cells[head.last])
    names = cells[head.last]
    agree = round(sum(len(row) == width for row in cells[head.first :]) / len(cells), 1)
    if width > 1 and header.like_names(names):
        return (agree, width)
    # Names of a letter and digits, such as X1;X2;X3, look like values too: enough only where nothing else speaks.
    numbered = len(set(names)) == width > 1 and all(_NUMBERED.fullmatch(name.strip()) for name in names)
    return (agree / 2, width) if numbered else (0, 0)
