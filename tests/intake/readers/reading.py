"""What a test wants of a reader: a file written, its rows and what was told."""

from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import Ragged, Sheet, open_file


def one(folder: Path, name: str, content: str | bytes) -> Sheet:
    """The only sheet of a file with this content."""
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    (sheet,) = open_file(path)
    return sheet


def rows(sheet: Sheet) -> list[tuple[object, ...]]:
    """All rows, the number first."""
    return [row for batch in sheet.read(None) for row in batch.rows.select("row", *sheet.columns).rows()]


def ragged(sheet: Sheet) -> list[Ragged]:
    return [row for batch in sheet.read(None) for row in batch.ragged]


def left_out(sheet: Sheet) -> dict[str, int]:
    """Rows left out by reason, after all were read."""
    for _ in sheet.read(None):
        pass
    return dict(sheet.left_out)


def refusal(path: Path) -> str:
    """What is said of a file that can't be read, at the latest when its rows are; it names the file and a remedy."""
    with pytest.raises(FleetlensError) as caught:
        read_all(path)
    assert str(path) in caught.value.where
    assert caught.value.do
    return caught.value.what


def read_all(path: Path) -> int:
    """How many rows all sheets of the file have."""
    return sum(batch.rows.height for sheet in open_file(path) for batch in sheet.read(None))
