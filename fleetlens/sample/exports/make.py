"""All the exports of the sample fleet, written into a folder, the same bytes in each run."""

from pathlib import Path

from fleetlens.sample.exports import monthly, system_dump, text_only, two_depots, wide_semicolon, workbook
from fleetlens.sample.exports.histories import histories

__all__ = ["EXPORTS", "write_exports"]

EXPORTS = {
    "wide_semicolon": wide_semicolon.files,
    "workbook": workbook.files,
    "system_dump": system_dump.files,
    "text_only": text_only.files,
    "monthly": monthly.files,
    "two_depots": two_depots.files,
}


def write_exports(folder: Path) -> list[Path]:
    """Write each export into a folder of its own in `folder`; the files written. Files of the same names go."""
    made = []
    for name, files in EXPORTS.items():
        place = folder / name
        place.mkdir(parents=True, exist_ok=True)
        for file, content in files(histories()).items():
            made.append(place / file)
            made[-1].write_bytes(content)
    return made
