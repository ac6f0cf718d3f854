"""JSON that is read on as it is needed: values one after another, never more held than one record and a block."""

import json
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.limits import empty
from fleetlens.intake.readers.utf8 import Utf8

__all__ = ["Text", "whole_text"]

_RECORD = 32 << 20  # characters of one record
_BLANKS = " \t\r\n\ufeff\x1e"  # the last one stands between the records of a JSON text sequence


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object; a name that comes again is kept under a name of its own."""
    found = {whole_text(name): value for name, value in pairs}
    if len(found) < len(pairs):
        found, seen = {}, Counter[str]()
        for name, value in pairs:
            seen[name] += 1
            found[whole_text(name) if seen[name] == 1 else f"{whole_text(name)} ({seen[name]})"] = value
    return found


def whole_text(text: str) -> str:
    """The text without halves of characters, which JSON can write and no text can hold."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


_DECODER = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=str, strict=False, object_pairs_hook=_pairs)


@dataclass(slots=True)
class Text:
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
        if value is TOO_LONG:
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
        return None if value is TOO_LONG else self.record(value)

    def record(self, value: Any) -> dict[str, Any]:
        """The value, which must be an object."""
        if not isinstance(value, dict):
            raise self.fault("a record is no object")
        return value

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
                    return TOO_LONG
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


TOO_LONG = object()


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
