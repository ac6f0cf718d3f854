"""A file that declares itself complete for a period and a source takes away what is gone from it, and nothing else."""

from datetime import date
from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.completeness import Origin
from fleetlens.intake.load import load
from fleetlens.intake.report import LoadReport
from fleetlens.store.reader import open_store

MAY = (date(2026, 5, 1), date(2026, 5, 31))


def bring(folder: Path, name: str, jobs: dict[str, str], origin: Origin | None, *, bad: str = "") -> LoadReport:
    """Load jobs given as number and day, each with a code and an action."""
    place = folder / name
    place.mkdir()
    (place / "vehicles.csv").write_text("vehicle_id,model\nV1,A\n", encoding="utf-8")
    rows = "".join(f"{job},V1,{day},{bad if job == 'J1' and bad else 'defect'}\n" for job, day in jobs.items())
    (place / "jobs.csv").write_text(f"job_id,vehicle_id,opened_at,reason\n{rows}", encoding="utf-8")
    codes = "".join(f"{job},P0401\n" for job in jobs)
    (place / "job_codes.csv").write_text(f"job_id,code\n{codes}", encoding="utf-8")
    actions = "".join(f"{job},1,egr_valve,clean\n" for job in jobs)
    (place / "job_actions.csv").write_text(f"job_id,line,component,action\n{actions}", encoding="utf-8")
    return load([place], folder / "store", origin=origin)


def jobs_in(folder: Path) -> list[str]:
    with open_store(folder / "store") as snapshot:
        return snapshot.frame("findings/vehicle_jobs", vehicle_id="V1")["job_id"].to_list()


def test_a_job_that_is_gone_goes_with_all_it_had(tmp_path: Path) -> None:
    jobs = {"J0": "2026-04-30", "J1": "2026-05-01", "J2": "2026-05-31", "J3": "2026-06-01"}
    bring(tmp_path, "first", jobs, Origin("north"))
    report = bring(tmp_path, "second", {"J1": "2026-05-01"}, Origin("north", *MAY))
    assert jobs_in(tmp_path) == ["J0", "J1", "J3"]
    said = "1 job is no longer in north, which is complete from 2026-05-01 to 2026-05-31: "
    assert f"{said}removed with their codes, actions and checks" in report.notes
    with open_store(tmp_path / "store") as snapshot:
        codes = snapshot.frame("findings/code_rows", code="P0401", models=None, duties=None, depots=None)
    assert sorted(codes["job_id"]) == ["J0", "J1", "J3"]


def test_jobs_of_another_source_stay(tmp_path: Path) -> None:
    bring(tmp_path, "south", {"S1": "2026-05-10"}, Origin("south"))
    bring(tmp_path, "unnamed", {"U1": "2026-05-11"}, None)
    bring(tmp_path, "north", {"N1": "2026-05-12", "N2": "2026-05-13"}, Origin("north"))
    bring(tmp_path, "again", {"N1": "2026-05-12"}, Origin("north", *MAY))
    assert jobs_in(tmp_path) == ["S1", "U1", "N1"]


def test_without_a_period_nothing_goes(tmp_path: Path) -> None:
    bring(tmp_path, "first", {"J1": "2026-05-01", "J2": "2026-05-02"}, Origin("north"))
    bring(tmp_path, "second", {"J1": "2026-05-01"}, Origin("north"))
    assert jobs_in(tmp_path) == ["J1", "J2"]


def test_a_job_whose_row_is_refused_is_told_of_and_stays(tmp_path: Path) -> None:
    jobs = {"J1": "2026-05-01", "J2": "2026-05-02"}
    bring(tmp_path, "first", jobs, Origin("north"))
    report = bring(tmp_path, "second", {**jobs, "J3": "2026-05-03"}, Origin("north", *MAY), bad="nonsense")
    assert report.refused == 1
    assert jobs_in(tmp_path) == ["J1", "J2", "J3"]


def test_what_can_not_be_complete_is_refused_and_the_store_stays(tmp_path: Path) -> None:
    bring(tmp_path, "first", {"J1": "2026-05-01"}, Origin("north"))
    with pytest.raises(FleetlensError, match="files without a single job"):
        load([tmp_path / "first" / "vehicles.csv"], tmp_path / "store", origin=Origin("north", *MAY))
    assert jobs_in(tmp_path) == ["J1"]
    with pytest.raises(FleetlensError, match="write the earlier day first"):
        Origin("north", date(2026, 5, 31), date(2026, 5, 1))
