"""Exports as small files, their suggestions, and a store to load them into."""

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from textwrap import dedent

import duckdb
import pytest

from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.maps.suggest import Suggestion, suggest
from fleetlens.intake.maps.written import parse, write
from fleetlens.intake.readers.opening import open_file
from fleetlens.store import snapshots

TODAY = date(2026, 6, 30)

Export = Callable[..., Path]
Suggest = Callable[[Path], Suggestion]


@pytest.fixture
def export(tmp_path: Path) -> Export:
    """Write an export (its text, its name); its path."""

    def run(text: str, name: str = "export.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(dedent(text).lstrip("\n").encode(encoding))
        return path

    return run


@pytest.fixture
def suggested() -> Suggest:
    """The suggestion for the one sheet of a file."""
    return lambda path: suggest(open_file(path)[0], TODAY)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "store"


def answered(suggestion: Suggestion, **answers: str) -> ColumnMap:
    """The suggested map with the words at the places of its questions, each as written in its TOML."""
    text = write(suggestion.column_map)
    for question, answer in answers.items():
        text = text.replace(f'{question} = "?"', f'{question} = "{answer}"')
    return parse(text, "answered.toml")


def answered_with(path: Path, **units: str) -> ColumnMap:
    """The map suggested for the one sheet of a file, with the units of its readings."""
    text = write(suggest(open_file(path)[0], TODAY).column_map)
    for name, unit in units.items():
        text = re.sub(rf'^({name} = .*unit = )"\?"', rf'\1"{unit}"', text, flags=re.MULTILINE)
    return parse(text, "answered.toml")


def ask_store(store: Path, query: str) -> list[tuple[object, ...]]:
    """The rows of a query of the live snapshot."""
    name = snapshots.current(store)
    assert name is not None
    with duckdb.connect(str(snapshots.path_of(store, name)), read_only=True) as reader:
        return reader.sql(query).fetchall()
