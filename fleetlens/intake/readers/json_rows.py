"""JSON as rows of text, streamed: an array of objects, one object after another, or an object that holds such arrays.

Values are taken as they are written; true and false are text, null is blank. An object inside a record gives columns
with a dot in their names; a list of plain values is one text with "; " between; a list of objects is a sheet of its
own, with a row for each, the record's own values beside it. Rows are numbered from 1, in each sheet by itself.
"""

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import encoding
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.encoding import Encoding, Utf8
from fleetlens.intake.readers.limits import checked_cells, empty
from fleetlens.intake.readers.sheet import Batch, Sheet

__all__ = ["sheets"]

_ROWS = 20_000  # at a time
_RECORD = 32 << 20  # characters of one record
_COLUMNS = 5_000  # different names in one sheet
_DEEP = 30  # objects in each other
_BLANKS = " \t\r\n\ufeff\x1e"  # the last one stands between the records of a JSON text sequence


def sheets(content: Content) -> list[Sheet]:
    """The sheets of a JSON file: its records, and the lists of objects in them.

    Raises FleetlensError where it isn't JSON, is cut off, or holds no object.
    """
    how = encoding.examine(content)
    names: dict[str, dict[str, None]] = {}
    aside: set[str] = set()
    for part, row in _rows(content, how, aside):
        found = names.setdefault(part, {})
        found.update(dict.fromkeys(row))
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
    columns: dict[str, Any] = {name: [row.get(name, "") for row in rows] for name in schema if name != "row"}
    columns["row"] = range(done + 1, done + 1 + len(rows))
    try:
        frame = pl.DataFrame(columns, schema=schema)
    except UnicodeError:
        for name in columns.keys() - {"row"}:
            columns[name] = [_whole(text) for text in columns[name]]
        frame = pl.DataFrame(columns, schema=schema)
    checked_cells(where, frame)
    return Batch(frame, [], share)


def _rows(content: Content, how: Encoding, aside: set[str]) -> Iterator[tuple[str, dict[str, str]]]:
    with Utf8(content.open(), how) as stream:
        yield from _rows_of(stream, content.where, aside)


def _rows_of(stream: Utf8, where: str, aside: set[str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Every row with the sheet that it belongs to."""
    for part, record in _records(_Text(stream, where), aside):
        yield from _flat(part, "", record, {})


def _records(text: "_Text", aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
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
        yield "", _object(text, text.value())


def _object(text: "_Text", value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise text.fault("a record is no object")
    return value


def _elements(text: "_Text", part: str, aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
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


def _members(text: "_Text", prefix: str, aside: set[str]) -> Iterator[tuple[str, dict[str, Any]]]:
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


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object; a name that comes again is kept under a name of its own."""
    found = {_whole(name): value for name, value in pairs}
    if len(found) < len(pairs):
        found, seen = {}, Counter[str]()
        for name, value in pairs:
            seen[name] += 1
            found[_whole(name) if seen[name] == 1 else f"{_whole(name)} ({seen[name]})"] = value
    return found


def _whole(text: str) -> str:
    """The text without halves of characters, which JSON can write and no text can hold."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


_DECODER = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=str, strict=False, object_pairs_hook=_pairs)


@dataclass(slots=True)
class _Text:
    """JSON text that is read on as it is needed. `done`: lines before what is held."""

    stream: Utf8
    where: str
    held: str = ""
    at: int = 0
    ended: bool = False
    done: int = 0
    rest: bytes = field(default=b"", repr=False)

    def more(self) -> bool:
        """Read on; false at the end."""
        size = max(1 << 20, len(self.held) - self.at)  # doubled, so that a long record isn't begun too often
        block = self.stream.read(size)
        self.ended = not block
        self.rest += block
        cut = len(self.rest) if self.ended else _last_character(self.rest)
        self.done += self.held.count("\n", 0, self.at)
        self.held, self.at = self.held[self.at :] + self.rest[:cut].decode("utf-8", "replace"), 0
        self.rest = self.rest[cut:]
        return not self.ended

    def peek(self) -> str:
        """The next character that isn't blank; "" at the end."""
        while True:
            while self.at < len(self.held) and self.held[self.at] in _BLANKS:
                self.at += 1
            if self.at < len(self.held):
                return self.held[self.at]
            if (self.ended or not self.more()) and self.at >= len(self.held):
                return ""

    def take(self, char: str) -> None:
        """Go past a character that must come now."""
        if self.peek() != char:
            raise self.fault(f"{char!r} is missing")
        self.at += 1

    def value(self) -> Any:
        """The value that begins here."""
        value = self._value()
        if value is _TOO_LONG:
            raise FleetlensError(
                f"a record is longer than {_RECORD >> 20} million characters",
                where=f"{self.where}, line {self.line}",
                do="split it, or look for a quotation mark that is never closed",
            )
        return value

    def whole(self) -> dict[str, Any] | None:
        """The object that begins here; None where it is too long to hold; {} at the end of an empty text."""
        if not self.peek():
            raise empty(self.where)
        value = self._value()
        return None if value is _TOO_LONG else _object(self, value)

    def _value(self) -> Any:
        self.peek()
        while True:
            try:
                value, end = _DECODER.raw_decode(self.held, self.at)
                if end < len(self.held) or self.ended:
                    self.at = end
                    return value
                self.more()
            except json.JSONDecodeError as error:
                if self.ended:
                    cut = error.pos >= len(self.held) - 1 or "Unterminated" in error.msg
                    raise self.fault("it is cut off" if cut else error.msg, error.pos) from None
                if len(self.held) - self.at > _RECORD:
                    if error.pos < len(self.held) - (1 << 20) and "Unterminated" not in error.msg:
                        raise self.fault(error.msg, error.pos) from None
                    return _TOO_LONG
                self.more()
            except RecursionError:
                raise self.fault("its objects are nested too deeply") from None

    def end(self) -> None:
        """Nothing may come now."""
        if self.peek():
            raise self.fault("something follows after its end")

    @property
    def line(self) -> int:
        """The line where the reading stands."""
        return self.done + self.held.count("\n", 0, self.at) + 1

    def fault(self, what: str, at: int | None = None) -> FleetlensError:
        """The error for a text that is no JSON."""
        line = self.done + self.held.count("\n", 0, self.at if at is None else at) + 1
        return FleetlensError(
            f"this is no JSON file that can be read: {what}",
            where=f"{self.where}, line {line}",
            do="save it again as JSON: an array of objects, or one object a line",
        )


_TOO_LONG = object()


def _last_character(text: bytes) -> int:
    """Where the last whole character of UTF-8 ends."""
    for back in range(1, min(4, len(text)) + 1):
        byte = text[-back]
        if byte < 0x80:
            return len(text) - back + 1
        if byte >= 0xC0:
            length = 2 if byte < 0xE0 else 3 if byte < 0xF0 else 4
            return len(text) if back >= length else len(text) - back
    return len(text)
