"""Any file as sheets: its kind by its first bytes, else by its ending."""

from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import delimited, json_rows, parquet
from fleetlens.intake.readers.content import Content, of_file
from fleetlens.intake.readers.limits import empty
from fleetlens.intake.readers.sheet import Sheet

__all__ = ["ENDINGS", "can_open", "open_file"]

_TEXT = (".csv", ".tsv", ".tab", ".psv", ".txt")
_JSON = (".json", ".ndjson", ".jsonl")
ENDINGS = (*_TEXT, *_JSON, ".parquet")


def can_open(path: Path) -> bool:
    """Whether the ending of the file is one that can be read; packed ones count as what is in them."""
    path = path.with_suffix("") if path.suffix.lower() == ".gz" else path
    return path.suffix.lower() in ENDINGS


def open_file(path: Path) -> list[Sheet]:
    """The sheets of a file, in their order; never none.

    Raises FleetlensError where it can't be read: what, where, and what to do.
    """
    if not can_open(path):
        raise FleetlensError(
            f"a file of this kind can't be loaded: {path.suffix or 'no ending'}",
            where=str(path),
            do="save it as CSV (UTF-8, commas) or as Parquet",
        )
    return _sheets(of_file(path))


def _sheets(content: Content) -> list[Sheet]:
    if not content.start(1):
        raise empty(content.where)
    if content.suffix == ".parquet":
        return [parquet.sheet(content)]
    if content.suffix in _JSON:
        return json_rows.sheets(content)
    return [delimited.sheet(content)]
