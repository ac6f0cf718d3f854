"""In which encoding a text file is written, by the evidence of all its bytes.

A file that is valid UTF-8 is UTF-8. Else: UTF-16 by its mark or by where its zero bytes stand; UTF-8 with single
bytes of cp1252 in it where valid characters outnumber the others; else one byte is one character. Of those cp1252 and
Latin-1 differ only in the bytes 0x80 to 0x9F, and cp850 (old DOS programs) is told by letters: a byte between two
letters is a letter. Text that was written as UTF-8, read as cp1252 and written as UTF-8 again is put right where
every character beyond ASCII in the file shows it.
"""

import codecs
import re

import numpy as np

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.utf8 import BEYOND_ASCII, JUNK, NO_CP1252, Encoding, drop, once, whole_runs

__all__ = ["examine"]

_BLOCK = 1 << 20
_MARKS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8 with a mark"),
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)
_OTHER_KINDS = (
    b"\x7fELF",
    b"%PDF",
    b"\x89PNG",
    b"GIF8",
    b"\xff\xd8\xff",
    b"MZ\x90",
    b"SQLite format 3",
    b"Rar!",
    b"7z\xbc",
)
_CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\v\f\r\x1a\x1b")
_ASCII = bytes(range(128))
_BETWEEN_LETTERS = re.compile(rb"(?<=[A-Za-z])[\x80-\xff](?=[A-Za-z])")
_SURE = 1_000  # wrong bytes after which a file isn't UTF-8


def examine(content: Content) -> Encoding:
    """The encoding of a text file, from one pass over all of it.

    Raises FleetlensError where it is no text, or ends in the middle of a character.
    """
    start = content.start(1 << 16)
    mark, codec, name = next((found for found in _MARKS if start.startswith(found[0])), (b"", "", ""))
    codec = codec or _unmarked_utf16(start)
    if codec not in ("", "utf-8"):
        return _checked_wide(content, codec, name or "UTF-16 without a mark", len(mark))
    if start.startswith(_OTHER_KINDS) or 3 * (len(start) - len(start.translate(None, _CONTROLS))) > len(start):
        raise FleetlensError(
            "this is not a text file", where=content.where, do="save it as CSV (UTF-8, commas) or as Parquet"
        )
    evidence = _Evidence(content)
    with content.open() as stream:
        while block := stream.read(_BLOCK):
            evidence.add(block)
    return evidence.verdict(name or "UTF-8", len(mark))


class _Evidence:
    """What the bytes of a file say, block by block."""

    def __init__(self, content: Content) -> None:
        self._content = content
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._wrong = self._valid = 0
        self._junk = self._quotes = 0
        self._high: set[int] = set()
        self._letters: dict[str, int] = {"cp1252": 0, "cp850": 0}
        self._twice, self._run = 0, ""
        self._could_be_twice = True

    def add(self, block: bytes) -> None:
        self._junk += _count(block, 0) + _count(block, 0x1A)
        self._quotes += _count(block, 0x22)
        if block.isascii() and not self._run and not self._decoder.getstate()[0]:
            return
        self._high.update(block.translate(None, _ASCII))
        if self._wrong > _SURE and self._wrong > self._valid:
            return
        text = self._decoder.decode(block)
        wrong = text.count("\ufffd") - block.count(b"\xef\xbf\xbd")
        self._wrong += wrong
        self._valid += len(text) - len(text.encode("ascii", "ignore")) - wrong
        if self._wrong:
            for found in _BETWEEN_LETTERS.findall(block):
                for name in self._letters:
                    self._letters[name] += found.decode(name, "replace").isalpha()
        elif self._could_be_twice:
            self._look_for_runs(text)

    def _look_for_runs(self, text: str, *, end: bool = False) -> None:
        text, self._run = whole_runs(self._run + text, end)
        for run in BEYOND_ASCII.findall(text):
            if once(run) is None:
                self._could_be_twice = False
                return
            self._twice += 1

    def verdict(self, name: str, mark: int) -> Encoding:
        pending = self._decoder.getstate()[0]
        odd = self._quotes % 2 == 1
        if self._wrong == 0 and pending:
            raise _cut_off(self._content.where, _lines(self._content))
        self._wrong += len(pending)
        if self._wrong == 0:
            if self._could_be_twice:
                self._look_for_runs("", end=True)
            twice = self._could_be_twice and self._twice > 0
            return Encoding(name, "utf-8", "strict", mark, self._junk, twice, odd)
        if self._valid > 2 * self._wrong or mark:
            told = f"UTF-8 with {self._wrong:,} bytes of cp1252" if self._wrong > 1 else "UTF-8 with 1 byte of cp1252"
            return Encoding(told, "utf-8", "fleetlens.cp1252", mark, self._junk, False, odd)
        if self._letters["cp850"] > 2 * self._letters["cp1252"]:
            return Encoding("cp850", "cp850", "strict", 0, self._junk, False, odd)
        if self._high & NO_CP1252 or not any(byte < 0xA0 for byte in self._high):
            return Encoding("Latin-1", "latin-1", "strict", 0, self._junk, False, odd)
        return Encoding("cp1252", "cp1252", "strict", 0, self._junk, False, odd)


def _checked_wide(content: Content, codec: str, name: str, mark: int) -> Encoding:
    """UTF-16 or UTF-32: proved to the end."""
    decoder = codecs.getincrementaldecoder(codec)()
    junk = quotes = 0
    line = 1
    with content.open() as stream:
        drop(stream.read, mark)
        try:
            while block := stream.read(_BLOCK):
                text = decoder.decode(block)
                junk += len(JUNK.findall(text))
                quotes += text.count('"')
                line += text.count("\n")
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            raise _cut_off(content.where, line) from None
    return Encoding(name, codec, "strict", mark, junk, False, quotes % 2 == 1)


def _count(block: bytes, byte: int) -> int:
    """How often a byte is there; some three times as fast as `bytes.count`."""
    return int(np.count_nonzero(np.frombuffer(block, np.uint8) == byte))


def _lines(content: Content) -> int:
    """How many lines a text of single bytes has."""
    lines = 1
    with content.open() as stream:
        while block := stream.read(_BLOCK):
            lines += block.count(b"\n")
    return lines


def _unmarked_utf16(start: bytes) -> str:
    """The codec, where nearly every other byte of the start is zero, as in Western text in UTF-16."""
    half = max(len(start) // 2, 1)
    first, second = start[0::2].count(0) / half, start[1::2].count(0) / half
    if len(start) >= 4 and max(first, second) > 0.6 and min(first, second) < 0.05:
        return "utf-16-be" if first > second else "utf-16-le"
    return ""


def _cut_off(where: str, line: int) -> FleetlensError:
    return FleetlensError(
        "this file ends in the middle of a character",
        where=f"{where}, line {line}",
        do="copy or save it again: it was cut off",
    )
