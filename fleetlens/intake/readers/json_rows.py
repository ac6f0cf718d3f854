"""JSON as rows of text, streamed: an array of objects, one object after another, or an object that holds such arrays.

Values are taken as they are written; true and false are text, null is blank. An object inside a record gives columns
with a dot in their names; a list of plain values is one text with "; " between; a list of objects is a sheet of its
own, with a row for each, the record's own values beside it. Rows are numbered from 1, in each sheet by itself.
"""

import json
from collections.abc import Iterator
from functools import partial
from typing import Any

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import encoding
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.json_text import Text, whole_text
from fleetlens.intake.readers.limits import checked_cells, empty
from fleetlens.intake.readers.sheet import Batch, Sheet, as_column, as_written
from fleetlens.intake.readers.utf8 import Encoding, Utf8

__all__ = ["sheets"]

_ROWS = 20_000  # at a time
_COLUMNS = 5_000  # different names in one sheet
_DEEP = 30  # objects in each other


def sheets(content: Content) -> list[Sheet]:
    """The sheets of a JSON file: its records, and the lists of objects in them.

    Raises FleetlensError where it isn't JSON, is cut off, or holds no object.
    """
    how = encoding.examine(content)
    names: dict[str, dict[str, None]] = {}
    aside: set[str] = set()
    for part, row in _rows(content, how, aside):
        found = names.setdefault(part, {})
        found.update(dict.fromkeys(map(as_column, row)))
        if len(found) > _COLUMNS:
            raise FleetlensError(
                f"its records have more than {_COLUMNS:,} different names",
                where=content.where,
                do="write what differs from record to record as values, not as names",
            )
    if not names:
        raise empty(content.where)
    facts = [*how.found]
    if lists := [part for part in names if part and part != next(iter(names))]:
        facts.append(f"lists read as sheets of their own: {', '.join(lists)}")
    if aside:
        facts.append(f"no rows, left aside: {', '.join(sorted(aside))}")
    return [
        Sheet(
            path=content.path,
            part=" ".join(word for word in (content.part, part) if word),
            columns=tuple(found),
            header_row=0,
            found=tuple(facts),
            read=partial(_read, content, how, part, tuple(found)),
            written=tuple(found),
            label=part.rpartition(".")[2] or content.label,
        )
        for part, found in names.items()
    ]


def _read(
    content: Content, how: Encoding, part: str, names: tuple[str, ...], columns: tuple[str, ...] | None
) -> Iterator[Batch]:
    wanted = names if columns is None else columns
    schema = {"row": pl.Int64} | dict.fromkeys(wanted, pl.String)
    done, held = 0, list[dict[str, str]]()
    with Utf8(content.open(), how) as stream:
        for found, row in _rows_of(stream, content.where, set()):
            if found == part:
                held.append(row)
            if len(held) == _ROWS:
                yield _batch(content.where, held, done, schema, stream.share)
                done += len(held)
                held = []
    if held:
        yield _batch(content.where, held, done, schema, 1.0)


def _batch(where: str, rows: list[dict[str, str]], done: int, schema: dict[str, Any], share: float) -> Batch:
    columns: dict[str, Any] = {
        name: [row.get(as_written(name), "") for row in rows] for name in schema if name != "row"
    }
    columns["row"] = range(done + 1, done + 1 + len(rows))
    try:
        frame = pl.DataFrame(columns, schema=schema)
    except UnicodeError:
        for name in columns.keys() - {"row"}:
            columns[name] = [whole_text(text) for text in columns[name]]
        frame = pl.DataFrame(columns, schema=schema)
    checked_cells(where, frame)
    return Batch(frame, [], share)


def _rows(content: Content, how: Encoding, aside: set[str]) -> Iterator[tuple[str, dict[str, str]]]:
    with Utf8(content.open(), how) as stream:
        yield from _rows_of(stream, content.where, aside)


def _rows_of(stream: Utf8, where: str, aside: set[str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Every row with the sheet that it belongs to."""
    for part, record in _records(Text(stream, where), aside):
        yield from _flat(part, "", record, {})


def _records(text: Text, aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every record with the name of the array that holds it, "" where it has none."""
    first = text.peek()
    if first == "[":
        yield from _elements(text, "", aside)
        text.end()
        return
    if first != "{" and first:
        raise text.fault("this is no JSON with objects in it")
    begun = text.whole()
    if begun is None:  # too long for a record: an object that holds arrays
        yield from _members(text, "", aside)
        text.end()
        return
    if not text.peek() and (inner := list(_inside("", begun, aside))):
        yield from inner
        return
    aside.clear()
    yield "", begun
    while text.peek():
        if text.peek() == ",":
            text.take(",")
        yield "", text.record(text.value())


def _elements(text: Text, part: str, aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The objects of the array that begins here."""
    text.take("[")
    more = text.peek() != "]"
    while more:
        value = text.value()
        if isinstance(value, dict):
            yield part, value
        elif part:
            aside.add(part)
        else:
            raise text.fault("a record is no object")
        more = text.peek() == ","
        if more:
            text.take(",")
    text.take("]")


def _members(text: Text, prefix: str, aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The records in the arrays of the object that begins here."""
    text.take("{")
    more = text.peek() != "}"
    while more:
        name = prefix + str(text.value())
        text.take(":")
        opening = text.peek()
        if opening == "[":
            yield from _elements(text, name, aside)
        elif opening == "{" and name.count(".") < _DEEP:
            yield from _members(text, f"{name}.", aside)
        else:
            text.value()
            aside.add(name)
        more = text.peek() == ","
        if more:
            text.take(",")
    text.take("}")


def _inside(prefix: str, held: dict[str, Any], aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The records in the arrays of an object at hand; none where it is itself a record."""
    for name, value in held.items():
        if isinstance(value, dict):
            yield from _inside(f"{prefix}{name}.", value, aside)
        elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
            yield from ((prefix + name, item) for item in value if isinstance(item, dict))
        else:
            aside.add(prefix + name)


def _flat(
    root: str, inside: str, record: dict[str, Any], above: dict[str, str]
) -> Iterator[tuple[str, dict[str, str]]]:
    """The row of a record, then those of the lists in it. `inside`: the list that the record is in, "" for none."""
    lists: list[tuple[str, list[dict[str, Any]]]] = []
    row = dict(above)
    for name, text in _cells(record, f"{inside}." if inside else "", lists):
        free = name
        while free in row:
            free += "'"
        row[free] = text
    yield ".".join(part for part in (root, inside) if part), row
    for name, items in lists:
        for item in items:
            yield from _flat(root, name, item, row)


def _cells(
    record: dict[str, Any], prefix: str, lists: list[tuple[str, list[dict[str, Any]]]]
) -> Iterator[tuple[str, str]]:
    for name, value in record.items():
        if isinstance(value, dict):
            yield from _cells(value, f"{prefix}{name}.", lists)
        elif isinstance(value, list):
            objects = [item for item in value if isinstance(item, dict)]
            if objects:
                lists.append((prefix + name, objects))
            if len(objects) < len(value) or not value:
                yield prefix + name, "; ".join(_text(item) for item in value if not isinstance(item, dict))
        else:
            yield prefix + name, _text(value)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
