"""The rows of a sheet held in memory from its first reading to its last, where they fit: a map reads it several times.

Each of its tables is a reading, and weighing its dates and numbers is one before; a sheet that is too large is read
anew each time.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fleetlens.intake.readers.sheet import Batch, Sheet

__all__ = ["Held", "Room"]

_ROOM = 256 << 20


@dataclass(slots=True)
class Room:
    """Bytes that all sheets of a load may hold together."""

    left: int = _ROOM


class Held:
    """One sheet. `columns`: all that will be asked for; `times`: how often it will be read."""

    def __init__(self, sheet: Sheet, columns: Sequence[str], room: Room, times: int) -> None:
        self.times = times
        self._read, self._columns, self._room = sheet.read, tuple(columns), room
        self._batches: list[Batch] | None = None
        self._size, self._fits = 0, True
        self.sheet = replace(sheet, read=self._again)

    def _again(self, columns: tuple[str, ...] | None) -> Iterator[Batch]:
        self.times -= 1
        if columns is None or not set(columns) <= set(self._columns):
            yield from self._read(columns)
        elif self._batches is not None:
            yield from (_narrowed(batch, columns) for batch in self._batches)
            if self.times <= 0:
                self._let_go()
        elif self.times > 0 and self._fits:
            yield from self._first(columns)
        else:
            yield from self._read(columns)

    def _first(self, columns: tuple[str, ...]) -> Iterator[Batch]:
        self._let_go()  # of a reading that was broken off
        batches: list[Batch] | None = []
        for batch in self._read(self._columns):
            size = int(batch.rows.estimated_size())
            if batches is not None and size <= self._room.left:
                batches.append(batch)
                self._room.left -= size
                self._size += size
            elif batches is not None:
                batches = None
                self._let_go()
                self._fits = False
            yield _narrowed(batch, columns)
        self._batches = batches

    def _let_go(self) -> None:
        """Give the room back."""
        self._batches = None
        self._room.left += self._size
        self._size = 0


def _narrowed(batch: Batch, columns: tuple[str, ...]) -> Batch:
    return replace(batch, rows=batch.rows.select("row", *columns))
