"""load and sample: rows accounted for, refusals shown where they stand, nothing changed by a trial."""

import json
import shutil

import pytest

from fleetlens.store.reader import current


@pytest.fixture
def spoilt(fleet, tmp_path):
    """The fleet with one row of jobs that can't be."""
    folder = tmp_path / "spoilt"
    shutil.copytree(fleet, folder)
    jobs = folder / "jobs.csv"
    lines = jobs.read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    row = dict.fromkeys(head, "")
    row |= {"job_id": "X1", "vehicle_id": "[bold]nobody[/bold]", "opened_at": "2026-02-31", "odometer": "-5"}
    jobs.write_text("\n".join([*lines, ",".join(row[name] for name in head)]) + "\n", encoding="utf-8")
    return folder


def test_a_load_accounts_for_every_row(run, fleet, tmp_path):
    told = run("load", fleet, "--store", tmp_path / "new", "--json")
    assert (told.code, told.err) == (0, "")
    report = json.loads(told.out)
    assert report["rows_in"] == report["accepted"] > 0
    assert report["snapshot"] == current(tmp_path / "new") == "fleet-000001"
    for file in [*report["files"], report]:
        assert file["rows_in"] == file["accepted"] + file["repeated"] + file["refused"]
    assert {"path", "table", "rows_in", "accepted", "repeated", "refused", "sha256"} <= set(report["files"][0])


def test_loading_again_changes_nothing_and_is_no_error(run, fleet, tmp_path):
    run("load", fleet, "--store", tmp_path / "new")
    told = run("load", fleet, "--store", tmp_path / "new")
    assert told.code == 0
    assert "Nothing new: the store is as it was." in told.out
    assert current(tmp_path / "new") == "fleet-000001"


def test_a_trial_leaves_nothing_behind(run, fleet, tmp_path):
    told = run("load", fleet, "--store", tmp_path / "new", "--dry-run")
    assert told.code == 0
    assert "A trial: the store is as it was." in told.out
    assert not (tmp_path / "new").exists()


def test_people_see_where_a_refused_row_stands(run, spoilt, tmp_path):
    told = run("load", spoilt, "--store", tmp_path / "new")
    assert told.code == 0
    assert "Refused" in told.out
    assert "jobs.csv" in told.out
    assert "[bold]nobody[/bold]" in told.out.replace("\n", "")
    assert "2026-02-31" in told.out


def test_nothing_of_use_is_an_error(run, spoilt, tmp_path):
    lines = (spoilt / "jobs.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "jobs.csv").write_text(f"{lines[0]}\n{lines[-1]}\n", encoding="utf-8")
    told = run("load", tmp_path / "jobs.csv", "--store", tmp_path / "new")
    assert told.code == 2
    assert "nothing could be loaded: all 1 rows were refused" in told.err
    assert json.loads(run("load", tmp_path / "jobs.csv", "--store", tmp_path / "new", "--json").out)["refused"] == 1


def test_the_day_of_the_record_may_be_set(run, fleet, tmp_path):
    assert run("load", fleet, "--store", tmp_path / "new", "--as-of", "2026-12-31").code == 0
    period = json.loads(run("codes", "--store", tmp_path / "new", "--json").out)["period"]
    assert period["end"] == "2026-12-31"


def test_sample_writes_the_same_bytes_for_the_same_seed(run, tmp_path):
    for name in ("a", "b"):
        assert run("sample", tmp_path / name, "--vehicles", 3, "--seed", 5).code == 0
    made = {path.name: path.read_bytes() for path in (tmp_path / "a").iterdir()}
    assert made == {path.name: path.read_bytes() for path in (tmp_path / "b").iterdir()}
    assert "jobs.csv" in made


def test_sample_tells_machines_what_it_made(run, tmp_path):
    told = json.loads(run("sample", tmp_path / "a", "--vehicles", 3, "--format", "parquet", "--json").out)
    assert told["rows"]["vehicles"] == 3
    assert (tmp_path / "a" / "jobs.parquet").exists()
