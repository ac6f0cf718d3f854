"""How long a CSV takes to be read, and to be loaded, against a bare read of it by the database in the same run.

Seconds differ between machines and hours; ratios differ less. The database reads with all cores, and keeps texts as
they are. The bound on the readers is set well above what was measured (1.3), so that only a change of kind breaks it.
"""

import statistics
import time
from collections.abc import Callable
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest

from fleetlens.intake.load import load
from fleetlens.intake.readers import open_file

pytestmark = pytest.mark.benchmark
ROWS, VEHICLES = 400_000, 2_000


def seconds(work: Callable[[], object], repeats: int) -> float:
    """The median time of repeated runs."""
    found = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        found.append(time.perf_counter() - begun)
    return statistics.median(found)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The jobs of a fleet, in order, and its vehicles."""
    where = tmp_path_factory.mktemp("files")
    number = np.arange(ROWS)
    visit = number // VEHICLES
    jobs = pl.DataFrame({"number": number, "visit": visit}).select(
        job_id=pl.format("J{}", "number"),
        vehicle_id=pl.format("V{}", pl.col("number") % VEHICLES),
        opened_at=pl.date(2018, 1, 1) + pl.duration(days=pl.col("visit") * 10),
        closed_at=pl.date(2018, 1, 2) + pl.duration(days=pl.col("visit") * 10),
        odometer=pl.col("visit") * 1_000 + pl.col("number") % 97,
        odometer_unit=pl.lit("km"),
        reason=pl.lit("breakdown"),
        complaint=pl.format("engine light on, lack of power; said {} times", pl.col("number") % 977),
        workshop=pl.lit("North"),
    )
    jobs.write_csv(where / "jobs.csv")
    jobs.write_csv(where / "jobs.txt", separator=";")
    pl.DataFrame({"vehicle_id": [f"V{number}" for number in range(VEHICLES)]}).with_columns(
        model=pl.lit("Corvo 3"), in_service_on=pl.lit("2018-01-01")
    ).write_csv(where / "vehicles.csv")
    return where


def bare(path: Path) -> float:
    """Seconds for the database to read the file into a table of texts."""
    with duckdb.connect() as connection:
        return seconds(
            lambda: connection.execute(f"create or replace table x as from read_csv('{path}', all_varchar = true)"), 3
        )


@pytest.mark.parametrize("name", ["jobs.csv", "jobs.txt"])
def test_a_reader_costs_at_most_four_bare_reads(folder: Path, name: str) -> None:
    def read() -> None:
        (sheet,) = open_file(folder / name)
        assert sum(batch.rows.height for batch in sheet.read(None)) == ROWS

    theirs, ours = bare(folder / name), seconds(read, 3)
    print(f"\nreading {name}: {ours:.2f} s, {ours / theirs:.1f} bare reads of {theirs:.2f} s")  # noqa: T201
    assert ours < 4 * theirs


def test_what_a_load_costs(folder: Path, tmp_path: Path) -> None:
    """Told only: checks, keys, repeats, readings, lives and figures are in it, and a bare read has none of them."""
    theirs = bare(folder / "jobs.csv")
    told: list[tuple[float, float]] = []
    begun = time.perf_counter()
    report = load(
        [folder / "vehicles.csv", folder / "jobs.csv"],
        tmp_path / "store",
        progress=lambda _, share: told.append((share, time.perf_counter() - begun)),
    )
    ours = time.perf_counter() - begun
    staged = next(at for share, at in told if share >= 0.75)
    print(  # noqa: T201
        f"\nloading jobs.csv: rows in place after {staged:.1f} s, {staged / theirs:.1f} bare reads of {theirs:.2f} s;"
        f" with all figures {ours:.1f} s, {ours / theirs:.1f} bare reads"
    )
    assert report.accepted == ROWS + VEHICLES
