"""Refused rows come back as files that load once they are corrected."""

from pathlib import Path

import polars as pl
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.intake.mending import BECAUSE

VEHICLES = "vehicle_id,model,in_service_on\nV1,A,2024-01-01\nV2,B,2024-02-31\n"
JOBS = (
    "job_id,vehicle_id,opened_at,odometer,reason\n"
    "J1,V1,2024-05-01,-5,defekt\nJ2,V9,2024-05-01,5,defect\nJ3,V1,2024-05-02,7,defect\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "vehicles.csv").write_text(VEHICLES, encoding="utf-8")
    (tmp_path / "in" / "jobs.csv").write_text(JOBS, encoding="utf-8")
    return tmp_path


def test_every_refused_row_is_there_whole_with_all_its_reasons(folder: Path) -> None:
    report = load([folder / "in"], folder / "store", refused_to=folder / "out")
    assert report.refused == 3
    jobs = pl.read_csv(folder / "out" / "jobs-refused.csv", infer_schema=False)
    assert jobs.drop(BECAUSE).rows() == [
        ("J1", "V1", "2024-05-01", "-5", "defekt"),
        ("J2", "V9", "2024-05-01", "5", "defect"),
    ]
    assert "can't read -5" in jobs[BECAUSE][0]
    assert "'defekt' is not one of" in jobs[BECAUSE][0]
    assert "'V9' is not in vehicles" in jobs[BECAUSE][1]
    assert pl.read_csv(folder / "out" / "vehicles-refused.csv").height == 1
    assert any("correct and load them" in note for note in report.notes)


def test_corrected_they_load(folder: Path) -> None:
    load([folder / "in"], folder / "store", refused_to=folder / "out")
    for name, wrong, right in (
        ("vehicles-refused.csv", "2024-02-31", "2024-02-29"),
        ("jobs-refused.csv", "-5,defekt", "5,defect"),
        ("jobs-refused.csv", "V9", "V2"),
    ):
        path = folder / "out" / name
        path.write_text(path.read_text(encoding="utf-8").replace(wrong, right), encoding="utf-8")
    report = load([folder / "out"], folder / "store")
    assert (report.accepted, report.refused) == (3, 0)


def test_a_trial_gives_them_too_and_a_clean_load_gives_none(folder: Path) -> None:
    assert load([folder / "in"], folder / "store", dry_run=True, refused_to=folder / "out").refused == 3
    assert sorted(path.name for path in (folder / "out").iterdir()) == ["jobs-refused.csv", "vehicles-refused.csv"]
    (folder / "in" / "jobs.csv").unlink()
    (folder / "in" / "vehicles.csv").write_text("vehicle_id\nV1\n", encoding="utf-8")
    load([folder / "in"], folder / "store", refused_to=folder / "none")
    assert not (folder / "none").exists()


def test_a_place_that_can_not_be_written_is_told(folder: Path) -> None:
    (folder / "file").write_text("", encoding="utf-8")
    with pytest.raises(FleetlensError, match="name another folder"):
        load([folder / "in"], folder / "store", refused_to=folder / "file")
