"""Findings to files: the ending of the name chooses the format."""

import contextlib
import os
import secrets
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.findings.finding import Finding
from fleetlens.output.delimited import csv
from fleetlens.output.parquet import parquet
from fleetlens.output.records import as_text, record
from fleetlens.output.workbook import workbook

FORMATS: Mapping[str, Callable[[Finding], bytes]] = {
    ".csv": csv,
    ".parquet": parquet,
    ".xlsx": workbook,
    ".json": lambda finding: (as_text(record(finding)) + "\n").encode(),
}


def content(finding: Finding, ending: str) -> bytes:
    """The bytes of a file with that ending. Raises FleetlensError for an ending that isn't in FORMATS."""
    _check_ending(ending, tuple(FORMATS))
    return FORMATS[ending.lower()](finding)


def check_target(path: Path, endings: Iterable[str] = tuple(FORMATS)) -> None:
    """Raise FleetlensError when nothing could be written to `path`: ask before a long computation."""
    _check_ending(path.suffix, tuple(endings), where=str(path))
    if path.is_dir():
        raise FleetlensError("this is a folder, and a file is wanted", where=str(path), do="add a file name")
    if not path.parent.is_dir():
        raise FleetlensError("the folder of this file doesn't exist", where=str(path), do="make the folder first")


def write(finding: Finding, path: Path) -> None:
    """Write the finding to `path`, whole or not at all: an older file stays until the new one is complete.

    Raises FleetlensError for an ending that isn't in FORMATS and for a place that can't be written to.
    """
    check_target(path)
    put(path, content(finding, path.suffix))


def put(path: Path, made: bytes) -> None:
    """The bytes as the file `path`, whole or not at all. Raises FleetlensError for a place that can't be written to."""
    part = path.with_name(f".{path.name[:80]}.{secrets.token_hex(4)}.part")
    try:
        part.write_bytes(made)
        os.replace(part, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink()
        raise FleetlensError(
            f"this file can't be written: {error.strerror or error}",
            where=str(path),
            do="another folder, or close the program that holds the file",
        ) from error


def _check_ending(ending: str, endings: tuple[str, ...], where: str = "") -> None:
    if ending.lower() not in endings:
        raise FleetlensError(
            f"no format is known for the ending {ending!r}" if ending else "the file name has no ending",
            where=where,
            do=f"a name that ends in {', '.join(endings)}",
        )
