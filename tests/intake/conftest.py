"""Small files for a load, and a look into the store that it made."""

from collections.abc import Callable, Mapping
from pathlib import Path
from textwrap import dedent

import duckdb
import pytest
from intake.small import JOBS, VEHICLES

from fleetlens.intake.load import load
from fleetlens.store import snapshots

Write = Callable[..., Path]
Ask = Callable[[str], list[tuple[object, ...]]]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write tables (name of the file: its text) into the folder `where` of `tmp_path`; the folder."""

    def run(files: Mapping[str, str], where: str = "files") -> Path:
        folder = tmp_path / where
        folder.mkdir(exist_ok=True)
        for name, text in files.items():
            (folder / name).write_text(dedent(text).lstrip("\n"), encoding="utf-8")
        return folder

    return run


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "store"


@pytest.fixture
def fleet(write: Write, store: Path) -> Path:
    """A store with two vehicles and three jobs."""
    load([write({"vehicles.csv": VEHICLES, "jobs.csv": JOBS}, "first")], store)
    return store


@pytest.fixture
def ask(store: Path) -> Ask:
    """The rows of a query of the live snapshot."""

    def run(query: str) -> list[tuple[object, ...]]:
        name = snapshots.current(store)
        assert name is not None
        with duckdb.connect(str(snapshots.path_of(store, name)), read_only=True) as reader:
            return reader.sql(query).fetchall()

    return run
