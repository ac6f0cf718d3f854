"""Which map a sheet is read through: one that was given, else one remembered for its header, else none."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import chain

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.apply import apply
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.maps.held import Room
from fleetlens.intake.maps.shape import shape
from fleetlens.intake.maps.spreading import Read
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.sources import Source

__all__ = ["Maps", "recalled"]

_ALIKE = 0.6  # share of a remembered map's columns from which a header is taken for an older or newer one of its kind


class Maps:
    """The maps of one load.

    `given`: by the user, in their order; of them those for a file of their own come first. `remembered`: by the shape
    of a header. `read`: what reads a line of text. `used`: the maps given that were used, by the shape of the header,
    to be remembered.
    """

    def __init__(
        self, given: Sequence[ColumnMap], remembered: Mapping[str, Sequence[ColumnMap]], read: Read, today: date
    ) -> None:
        self.used: dict[str, list[ColumnMap]] = {}
        self._given, self._remembered = sorted(given, key=lambda one: not one.file), remembered
        self._read, self._today = read, today
        self._seen: list[Sheet] = []
        self._room = Room()

    def sources(self, sheet: Sheet, sha256: str, state: tuple[int, int]) -> list[Source] | None:
        """The sources of the sheet through its map; None where no map is meant for it.

        `sha256` and `state`: of the file. Raises FleetlensError as `apply`.
        """
        self._seen.append(sheet)
        for one in self._given:
            if _meant_for(one, sheet) and not one.missing(sheet.columns):
                mine = self.used.setdefault(shape(sheet.columns), [])
                if one not in mine:
                    mine.append(one)
                return self._apply(sheet, one, sha256, state)
        known = recalled(self._remembered, sheet)
        return self._apply(sheet, known, sha256, state) if known else None

    def _apply(self, sheet: Sheet, one: ColumnMap, sha256: str, state: tuple[int, int]) -> list[Source]:
        return apply(sheet, one, sha256=sha256, state=state, read=self._read, today=self._today, room=self._room)

    def outdated(self, sheet: Sheet) -> FleetlensError | None:
        """The error for a sheet like those of a remembered map but for a column that the map reads; else None."""
        alike = _nearest(chain(*self._remembered.values()), sheet)
        return alike.misfit(sheet.columns, sheet.name) if alike and _alike(alike, sheet) >= _ALIKE else None

    def unknown(self, sheet: Sheet) -> FleetlensError:
        """The error for a sheet that no map is for and whose names aren't ours."""
        given = _nearest(self._given, sheet)
        if given and (misfit := given.misfit(sheet.columns, sheet.name)):
            return misfit
        return self.outdated(sheet) or FleetlensError(
            f"this file fits no table by its name or its columns ({_some(sheet.columns)}), and no map is remembered "
            "for it",
            where=str(sheet.path.with_name(sheet.name)),
            do=f"suggest a map: fleetlens map {sheet.path} --out map.toml; then load with --map map.toml",
        )

    def check_used(self) -> None:
        """Raises FleetlensError for a map that was given and used for no sheet: the column that is missing, or why."""
        for one in self._given:
            if one in chain(*self.used.values()) or not self._seen:
                continue
            nearest = max(self._seen, key=lambda sheet: (_meant_for(one, sheet), _alike(one, sheet)))
            one.check_fits(nearest.columns, nearest.name)
            if not any(one.meant_for(sheet.path.name, "") for sheet in self._seen):
                raise FleetlensError(
                    f"the map is for a file {one.file!r}, and none of that name is here",
                    where=one.where,
                    do="correct the name of the file, or leave it out",
                )
            if not _meant_for(one, nearest):
                raise FleetlensError(
                    f"the map is for a sheet {one.sheet!r}, and none of that name is here",
                    where=one.where,
                    do="correct the key sheet, or leave it out",
                )
            raise FleetlensError(
                f"the map was used for nothing: another one given before it takes {nearest.name}",
                where=one.where,
                do="give only one of the two, or say for which file each is: --map FILE=MAP.toml",
            )


def recalled(remembered: Mapping[str, Sequence[ColumnMap]], sheet: Sheet) -> ColumnMap | None:
    """The map that is remembered for a sheet with these columns; None where none is.

    Raises FleetlensError where there are several and none, or more than one, is for a file of its name.
    """
    known = remembered.get(shape(sheet.columns), ())
    if len(known) < 2:
        return known[0] if known else None
    fitting = [one for one in known if _meant_for(one, sheet)]
    if len(fitting) == 1:
        return fitting[0]
    told = ", ".join(f"{one.name!r} for {one.file or 'any file'}" for one in known)
    raise FleetlensError(
        f"several maps are remembered for these columns ({told}), and the name of the file doesn't tell which",
        where=str(sheet.path.with_name(sheet.name)),
        do=f"say which: --map {sheet.path.name}=MAP.toml; a name with *, such as north-*.csv, holds for later files",
    )


def _meant_for(one: ColumnMap, sheet: Sheet) -> bool:
    return one.meant_for(sheet.path.name, sheet.part)


def _alike(one: ColumnMap, sheet: Sheet) -> float:
    """The share of the map's columns that the sheet has."""
    return 1 - len(one.missing(sheet.columns)) / max(len(one.columns), 1)


def _nearest(maps: Iterable[ColumnMap], sheet: Sheet) -> ColumnMap | None:
    return max(maps, key=lambda one: _alike(one, sheet), default=None)


def _some(names: Sequence[str]) -> str:
    return ", ".join(map(repr, names[:5])) + (" and others" if len(names) > 5 else "")
