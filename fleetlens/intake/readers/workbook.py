"""XLSX, XLS, ODS and their kin as sheets of text.

The values are those that the workbook keeps; nothing is calculated. Rows have the numbers that the workbook shows.
The reading itself is done by `workbook_child` in a process of its own.
"""

import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import header
from fleetlens.intake.readers.cleared import Clearing
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.limits import checked_cells, empty
from fleetlens.intake.readers.sheet import Batch, Sheet

__all__ = ["protected", "sheets"]

_PROGRAM = Path(__file__).with_name("workbook_child.py")
_LARGEST = 256 << 20  # bytes of a workbook's file
_PATIENCE = 300  # seconds
_ROWS = 100_000  # at a time
_FIRST = 200  # rows by which the layout is judged
_ERRORS = r"^(#REF!|#N/A|#NAME\?|#VALUE!|#DIV/0!|#NULL!|#NUM!|Err:\d+)$"
_LONG_NUMBER = r"^-?\d+\.\d{12,}$"  # more digits than a workbook shows: 0.30000000000000004


@dataclass(frozen=True, slots=True)
class _Area:
    """The rows below the header: as they stand, and with merged cells filled. `first`: the number of the first row."""

    bare: pl.DataFrame
    filled: pl.DataFrame
    first: int
    headers: tuple[tuple[str, ...], ...]
    titles: tuple[tuple[str, ...], ...]


def sheets(content: Content, kind: str) -> list[Sheet]:
    """The sheets of a workbook that hold anything; `kind`: "xlsx", "ods" or "xls".

    Raises FleetlensError where it can't be read, is protected by a password, or is empty.
    """
    with tempfile.TemporaryDirectory(prefix="fleetlens-") as name:
        folder = Path(name)
        told = _child(content, kind, folder)
        found = [_sheet(content, facts, folder / f"{number}.arrow") for number, facts in enumerate(told)]
    full = [sheet for sheet in found if sheet is not None]
    if not full:
        raise empty(content.where)
    return full


def _child(content: Content, kind: str, folder: Path) -> list[dict[str, Any]]:
    book = content.path
    if not content.plain:
        book = folder / "book"
        book.write_bytes(content.whole())
    if book.stat().st_size > _LARGEST:
        raise _unreadable(content, f"it is larger than {_LARGEST >> 20} MB")
    try:
        subprocess.run(
            [sys.executable, "-I", "-X", "utf8", str(_PROGRAM), str(book), str(folder), kind],
            timeout=_PATIENCE,
            check=True,
            stdin=subprocess.DEVNULL,
            capture_output=True,
        )
        told: dict[str, Any] = json.loads((folder / "book.json").read_text(encoding="utf-8"))
    except subprocess.TimeoutExpired:
        raise _unreadable(content, f"it took longer than {_PATIENCE} seconds") from None
    except (subprocess.CalledProcessError, OSError, ValueError):
        raise _unreadable(content, "it is damaged, or too large to hold") from None
    if "protected" in told:
        raise protected(content)
    if "fault" in told:
        raise _unreadable(content, told["fault"])
    found: list[dict[str, Any]] = told["sheets"]
    return found


def _sheet(content: Content, facts: dict[str, Any], file: Path) -> Sheet | None:
    """One sheet; None where it is empty."""
    if not file.exists():
        return None
    cells, errors = _texts(pl.read_ipc(file.read_bytes()), facts)
    shown = cells.select(pl.any_horizontal(pl.all() != "")).to_series()
    if not shown.any():
        return None
    last = int(shown.arg_true()[-1]) + 1
    places = shown.head(10 * _FIRST).arg_true().head(_FIRST).to_list()
    first = [cells.row(place) for place in places]
    head = header.find(first)
    number = places[head.last] + 1
    body = cells.slice(number, last - number)
    kept = [
        name
        for name, written, used in zip(
            body.columns, head.names, body.select((pl.all() != "").any()).row(0), strict=True
        )
        if written.strip() or used
    ]
    written = [name for name, column in zip(head.names, body.columns, strict=True) if column in kept]
    columns, names_told = header.unique(written)
    filled, merges = _merged(body, facts, number)
    spelt = dict(zip(kept, columns, strict=True))
    tally: Counter[str] = Counter()
    area = _Area(
        bare=body.select(kept).rename(spelt),
        filled=filled.select(kept).rename(spelt),
        first=number + 1,
        headers=tuple(tuple(row) for row in first[head.first : head.last + 1]),
        titles=tuple(tuple(row) for row in first[: head.first]),
    )
    where = f"{content.where} [{facts['name']}]"
    part = " ".join(word for word in (content.part, facts["name"]) if word)
    return Sheet(
        path=content.path,
        part=part,
        columns=columns,
        header_row=number,
        found=(
            *(("hidden sheet",) if facts["hidden"] else ()),
            f"header in row {number}"
            if head.first == head.last
            else f"header in rows {places[head.first] + 1} and {number}, joined",
            *names_told,
            *_remarks(facts, errors, merges),
        ),
        read=partial(_read, where, area, columns, tally),
        written=tuple(written),
        label=facts["name"],
        hidden=facts["hidden"],
        tally=tally,
    )


