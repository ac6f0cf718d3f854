"""Rows held between the readings of a map: the same rows each time, read once where they fit, and let go at the end."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import polars as pl
import pytest

from fleetlens.intake.maps.held import Held, Room
from fleetlens.intake.readers.sheet import Batch, Sheet

ROWS = [
    pl.DataFrame({"row": [2, 3], "job": ["J1", "J2"], "van": ["V1", None], "left": ["a", "b"]}),
    pl.DataFrame({"row": [4], "job": ["J3"], "van": ["V3"], "left": ["c"]}),
]


@pytest.fixture
def asked() -> list[tuple[str, ...] | None]:
    """What the file is asked for, reading by reading."""
    return []


@pytest.fixture
def sheet(asked: list[tuple[str, ...] | None]) -> Sheet:
    def read(columns: tuple[str, ...] | None) -> Iterator[Batch]:
        asked.append(columns)
        for number, rows in enumerate(ROWS, 1):
            yield Batch(rows.select("row", *(columns or ("job", "van", "left"))), [], number / 2)

    return Sheet(Path("jobs.csv"), "", ("job", "van", "left"), 1, (), read)


def texts(sheet: Sheet, *columns: str) -> list[tuple[object, ...]]:
    return [row for batch in sheet.read(columns) for row in batch.rows.iter_rows()]


def test_rows_that_fit_are_read_once_and_let_go_after_the_last_time(
    sheet: Sheet, asked: list[tuple[str, ...] | None]
) -> None:
    room = Room(10_000)
    held = Held(sheet, ("job", "van"), room, times=3)
    assert texts(held.sheet, "van") == [(2, "V1"), (3, None), (4, "V3")]
    assert room.left < 10_000
    assert texts(held.sheet, "van", "job") == [(2, "V1", "J1"), (3, None, "J2"), (4, "V3", "J3")]
    assert texts(held.sheet, "job") == [(2, "J1"), (3, "J2"), (4, "J3")]
    assert (asked, room.left) == ([("job", "van")], 10_000)
    assert texts(held.sheet, "job") == [(2, "J1"), (3, "J2"), (4, "J3")]
    assert asked[1:] == [("job",)]


def test_rows_that_do_not_fit_are_read_each_time(sheet: Sheet, asked: list[tuple[str, ...] | None]) -> None:
    room = Room(int(ROWS[0].select("row", "job", "van").estimated_size()))  # the first batch, but not the second
    held = Held(sheet, ("job", "van"), room, times=3)
    whole = room.left
    assert texts(held.sheet, "van") == texts(held.sheet, "van") == [(2, "V1"), (3, None), (4, "V3")]
    assert (asked, room.left) == ([("job", "van"), ("van",)], whole)


def test_a_reading_that_is_broken_off_holds_nothing(sheet: Sheet, asked: list[tuple[str, ...] | None]) -> None:
    room = Room(10_000)
    held = Held(sheet, ("job", "van"), room, times=3)
    assert len(list(islice(held.sheet.read(("job",)), 1))) == 1
    assert len(texts(held.sheet, "job")) == len(texts(held.sheet, "job")) == 3
    assert (asked, room.left) == ([("job", "van")] * 2, 10_000)


def test_what_is_read_only_once_is_not_held(sheet: Sheet, asked: list[tuple[str, ...] | None]) -> None:
    room = Room(10_000)
    held = Held(sheet, ("job", "van"), room, times=1)
    assert len(texts(held.sheet, "job")) == 3
    assert (asked, room.left) == ([("job",)], 10_000)
