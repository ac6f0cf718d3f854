"""The option of a load that uses the distances proposed for contradicting readings, and keeps doing so."""

import json

import pytest


@pytest.fixture
def files(tmp_path):
    """One van whose third reading is in miles among kilometres."""
    folder = tmp_path / "export"
    folder.mkdir()
    (folder / "vehicles.csv").write_text("vehicle_id,model\nV1,Corvo 3\n", encoding="utf-8")
    km = (60000, 61500, 39147, 64500, 66000, 67500)
    jobs = [f"J{number},V1,2024-0{number + 1}-01,{read}" for number, read in enumerate(km)]
    (folder / "jobs.csv").write_text("job_id,vehicle_id,opened_at,odometer\n" + "\n".join(jobs), encoding="utf-8")
    return folder


def test_proposals_are_listed_then_applied(run, files, tmp_path):
    where = ("--store", tmp_path / "new", "--json")
    notes = json.loads(run("load", files, *where).out)["notes"]
    assert any(note.startswith("1 odometer reading set aside") and "1 would fit" in note for note in notes)
    notes = json.loads(run("load", files, *where, "--odometer-proposals", "apply").out)["notes"]
    assert "1 odometer reading used as corrected, as the store's setting says" in notes


def test_another_word_is_refused(run, files, tmp_path):
    told = run("load", files, "--store", tmp_path / "new", "--odometer-proposals", "maybe")
    assert told.code == 2
    assert "odometer proposals can't be 'maybe'" in told.err
    assert "propose (only list them) or apply (use them)" in told.err
