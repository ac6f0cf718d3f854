"""A small invented fleet, loaded once, and a way to run a command in this process."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from fleetlens.cli import main
from fleetlens.intake.load import load
from fleetlens.sample import make_sample
from fleetlens.store.reader import Snapshot, open_store


@dataclass(frozen=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Ran]:
    """Run a command as a user would, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    for name in ("FLEETLENS_STORE", "FLEETLENS_DEBUG"):
        monkeypatch.delenv(name, raising=False)

    def ran(*arguments: object) -> Ran:
        capsys.readouterr()
        code = 0
        try:
            main([str(argument) for argument in arguments])
        except SystemExit as end:
            code = int(end.code or 0)
        told = capsys.readouterr()
        return Ran(code, told.out, told.err)

    return ran


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The input tables of an invented fleet of 60 vehicles."""
    return make_sample(tmp_path_factory.mktemp("fleet"), vehicles=60, seed=7).folder


@pytest.fixture(scope="session")
def store(fleet: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with that fleet."""
    folder = tmp_path_factory.mktemp("loaded") / "fleet-store"
    load([fleet], folder)
    return folder


@pytest.fixture
def used(store: Path, run: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run a command with that store named by the environment."""
    monkeypatch.setenv("FLEETLENS_STORE", str(store))
    return run


@pytest.fixture
def snapshot(store: Path) -> Iterator[Snapshot]:
    """The store, open."""
    with open_store(store) as opened:
        yield opened
