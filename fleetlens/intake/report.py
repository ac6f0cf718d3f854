"""What a load did: rows in, accepted, repeated, refused, for each file and in all."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import polars as pl

__all__ = ["COUNTS", "REFUSED", "FileReport", "LoadReport"]

COUNTS = ("rows_in", "accepted", "repeated", "refused", "replaced")

# The columns of the refused rows, as in the store's table refused_rows (which adds the load).
REFUSED = {
    "path": pl.String,
    "sha256": pl.String,
    "table_name": pl.String,
    "row": pl.Int64,
    "column": pl.String,
    "value": pl.String,
    "rule": pl.String,
    "reason": pl.String,
}


@dataclass(frozen=True, slots=True)
class FileReport:
    """One file: rows_in = accepted + repeated + refused; `replaced`: of the accepted, in place of a stored row."""

    path: Path
    table: str
    rows_in: int
    accepted: int
    repeated: int
    refused: int
    replaced: int
    sha256: str


@dataclass(frozen=True, slots=True)
class LoadReport:
    """One load, all files together.

    `refusals`: one row a broken rule: path, sha256, table_name, row (1 is the header; blank lines don't count),
    column ("" for the whole row), value, rule, reason. A refused row with several faults is counted once and
    listed once for each. `snapshot`: the live snapshot after this load; None where nothing was ever loaded.
    `published`: whether this load made it.
    """

    rows_in: int
    accepted: int
    repeated: int
    refused: int
    replaced: int
    files: tuple[FileReport, ...]
    refusals: pl.DataFrame
    snapshot: str | None
    published: bool
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """The report as plain values that any JSON writer takes."""
        counts: dict[str, Any] = {name: getattr(self, name) for name in COUNTS}
        return counts | {
            "files": [asdict(file) | {"path": str(file.path)} for file in self.files],
            "snapshot": self.snapshot,
            "refusals": self.refusals.to_dicts(),
            "notes": list(self.notes),
        }
