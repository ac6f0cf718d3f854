"""A preview of every map that is suggested for the invented exports, also of those that leave much undecided."""

from datetime import date
from pathlib import Path

import pytest

from fleetlens.intake.maps.preview import preview
from fleetlens.intake.maps.reading import line_reader
from fleetlens.intake.maps.suggest import suggest
from fleetlens.intake.readers.opening import open_file
from fleetlens.places import folder

EXPORTS = folder("sample_fleet") / "exports"


@pytest.mark.parametrize(
    "name", ["system_dump/tickets.ndjson", "system_dump/assets.ndjson", "workbook/Fleet book.xlsx"]
)
def test_what_is_undecided_leaves_the_rest_to_be_seen(name: str, tmp_path: Path) -> None:
    for sheet in open_file(EXPORTS / name):
        if sheet.hidden:
            continue
        suggestion = suggest(sheet, date(2026, 6, 1))
        shown = preview(sheet, suggestion.column_map, line_reader(tmp_path), date(2026, 6, 1))
        assert set(suggestion.column_map.tables) <= set(shown)
        assert all(rows.columns[0] == "row" and rows.height <= 5 for rows in shown.values())
