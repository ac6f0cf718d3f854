"""The bytes of a file or of a member of an archive: from the start, as often as wanted, never without bounds."""

import gzip
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from fleetlens.errors import FleetlensError

__all__ = ["BROKEN", "LARGEST", "RATIO", "Content", "Stream", "broken", "of_file", "unzipped"]

LARGEST = 64 << 30  # bytes that one packed file may unpack to
RATIO = 300  # times its packed size that a file may unpack to, once it is past _ALWAYS
_ALWAYS = 64 << 20
_HELD = 512 << 20  # bytes of one file that may be held in memory
# What the libraries that unpack say of damage; a damaged archive may also send them to places that aren't there.
BROKEN = (EOFError, zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, ValueError, KeyError, OSError)


class Stream:
    """Bytes in their order, counted, and refused where they are too many for what they were packed in.

    `share`: how much of the file has been read, 0 to 1.
    """

    def __init__(self, inner: BinaryIO, where: str, size: int, raw: BinaryIO | None, packed: int | None) -> None:
        self._inner, self._where, self._size, self._raw, self._packed = inner, where, max(size, 1), raw, packed
        self._given = 0
        self.closed = False

    def read(self, size: int = -1) -> bytes:
        """At most `size` bytes, b"" at the end.

        Raises FleetlensError where the file is cut off, damaged, or unpacks to too much.
        """
        try:
            block = self._inner.read(size)
        except BROKEN as error:
            if self._packed is None:
                raise
            raise broken(self._where, error) from None
        self._given += len(block)
        if self._packed is not None and self._given > _ALWAYS:
            bound = min(LARGEST, RATIO * self._packed)
            if self._given > bound:
                raise _bomb(self._where)
        return block

    @property
    def share(self) -> float:
        """How much of the file has been read, 0 to 1."""
        return min((self._raw.tell() if self._raw is not None else self._given) / self._size, 1.0)

    def readable(self) -> bool:
        """Always: what a reader of files asks first."""
        return True

    def close(self) -> None:
        """Let go of the file."""
        self.closed = True
        self._inner.close()
        if self._raw is not None:
            self._raw.close()

    def __enter__(self) -> "Stream":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


@dataclass(frozen=True, slots=True)
class Content:
    """Bytes under a name. `name`: its ending tells the kind; `part`: the member of the archive, "" for a whole file."""

    path: Path
    part: str
    name: str
    open: Callable[[], Stream] = field(repr=False)

    @property
    def where(self) -> str:
        """The file, and the member in it, for people."""
        return f"{self.path} [{self.part}]" if self.part else str(self.path)

    @property
    def plain(self) -> bool:
        """Whether it is the file itself, and nothing packed in it."""
        return not self.part and self.name == self.path.name

    @property
    def label(self) -> str:
        """The name without folders and ending."""
        return Path(self.name).stem

    @property
    def suffix(self) -> str:
        """The ending of the name, in lower case."""
        return Path(self.name).suffix.lower()

    def start(self, size: int) -> bytes:
        """The first bytes."""
        with self.open() as stream:
            found = b""
            while len(found) < size and (block := stream.read(size - len(found))):
                found += block
            return found

    def whole(self) -> bytes:
        """All bytes.

        Raises FleetlensError where they are too many to hold.
        """
        blocks, held = [], 0
        with self.open() as stream:
            while block := stream.read(1 << 20):
                blocks.append(block)
                held += len(block)
                if held > _HELD:
                    raise FleetlensError(
                        f"this file is larger than {_HELD >> 20} MB, too much for its kind",
                        where=self.where,
                        do="save it as CSV or Parquet, or in smaller parts",
                    )
        return b"".join(blocks)


def of_file(path: Path) -> Content:
    """The content of a file; one that ends in .gz is unpacked as it is read."""
    size = path.stat().st_size
    if path.suffix.lower() != ".gz":
        return Content(path, "", path.name, lambda: Stream(path.open("rb"), str(path), size, None, None))

    def unpack() -> Stream:
        raw = path.open("rb")
        return Stream(gzip.GzipFile(fileobj=raw), str(path), size, raw, size)  # type: ignore[arg-type]

    return Content(path, "", path.stem, unpack)


def unzipped(path: Path, member: zipfile.ZipInfo) -> Content:
    """The content of one member of a zip file."""
    where = f"{path} [{member.filename}]"

    def unpack() -> Stream:
        try:
            with zipfile.ZipFile(path) as archive:  # an open member keeps the file open
                inner = archive.open(member)
        except BROKEN as error:
            raise broken(where, error) from None
        return Stream(inner, where, member.file_size, None, member.compress_size)  # type: ignore[arg-type]

    return Content(path, member.filename, member.filename, unpack)


def broken(where: str, error: Exception) -> FleetlensError:
    """The error for a packed file that is cut off or damaged."""
    return FleetlensError(
        f"this packed file is cut off or damaged: {str(error).splitlines()[0] if str(error) else 'it ends too early'}",
        where=where,
        do="copy or save it again",
    )


def _bomb(where: str) -> FleetlensError:
    return FleetlensError(
        f"this packed file unpacks to more than {RATIO} times its size, or more than {LARGEST >> 30} GB",
        where=where,
        do="unpack it yourself, look at what is in it, and load that",
    )
