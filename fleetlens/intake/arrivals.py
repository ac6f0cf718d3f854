"""Files before a load: what was found in each sheet, and whether it is a table of ours or needs a column map."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.choosing import recalled
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.sources import Source, open_all

__all__ = ["Arrival", "look_over"]


@dataclass(frozen=True, slots=True)
class Arrival:
    """One sheet of a file, and how a load would read it.

    `rows`: how many it has. `told`: what was found, in words. `table`: the input table that it is by its names; "" for
    none. `column_map`: the map that is meant for it. `given`: that map came with the files; else the store remembers
    it. `why`: why it is no table of ours, where it has no map either.
    """

    sheet: Sheet
    rows: int = 0
    told: tuple[str, ...] = ()
    table: str = ""
    column_map: ColumnMap | None = None
    given: bool = False
    why: str = ""


def look_over(
    path: Path, given: Sequence[ColumnMap] = (), remembered: Mapping[str, Sequence[ColumnMap]] | None = None
) -> list[Arrival]:
    """The sheets of a file that a load would look at, each read through once.

    `given`: maps that came with the files. `remembered`: those of the store, by the shape of a header.
    Raises FleetlensError where the file can't be read.
    """
    faults: dict[str, str] = {}
    while True:
        looking = _Looking(given, remembered or {}, faults)
        try:
            found = open_all([path], looking, _unwatched)
        except FleetlensError as fault:
            if not looking.sheets:
                raise
            last = looking.sheets[-1]
            if looking.map_for(last)[0] is None and last.part not in faults:
                faults[last.part] = fault.what
                continue  # the sheets after this one have not been looked at
            found = []
        named = {source.sheet.part: source.table.name for source in found if source.sheet is not None}
        return [looking.arrival(sheet, named.get(sheet.part, "")) for sheet in looking.sheets]


class _Looking:
    """Stands where a load has its maps, so that the load's own rules say what a sheet is.

    `faults`: why a sheet that was looked at before is no table of ours, by its part.
    """

    def __init__(
        self, given: Sequence[ColumnMap], remembered: Mapping[str, Sequence[ColumnMap]], faults: Mapping[str, str]
    ) -> None:
        self.sheets: list[Sheet] = []
        self._given = sorted(given, key=lambda one: (not one.file, not one.sheet, -len(one.columns)))
        self._remembered, self._faults = remembered, faults

    def sources(self, sheet: Sheet, sha256: str, state: tuple[int, int]) -> list[Source] | None:  # noqa: ARG002
        """No source for a sheet that needs no look at its names; None leaves the sheet to its names."""
        self.sheets.append(sheet)
        return [] if sheet.part in self._faults or self.map_for(sheet)[0] else None

    def outdated(self, sheet: Sheet) -> FleetlensError | None:  # noqa: ARG002
        """None: a sheet whose columns changed gets a new map."""
        return None

    def unknown(self, sheet: Sheet) -> FleetlensError:
        """The error for a sheet that fits no table."""
        return FleetlensError("its columns aren't named as those of our tables", where=sheet.name)

    def map_for(self, sheet: Sheet) -> tuple[ColumnMap | None, bool]:
        """The map that is meant for the sheet, and whether it was given.

        Of several given it is the one for this sheet alone, else the one that reads most of it.
        """
        for one in self._given:
            if one.meant_for(sheet.path.name, sheet.part) and not one.missing(sheet.columns):
                return one, True
        try:
            return recalled(self._remembered, sheet), False
        except FleetlensError:  # several are remembered, and none for a file of its name
            return None, False

    def arrival(self, sheet: Sheet, table: str) -> Arrival:
        """What there is to tell of the sheet, read through once."""
        rows = sum(_heights(sheet))
        column_map, given = self.map_for(sheet)
        arrival = Arrival(sheet, rows, sheet.told, table, column_map, given)
        if table or column_map is not None:
            return arrival
        return replace(arrival, why=self._faults.get(sheet.part, "its columns aren't named as those of our tables"))


def _heights(sheet: Sheet) -> Iterator[int]:
    return (batch.rows.height for batch in sheet.read(None))


def _unwatched(share: float) -> None:
    """Nobody waits for one file."""
