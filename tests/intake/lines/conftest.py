"""One reader with our own words for all tests of job lines."""

import pytest

from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import load_words


@pytest.fixture(scope="session")
def reader() -> LineReader:
    return LineReader(load_words())
