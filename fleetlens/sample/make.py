"""The whole sample: an invented fleet of any size, written as input tables with the truth beside them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.sample import truth
from fleetlens.sample.chance import Chance
from fleetlens.sample.scene import play
from fleetlens.sample.tables import written
from fleetlens.sample.vehicles import fitted
from fleetlens.sample.write import FileFormat, TableFiles, descriptor, write_json
from fleetlens.vocabulary.tables import tables

MOST_VEHICLES = 200_000
BATCH = 5_000
"""Vehicles made at once; the memory needed depends on it, the result does not."""


@dataclass(frozen=True, slots=True)
class SampleReport:
    """What was written: rows by table, and the files."""

    folder: Path
    rows: Mapping[str, int]
    files: tuple[Path, ...]


def make_sample(
    out: Path,
    *,
    vehicles: int = 400,
    seed: int = 1,
    file_format: FileFormat = "csv",
    progress: Callable[[str, float], None] | None = None,
) -> SampleReport:
    """Write an invented fleet into the folder `out`: the input tables, datapackage.json and truth.json.

    The same seed gives the same bytes, and vehicle n has the same history in a fleet of any size. `progress` is told
    the step and the share done, 0 to 1. Files of the same names are replaced. Raises FleetlensError where `vehicles`
    is not 1 to 200,000, the format is unknown or `out` is no folder.
    """
    if not 1 <= vehicles <= MOST_VEHICLES:
        raise FleetlensError(f"a sample of {vehicles} vehicles can't be made", do=f"a number from 1 to {MOST_VEHICLES}")
    if file_format not in ("csv", "parquet"):
        raise FleetlensError(f"the sample can't be written as {file_format!r}", do="csv or parquet")
    if out.exists() and not out.is_dir():
        raise FleetlensError(f"{out} is a file, not a folder", do="the name of a new folder, or of an empty one")
    out.mkdir(parents=True, exist_ok=True)

    chance = Chance(seed)
    totals: dict[str, int] = {}
    with TableFiles(out, file_format) as files:
        files.add("fitted", fitted())
        for first in range(1, vehicles + 1, BATCH):
            count = min(BATCH, vehicles + 1 - first)
            scene = play(chance, first, count)
            for name, frame in written(scene).items():
                files.add(name, frame)
            for what, number in truth.counts(scene).items():
                totals[what] = totals.get(what, 0) + number
            if progress:
                progress("vehicles", (first + count - 1) / vehicles)
        rows = {name: files.rows[name] for name in tables()}
        table_files = tuple(files.files)
    package_file, truth_file = out / "datapackage.json", out / "truth.json"
    write_json(package_file, descriptor(file_format, seed, vehicles))
    write_json(truth_file, truth.assumptions(seed, vehicles) | {"came_of_it": totals})
    return SampleReport(out, rows, (*table_files, package_file, truth_file))
