"""Our own lists of words: the rows of a CSV file beside this module."""

import csv
import io
from importlib.resources import files

__all__ = ["rows"]


def rows(name: str) -> list[dict[str, str]]:
    """The rows of data/`name`.csv, each by its column names."""
    text = files("fleetlens.vocabulary").joinpath(f"data/{name}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))
