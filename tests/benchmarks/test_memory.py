"""How much memory a load takes: files larger than memory stream, and the engine keeps to its limit and spills.

By default 0.3 gigabytes and an engine held to a quarter of its usual limit. `--gigabytes 5` asks for five with the
usual limit and within two gigabytes; that takes 20 GB of disk or more and hasn't been measured since the marts are made
in runs of vehicles. What counts is the most that the loading process ever held (VmHWM of Linux), in a process of its
own.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from fleetlens.store import snapshots

pytestmark = pytest.mark.benchmark

BESIDES = 900  # MB that Python, the libraries and the batches under way may take; measured: 650 to 750
TWO_GB = 2_000  # MB
CHUNK = 500_000
BYTES = 370  # of the three tables for each job
CHILD = """
import sys
from pathlib import Path
from fleetlens.intake.load import load
from fleetlens.store import snapshots
snapshots.MEMORY = sys.argv[3]
report = load([Path(sys.argv[1])], Path(sys.argv[2]))
held = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(report.rows_in, report.accepted, int(held.split()[1]) * 1024 // 10**6)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="asks Linux for the most memory that was held")
def test_a_load_keeps_within_its_memory(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    gigabytes = request.config.getoption("--gigabytes")
    usual = int(snapshots.MEMORY.removesuffix("MB"))
    engine, bound = (usual, TWO_GB) if gigabytes >= 5 else (usual // 4, usual // 4 + BESIDES)
    rows, size = write(tmp_path / "files", int(gigabytes * 1e9 / BYTES))
    asked = [sys.executable, "-c", CHILD, str(tmp_path / "files"), str(tmp_path / "store"), f"{engine}MB"]
    told = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr[-2_000:]
    rows_in, accepted, held = map(int, told.stdout.split())
    print(f"\n{size / 1e9:.2f} GB, {rows_in:,} rows, engine {engine} MB: at most {held:,} MB held")  # noqa: T201
    assert rows_in == accepted == rows
    assert held < bound


def write(where: Path, jobs: int) -> tuple[int, int]:
    """Vehicles, and jobs with two codes and two actions each; how many rows and bytes that is."""
    where.mkdir()
    vehicles = max(jobs // 100, 1)
    pl.DataFrame({"vehicle_id": [f"V{number}" for number in range(vehicles)]}).with_columns(
        model=pl.lit("Corvo 3"), in_service_on=pl.lit("2018-01-01")
    ).write_csv(where / "vehicles.csv")
    names = ("jobs", "job_codes", "job_actions")
    files = {name: (where / f"{name}.csv").open("wb") for name in names}
    count = vehicles
    for first in range(0, jobs, CHUNK):
        number = np.arange(first, min(first + CHUNK, jobs))
        frame = pl.DataFrame({"number": number}).with_columns(
            job_id=pl.format("J{}", "number"), visit=pl.col("number") // vehicles
        )
        twice = pl.concat([frame.with_columns(line=pl.lit(line)) for line in (1, 2)]).sort("number", "line")
        spread = pl.col("number") * pl.col("line")
        tables = (_jobs(frame, vehicles), _codes(twice, spread), _actions(twice, spread))
        for name, rows in zip(names, tables, strict=True):
            rows.write_csv(files[name], include_header=first == 0)
            count += rows.height
    for file in files.values():
        file.close()
    return count, sum(file.stat().st_size for file in where.iterdir())


def _jobs(frame: pl.DataFrame, vehicles: int) -> pl.DataFrame:
    number, opened = pl.col("number"), pl.date(2018, 1, 1) + pl.duration(days=pl.col("visit") * 30)
    return frame.select(
        "job_id",
        vehicle_id=pl.format("V{}", number % vehicles),
        opened_at=opened,
        closed_at=opened + pl.duration(days=1),
        odometer=pl.col("visit") * 2_000 + number % 97,
        odometer_unit=pl.lit("km"),
        reason=pl.when(number % 5 == 0).then(pl.lit("scheduled")).otherwise(pl.lit("breakdown")),
        complaint=pl.format("engine light on, lack of power, said {} times since the last visit", number % 9_777),
        workshop=pl.format("Depot {}", number % 40),
    )


def _codes(frame: pl.DataFrame, spread: pl.Expr) -> pl.DataFrame:
    code = pl.format("P{}", (spread * 7 % 900 + 1_000).cast(pl.String))
    return frame.select("job_id", code=code, status=pl.lit("stored")).unique(["job_id", "code"], maintain_order=True)


def _actions(frame: pl.DataFrame, spread: pl.Expr) -> pl.DataFrame:
    component = pl.Series("components", ["egr_valve", "dpf", "turbo", "starter", "alternator", "injector"])
    action = pl.Series("actions", ["replace", "clean", "inspect", "repair"])
    return frame.select(
        "job_id",
        "line",
        component=pl.lit(component).gather(spread % component.len()),
        action=pl.lit(action).gather(spread * 3 % action.len()),
        part_number=pl.format("{}-{}", spread % 4_999, spread % 13),
        quantity=pl.lit(1),
        labour_h=spread % 40 / 10,
        labour_cost=spread % 400,
        parts_cost=spread % 9_000 / 10,
        note=pl.format("as found on the bench, reading {} of {}", spread % 977, spread % 31),
    )
