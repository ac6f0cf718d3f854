"""Samples and scenes that several tests read."""

from pathlib import Path

import pytest

from fleetlens.sample import make_sample
from fleetlens.sample.chance import Chance
from fleetlens.sample.scene import Scene, play


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fleet of 150 vehicles, as CSV."""
    return make_sample(tmp_path_factory.mktemp("sample"), vehicles=150, seed=5).folder


@pytest.fixture(scope="session")
def scene() -> Scene:
    """Three thousand vehicles with their hidden lives: enough to weigh the truth against what was drawn."""
    return play(Chance(11), 1, 3_000)
