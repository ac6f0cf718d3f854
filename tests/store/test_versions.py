"""A store made by another version is told, not guessed at."""

from pathlib import Path

import duckdb
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.intake.switches import rebuild
from fleetlens.store.reader import open_store


@pytest.fixture
def store(tmp_path: Path) -> Path:
    (tmp_path / "vehicles.csv").write_text("vehicle_id\nV1\n", encoding="utf-8")
    load([tmp_path / "vehicles.csv"], tmp_path / "store")
    return tmp_path / "store"


def tamper(store: Path, part: str) -> None:
    with duckdb.connect(str(store / "fleet-000001.duckdb")) as connection:
        connection.execute("update settings set value = 'another' where name = $part", {"part": part})


def test_figures_of_another_version_can_be_built_anew(store: Path) -> None:
    tamper(store, "figures")
    with pytest.raises(FleetlensError) as told:
        open_store(store)
    assert str(told.value) == (
        "the figures of this store were built by another version of fleetlens\n"
        f"  at: {store}\n"
        f"  try: build them anew: fleetlens rebuild --store {store}"
    )
    assert rebuild(store) == "fleet-000002"
    with open_store(store) as snapshot:
        assert snapshot.name == "fleet-000002"


def test_tables_of_another_version_are_neither_read_nor_written(store: Path) -> None:
    tamper(store, "tables")
    (store.parent / "vehicles-2.csv").write_text("vehicle_id\nV2\n", encoding="utf-8")
    for attempt in (
        lambda: open_store(store),
        lambda: rebuild(store),
        lambda: load([store.parent / "vehicles-2.csv"], store),
    ):
        with pytest.raises(FleetlensError, match="made by another version of fleetlens"):
            attempt()
    assert sorted(path.name for path in store.glob("*.duckdb")) == ["fleet-000001.duckdb"]


def test_there_must_be_a_store_to_build_anew(tmp_path: Path) -> None:
    with pytest.raises(FleetlensError, match="nothing has been loaded"):
        rebuild(tmp_path)
