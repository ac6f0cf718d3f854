"""What reads the lines of free text for a store: our own words, and those that the store's folder adds."""

from functools import cache
from pathlib import Path

from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import load_words
from fleetlens.intake.maps.spreading import Read

__all__ = ["WORDS", "line_reader"]

WORDS = "words.toml"  # in the folder of the store: words of the fleet's own


def line_reader(store: Path) -> Read:
    """The reader with the words of the store. Raises FleetlensError where its file of words can't be read."""
    own = store / WORDS
    words = load_words(own if own.is_file() else None)

    @cache
    def reader() -> LineReader:
        return LineReader(words)  # made for the first line, since most files need none

    return lambda line: reader().read(line)
