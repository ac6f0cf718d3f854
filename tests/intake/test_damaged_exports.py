"""Damaged copies of the invented exports: read, every row accounted for, or refused in words; never a traceback."""

import random
from collections.abc import Callable
from pathlib import Path
from shutil import copy

import pytest

from fleetlens import places
from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.intake.maps import written

EXPORTS = places.folder("sample_fleet") / "exports"
BEGINNING = 30_000  # bytes of a text that are enough to damage
FILES = {
    "wide_semicolon": ("Auftragsliste.csv", "Fahrzeuge.csv", ("map-jobs.toml", "map-vehicles.toml")),
    "system_dump": (
        "tickets.ndjson",
        "assets.ndjson",
        ("map-1-faults.toml", "map-2-ops.toml", "map-4-tickets.toml", "map-5-assets.toml"),
    ),
    "text_only": ("job lines.csv", "vehicles.csv", ("map-lines.toml",)),
    "monthly": ("2026-06 report.csv", "vehicles.csv", ("map-report.toml",)),
    "workbook": ("Fleet book.xlsx", "", ("map-visits.toml",)),
}


def flipped(data: bytes, chance: random.Random) -> bytes:
    """Some bytes replaced by others."""
    found = bytearray(data)
    for _ in range(chance.choice([1, 4, 60])):
        found[chance.randrange(len(found))] = chance.randrange(256)
    return bytes(found)


def cut(data: bytes, chance: random.Random) -> bytes:
    """Only the beginning."""
    return data[: chance.randrange(1, len(data))]


def shuffled(data: bytes, chance: random.Random) -> bytes:
    """The lines in another order; the first stays in half of the cases."""
    first, *lines = data.split(b"\n")
    chance.shuffle(lines)
    lines.insert(0 if chance.random() < 0.5 else len(lines) // 2, first)
    return b"\n".join(lines)


def repeated(data: bytes, chance: random.Random) -> bytes:
    """A stretch of it twice."""
    end = chance.randrange(1, len(data))
    return data[:end] + data[end // 2 :]


@pytest.mark.parametrize("damage", [flipped, cut, shuffled, repeated])
@pytest.mark.parametrize("name", FILES)
def test_a_damaged_export_is_read_or_refused(
    name: str, damage: Callable[[bytes, random.Random], bytes], tmp_path: Path
) -> None:
    main, beside, names = FILES[name]
    whole = (EXPORTS / name / main).read_bytes()
    chance = random.Random(f"{name} {damage.__name__}")
    maps = [written.read(EXPORTS / name / file) for file in names]
    for number in range(2):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / main).write_bytes(damage(whole if main.endswith("xlsx") else whole[:BEGINNING], chance))
        if beside:
            copy(EXPORTS / name / beside, folder / beside)
        try:
            report = load([folder], tmp_path / "store", maps=maps, dry_run=True)
        except FleetlensError:
            continue
        for file in report.files:
            assert file.rows_in == file.accepted + file.repeated + file.refused, file