def _read(
    where: str, area: _Area, columns: tuple[str, ...], tally: Counter[str], wanted: Sequence[str] | None
) -> Iterator[Batch]:
    tally.clear()
    if area.titles:
        tally["title row"] = len(area.titles)
    clearing = Clearing(area.headers, area.titles, tally)
    height = area.bare.height
    for start in range(0, height, _ROWS):
        kept = clearing.kept(area.bare.slice(start, _ROWS), columns)
        rows = area.filled.slice(start, _ROWS)
        rows = rows.with_columns(row=pl.int_range(area.first + start, area.first + start + rows.height, dtype=pl.Int64))
        rows = clearing.filled(rows if kept is None else rows.filter(kept["kept"]), columns)
        checked_cells(where, rows)
        yield Batch(
            rows.select("row", *(columns if wanted is None else wanted)), [], min((start + _ROWS) / height, 1.0)
        )


def _texts(cells: pl.DataFrame, facts: dict[str, Any]) -> tuple[pl.DataFrame, int]:
    """The cells as text, blank where there is nothing, dates without a midnight; and how many show an error."""
    cells = cells.rename({name: str(place) for place, name in enumerate(cells.columns)})
    for place, text in facts.get("times", {}).items():  # a time of day, which the library leaves out
        row, column = (int(part) for part in place.split(","))
        name = str(column - 1 - facts["first"])
        if name in cells.columns and row <= cells.height and (found := re.fullmatch(r"PT(\d+)H(\d+)M(\d+).*S", text)):
            cells[row - 1, name] = f"{int(found[1]):02}:{found[2]:0>2}:{found[3]:0>2}"
    wrong = cells.select(pl.all().str.contains(_ERRORS).sum().cast(pl.Int64)).sum_horizontal().item()
    long = pl.all().str.contains(_LONG_NUMBER)
    cells = cells.with_columns(
        pl.when(pl.all().str.contains(_ERRORS))
        .then(pl.lit(""))
        .otherwise(pl.all().str.replace(r"^(\d{4}-\d{2}-\d{2}) 00:00:00$", "${1}").str.replace(r"^1899-12-31 ", ""))
        .fill_null("")
        .name.keep()
    )
    if any(cells.select(long.any()).row(0)):
        cells = cells.with_columns(
            pl.when(long)
            .then(pl.all().map_elements(_shortened, return_dtype=pl.String))
            .otherwise(pl.all())
            .name.keep()
        )
    return cells, int(wrong or 0)


def _shortened(text: str) -> str:
    """A long fraction with the 15 digits that a workbook keeps to."""
    return format(float(text), ".15g") if re.match(_LONG_NUMBER, text) else text


def _merged(body: pl.DataFrame, facts: dict[str, Any], header_row: int) -> tuple[pl.DataFrame, int]:
    """The rows with merged cells filled from their top left, and how many areas that were."""
    columns: dict[str, list[str]] = {}
    count = 0
    for top, left, bottom, right in facts.get("merges", ()):
        begin, end = top - 1 - header_row, min(bottom - header_row, body.height)
        first, last = left - 1 - facts["first"], min(right - facts["first"], body.width)
        if begin < 0 or first < 0 or begin >= end or first >= last:
            continue
        count += 1
        names = [str(place) for place in range(first, last)]
        for name in names:
            columns.setdefault(name, body[name].to_list())
        value = columns[names[0]][begin]
        for name in names:
            columns[name][begin:end] = [value] * (end - begin)
    return body.with_columns(pl.Series(name, cells) for name, cells in columns.items()), count


def _remarks(facts: dict[str, Any], errors: int, merges: int) -> Iterator[str]:
    """What there is to tell of a sheet's cells."""
    marked, places = facts.get("errors", (0, []))
    count = max(errors, marked)
    if count:
        yield f"{_count(count, 'cell')} with an error such as #REF!, taken as blank{_places(places)}"
    count, places = facts.get("bare", (0, []))
    if count:
        yield f"{_count(count, 'formula')} without a value, taken as blank{_places(places)}"
    if merges:
        yield f"{_count(merges, 'merged area')} filled"
    if facts.get("hidden_rows"):
        yield f"{_count(facts['hidden_rows'], 'hidden or filtered row')} read like the others"


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _places(places: Sequence[str]) -> str:
    return f": {', '.join(places)}" if places else ""


def protected(content: Content) -> FleetlensError:
    """The error for a file that is locked by a password."""
    return FleetlensError("this file is protected by a password", where=content.where, do="save it without a password")


def _unreadable(content: Content, why: str) -> FleetlensError:
    return FleetlensError(
        f"this is no workbook that can be read: {why}",
        where=content.where,
        do="open it in a spreadsheet program and save it again as XLSX, or as CSV",
    )
