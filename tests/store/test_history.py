"""Undoing a load: the store as it was, and loads go on from there."""

from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.store import history, lock, snapshots
from fleetlens.store.reader import open_store


def write(folder: Path, name: str, text: str) -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def vehicles(store: Path) -> list[str]:
    with open_store(store) as snapshot:
        everything = {"models": None, "duties": None, "depots": None}
        return snapshot.frame("findings/vehicle_ids", **everything)["vehicle_id"].to_list()


@pytest.fixture
def two_loads(tmp_path: Path) -> Path:
    store = tmp_path / "store"
    load([write(tmp_path, "vehicles-1.csv", "vehicle_id\nV1\n")], store)
    load([write(tmp_path, "vehicles-2.csv", "vehicle_id\nV2\n")], store)
    return store


def test_the_store_shows_what_it_showed_before(two_loads: Path) -> None:
    assert vehicles(two_loads) == ["V1", "V2"]
    assert history.undo(two_loads) == ("fleet-000002", "fleet-000001")
    assert vehicles(two_loads) == ["V1"]


def test_what_was_undone_can_be_loaded_again_under_a_new_number(two_loads: Path, tmp_path: Path) -> None:
    history.undo(two_loads)
    report = load([tmp_path / "vehicles-2.csv"], two_loads)
    assert (report.accepted, report.snapshot) == (1, "fleet-000003")
    assert vehicles(two_loads) == ["V1", "V2"]
    assert snapshots.before(two_loads, "fleet-000003") == "fleet-000001"


def test_a_reader_that_is_open_keeps_its_rows(two_loads: Path) -> None:
    with open_store(two_loads) as before:
        history.undo(two_loads)
        assert before.frame("findings/job_counts", models=None, duties=None, depots=None).height == 1
        assert before.name == "fleet-000002"


def test_there_is_an_end_to_going_back(two_loads: Path, tmp_path: Path) -> None:
    history.undo(two_loads)
    with pytest.raises(FleetlensError, match="no snapshot older than fleet-000001 to go back to"):
        history.undo(two_loads)
    with pytest.raises(FleetlensError, match="nothing to undo"):
        history.undo(tmp_path / "nowhere")


def test_not_while_a_load_is_writing(two_loads: Path) -> None:
    with lock.writing(two_loads), pytest.raises(FleetlensError, match="another load is writing"):
        history.undo(two_loads)
    assert snapshots.current(two_loads) == "fleet-000002"
