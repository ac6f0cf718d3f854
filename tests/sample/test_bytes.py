"""The same seed gives the same bytes, whatever the size of the fleet and of the batches."""

import hashlib
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from fleetlens import places
from fleetlens.errors import FleetlensError
from fleetlens.sample import make, make_sample
from fleetlens.vocabulary.tables import tables


def digests(folder: Path) -> dict[str, str]:
    files = (path for path in sorted(folder.iterdir()) if path.is_file())
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.mark.parametrize("vehicles", [1, 2, 50])
@pytest.mark.parametrize("file_format", ["csv", "parquet"])
def test_two_runs_give_the_same_bytes(tmp_path: Path, vehicles: int, file_format: make.FileFormat) -> None:
    for name in ("a", "b"):
        make_sample(tmp_path / name, vehicles=vehicles, seed=3, file_format=file_format)
    assert digests(tmp_path / "a") == digests(tmp_path / "b")
    assert len(digests(tmp_path / "a")) == len(tables()) + 2


def test_another_seed_gives_another_fleet(tmp_path: Path) -> None:
    first, second = (make_sample(tmp_path / str(seed), vehicles=5, seed=seed).folder for seed in (1, 2))
    changed = {name for name, digest in digests(first).items() if digests(second)[name] != digest}
    assert changed == {f"{name}.csv" for name in tables()} - {"fitted.csv"} | {"datapackage.json", "truth.json"}


def test_batches_leave_no_trace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = make_sample(tmp_path / "whole", vehicles=25)
    monkeypatch.setattr(make, "BATCH", 7)
    parts = make_sample(tmp_path / "parts", vehicles=25)
    assert digests(whole.folder) == digests(parts.folder)
    assert whole.rows == parts.rows


def test_a_vehicle_has_the_same_history_in_a_fleet_of_any_size(tmp_path: Path) -> None:
    small, large = (make_sample(tmp_path / str(size), vehicles=size).folder for size in (7, 40))
    for name in set(tables()) - {"fitted"}:
        here, there = ((folder / f"{name}.csv").read_text() for folder in (small, large))
        assert there.startswith(here)
        assert len(there) > len(here)


def test_parquet_and_csv_hold_the_same(tmp_path: Path) -> None:
    text = make_sample(tmp_path / "csv", vehicles=30, file_format="csv")
    typed = make_sample(tmp_path / "parquet", vehicles=30, file_format="parquet")
    assert text.rows == typed.rows
    for name in tables():
        there = pl.read_parquet(typed.folder / f"{name}.parquet")
        here = pl.read_csv(text.folder / f"{name}.csv", schema=there.schema, try_parse_dates=True)
        assert_frame_equal(here, there, abs_tol=0.005)


def test_the_committed_sample_is_what_the_generator_makes(tmp_path: Path) -> None:
    made = digests(make_sample(tmp_path / "made", vehicles=400, seed=1).folder)
    committed = digests(places.folder("sample_fleet"))
    assert committed.keys() - made.keys() == {"README.md"}
    assert {name: committed[name] for name in made} == made


def test_the_report_tells_what_was_written(tmp_path: Path) -> None:
    told: list[float] = []
    report = make_sample(tmp_path / "new" / "folder", vehicles=3, progress=lambda _, share: told.append(share))
    assert told == [1.0]
    assert sorted(report.files) == sorted(report.folder.iterdir())
    for name, rows in report.rows.items():
        assert pl.read_csv(report.folder / f"{name}.csv").height == rows
    assert list(report.rows) == list(tables())


@pytest.mark.parametrize("vehicles", [0, -1, 200_001])
def test_a_size_that_cannot_be_made_is_refused(tmp_path: Path, vehicles: int) -> None:
    with pytest.raises(FleetlensError, match=f"{vehicles} vehicles can't be made"):
        make_sample(tmp_path / "out", vehicles=vehicles)
    assert not (tmp_path / "out").exists()


def test_an_unknown_format_or_a_file_in_the_way_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FleetlensError, match="can't be written as 'xls'"):
        make_sample(tmp_path, file_format="xls")  # type: ignore[arg-type]
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(FleetlensError, match="is a file, not a folder"):
        make_sample(tmp_path / "taken")
    assert (tmp_path / "taken").read_text() == "mine"
