"""The files that are brought in: kept in a temporary folder of the session, under their own names.

A name is what the browser says: of a path only the last part is kept, and each file has a folder to itself, so that
nothing is written elsewhere and no file takes the place of another.
"""

import re
import shutil
import tempfile
import weakref
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Protocol, TypeVar

import streamlit as st

from fleetlens.intake.readers.opening import ENDINGS
from fleetlens.output.words import harmless

T = TypeVar("T")
MOST_MB = 200  # of one file; `.streamlit/config.toml` says the same to the server
MAP = ".toml"
TAKEN = (*ENDINGS, ".gz", ".zip", MAP)
REFUSED = "refused"  # folder of the bench that takes the refused rows
_BENCH = "bring_in_bench"
_LONGEST = 50  # letters of a name: no file system has too little room for them


class Upload(Protocol):
    """A file as the browser sent it."""

    file_id: str
    name: str

    def getbuffer(self) -> memoryview:
        """Its bytes."""


class Bench:
    """What a session has brought in, and what was found out about it. Goes with the session, files and all."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="fleetlens-upload-"))
        self.known: dict[Any, Any] = {}
        self.said: dict[str, Any] = {}
        self._numbers: dict[str, int] = {}
        weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)

    def keep(self, files: Sequence[Upload]) -> list[Path]:
        """Where the files stand; what isn't among them goes."""
        gone = set(self._numbers) - {file.file_id for file in files}
        for file_id in gone:
            shutil.rmtree(self.folder / str(self._numbers[file_id]), ignore_errors=True)
            self._numbers[file_id] = 0
        self._numbers = {file_id: number for file_id, number in self._numbers.items() if number}
        if gone:
            self.known.clear()
        return [self._place(file) for file in files]

    def once(self, key: Any, make: Callable[[], T]) -> T:
        """What `make` gives, found out once for these files."""
        if key not in self.known:
            self.known[key] = make()
        found: T = self.known[key]
        return found

    def plain(self, told: object) -> str:
        """A sentence about the files without the folder that nobody has to know."""
        return re.sub(rf"{re.escape(str(self.folder))}[/\\]((\d+|{REFUSED})[/\\])?", "", str(told))

    def _place(self, file: Upload) -> Path:
        number = self._numbers.get(file.file_id)
        if number is None:
            number = self._next()
            folder = self.folder / str(number)
            folder.mkdir()
            (folder / last_part(file.name)).write_bytes(file.getbuffer())
            self._numbers[file.file_id] = number
        return self.folder / str(number) / last_part(file.name)

    def _next(self) -> int:
        """A number that no file of this session has had."""
        self.said["numbered"] = number = self.said.get("numbered", 0) + 1
        return int(number)


def bench() -> Bench:
    """The bench of this session."""
    found: Bench = st.session_state.setdefault(_BENCH, None) or Bench()
    st.session_state[_BENCH] = found
    return found


def chosen() -> list[Path]:
    """The files that the user brings in, kept."""
    files = st.file_uploader(
        f"Files of up to {MOST_MB} MB each",
        type=[ending[1:] for ending in TAKEN],
        accept_multiple_files=True,
        max_upload_size=MOST_MB,
        key="bring_in_files",
    )
    return bench().keep(files or [])


def last_part(name: str) -> str:
    """The last part of what may be a path, as a name that any system takes."""
    last = re.sub(r'[<>"|?*]', "_", re.split(r"[/\\:]", harmless(name))[-1]).strip(" .")
    return last[-_LONGEST:].lstrip(" .") or "upload"
