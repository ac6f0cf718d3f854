"""Which row holds the names of the columns, by the evidence of the first rows, and the names made unique."""

import re
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from fleetlens.intake.readers.sheet import as_column

__all__ = ["Header", "find", "like_names", "unique"]

_FIRST = 40  # rows among which the header is looked for
_DIGITS = re.compile(r"\d")
_LETTERS = re.compile(r"\w")

Cells = Sequence[str]


@dataclass(frozen=True, slots=True)
class Header:
    """The header is row `first` to `last` (two rows, or the same) of those given; `names` as written, "" where none."""

    first: int
    last: int
    names: tuple[str, ...]


def find(rows: Sequence[Cells]) -> Header:
    """The first row that is no title: one with at most half as many filled cells as the rows of the table have.

    It must look like names, and not like data; where the first row that is no title doesn't, it is the first row
    after all. A row below belongs to it where it fills its gaps or tells its repeated names apart, has no digits,
    and stands on columns of digits; a row of groups above it, where names would be repeated or missing without it.
    Raises ValueError where no row has a cell.
    """
    shown = [_filled(row) for row in rows]
    there = [index for index, count in enumerate(shown) if count]
    if not there:
        raise ValueError("no row has a cell")
    counts = [shown[index] for index in there]
    typical = sorted(counts)[3 * len(counts) // 4]
    width = statistics.mode(len(rows[index]) for index in there)
    chosen = there[0]
    for index in there[:_FIRST]:
        small = 2 * shown[index] <= typical and (typical >= 3 or len(rows[index]) < width)
        if small or (typical >= 3 and len({cell.strip() for cell in rows[index] if cell.strip()}) == 1):
            continue
        if index == there[0] or like_names(rows[index]):
            chosen = index
        break
    return _with_neighbour(rows, chosen, titled=chosen != there[0])


def like_names(row: Cells) -> bool:
    """Whether at least three of four filled cells could be names: mostly letters, and few twice."""
    cells = [cell.strip() for cell in row if cell.strip()]
    named = sum(not _value(cell) for cell in cells)
    return 4 * named >= 3 * len(cells) > 0 and 2 * len(set(cells)) >= len(cells)


def unique(names: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names with a number where one comes again, "column 3" where there is none; and what there is to tell."""
    tidy = [name.strip() for name in names]
    taken = Counter(tidy)
    seen: Counter[str] = Counter()
    made: list[str] = []
    for place, name in enumerate(tidy, 1):
        seen[name] += 1
        wanted = f"column {place}" if not name else f"{name} ({seen[name]})" if seen[name] > 1 else names[place - 1]
        while wanted in made or (wanted != names[place - 1] and wanted in taken):
            wanted += "'"
        made.append(as_column(wanted))
    facts = []
    if again := [name for name, count in taken.items() if name and count > 1]:
        facts.append(f"names there twice, numbered: {', '.join(again)}")
    return tuple(made), tuple(facts)


def _filled(row: Cells) -> int:
    return sum(bool(cell.strip()) for cell in row)


def _value(cell: str) -> bool:
    """A number, a date, a code: more than a third digits."""
    return 3 * len(_DIGITS.findall(cell)) > len(_LETTERS.findall(cell))


def _with_neighbour(rows: Sequence[Cells], chosen: int, *, titled: bool) -> Header:
    top = tuple(rows[chosen])
    if chosen + 1 < len(rows) and _completes(top, rows[chosen + 1], rows[chosen + 2 :]):
        return Header(chosen, chosen + 1, _joined(top, rows[chosen + 1]))
    if titled and chosen > 0 and _groups(rows[chosen - 1], top):
        return Header(chosen - 1, chosen, _joined(rows[chosen - 1], top))
    return Header(chosen, chosen, top)


def _completes(top: Cells, below: Cells, body: Sequence[Cells]) -> bool:
    """Whether the row below is the second row of the header."""
    if len(below) != len(top) or not any(cell.strip() for cell in below):
        return False
    names = [cell.strip() for cell in top]
    gaps = [place for place, name in enumerate(names) if not name or names.count(name) > 1]
    filled = [place for place, cell in enumerate(below) if cell.strip()]
    if not set(gaps) <= set(filled) or not gaps or any(_DIGITS.search(below[place]) for place in filled):
        return False
    return any(_column_of_digits(body, place) for place in filled)


def _column_of_digits(body: Sequence[Cells], place: int) -> bool:
    cells = [row[place] for row in body if place < len(row) and row[place].strip()]
    return bool(cells) and 2 * sum(bool(_DIGITS.search(cell)) for cell in cells) > len(cells)


def _groups(above: Cells, names: Cells) -> bool:
    """Whether the row above names groups of columns."""
    filled = [cell.strip() for cell in above if cell.strip()]
    lower = [cell.strip() for cell in names if cell.strip()]
    if len(above) != len(names) or len(filled) < 2 or any(_DIGITS.search(cell) for cell in filled):
        return False
    needed = len(set(lower)) < len(lower) or len(lower) < len(names)
    return needed or (len(filled) >= 3 and 3 * len(filled) >= len(lower))


def _joined(above: Cells, below: Cells) -> tuple[str, ...]:
    """Both names with a blank between; a group's name goes on to the right over the names below."""
    names, group = [], ""
    for upper, lower in zip(above, below, strict=True):
        group = upper.strip() or group
        names.append(" ".join(part for part in (group if lower.strip() else upper.strip(), lower.strip()) if part))
    return tuple(names)
