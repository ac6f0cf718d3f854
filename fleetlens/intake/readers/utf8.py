"""A text in any encoding as the same text in UTF-8, block by block."""

import codecs
import re
from collections.abc import Callable
from dataclasses import dataclass

from fleetlens.intake.readers.content import Stream

__all__ = ["BEYOND_ASCII", "JUNK", "NO_CP1252", "Encoding", "Utf8", "drop", "once", "whole_runs"]

NO_CP1252 = frozenset(b"\x81\x8d\x8f\x90\x9d")  # bytes that mean nothing in cp1252
BEYOND_ASCII = re.compile("[^\x00-\x7f]+")
JUNK = re.compile("[\x00\x1a]")  # zero bytes, and the end-of-file mark of DOS
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Encoding:
    """How to read a text. `codec` and `errors` are Python's; `mark`: bytes before the text.

    `junk`: zero bytes and the like, dropped; `twice`: it was encoded twice; `odd`: an odd number of quotation marks.
    """

    name: str
    codec: str
    errors: str = "strict"
    mark: int = 0
    junk: int = 0
    twice: bool = False
    odd: bool = False

    @property
    def found(self) -> tuple[str, ...]:
        """What there is to tell people."""
        facts = [self.name]
        if self.twice:
            facts.append("encoded twice: put right")
        if self.junk:
            facts.append(f"{self.junk:,} zero bytes dropped" if self.junk > 1 else "1 zero byte dropped")
        return tuple(facts)


class Utf8:
    """The same text as a stream in UTF-8, without mark and junk; `skip`: bytes of that to leave out at the start."""

    def __init__(self, stream: Stream, encoding: Encoding, skip: int = 0) -> None:
        self._stream, self._encoding = stream, encoding
        self._plain = (
            encoding.codec == "utf-8" and encoding.errors == "strict" and not (encoding.junk or encoding.twice)
        )
        self._decoder = codecs.getincrementaldecoder(encoding.codec)(encoding.errors)
        self._held, self._open_run, self._ended = b"", "", False
        self.closed = False
        self.given = 0
        drop(stream.read, encoding.mark)
        drop(self.read, skip)

    def read(self, size: int = -1) -> bytes:
        """At most `size` bytes, b"" at the end; `given` counts them."""
        block = self._stream.read(size) if self._plain else self._decoded(size)
        self.given += len(block)
        return block

    def _decoded(self, size: int) -> bytes:
        found = [self._held]
        held = len(self._held)
        any_size = size is None or size < 0
        while (
            held < (1 if any_size else size) and not self._ended
        ):  # full blocks, since what reads them makes a batch of each
            found.append(self._next())
            held += len(found[-1])
        whole = b"".join(found)
        given, self._held = (whole, b"") if any_size else (whole[:size], whole[size:])
        return given

    @property
    def share(self) -> float:
        """How much of the file has been read, 0 to 1."""
        return self._stream.share

    def readable(self) -> bool:
        """Always: what a reader of files asks first."""
        return True

    def close(self) -> None:
        """Let go of the file."""
        self.closed = True
        self._stream.close()

    def __enter__(self) -> "Utf8":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _next(self) -> bytes:
        block = self._stream.read(_BLOCK)
        self._ended = not block
        text = self._decoder.decode(block, final=self._ended)
        if self._encoding.junk:
            text = JUNK.sub("", text)
        if self._encoding.twice:
            text, self._open_run = whole_runs(self._open_run + text, self._ended)
            text = BEYOND_ASCII.sub(lambda run: once(run[0]) or run[0], text)
        return text.encode("utf-8", "replace")


def _as_cp1252(error: UnicodeError) -> tuple[str, int]:
    """Python's way to decode bytes that aren't UTF-8: here as cp1252."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    wrong = error.object[error.start : error.end]
    return "".join(bytes([b]).decode("latin-1" if b in NO_CP1252 else "cp1252") for b in wrong), error.end


codecs.register_error("fleetlens.cp1252", _as_cp1252)


def once(run: str) -> str | None:
    """Characters beyond ASCII that were encoded twice, as they were meant; None where they were not."""
    try:
        return bytes(_byte(char) for char in run).decode("utf-8")
    except (ValueError, UnicodeError):
        return None


def _byte(char: str) -> int:
    return ord(char) if ord(char) in NO_CP1252 else char.encode("cp1252")[0]


def whole_runs(text: str, ended: bool) -> tuple[str, str]:
    """The text up to a run of characters beyond ASCII that may go on, and that run."""
    if ended or not text or text[-1].isascii():
        return text, ""
    cut = max((found.start() for found in BEYOND_ASCII.finditer(text[-64:])), default=0)
    cut += max(len(text) - 64, 0)
    return text[:cut], text[cut:]


def drop(read: Callable[[int], bytes], size: int) -> None:
    """Read so many bytes and let them go."""
    while size > 0 and (block := read(size)):
        size -= len(block)
