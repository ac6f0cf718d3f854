"""A sheet read through its column map: one source for each input table, cleaned batch by batch."""

import hashlib
from dataclasses import replace
from datetime import date
from functools import partial

from fleetlens.intake.maps.cleaning import Tally
from fleetlens.intake.maps.column_map import ColumnMap, Origin
from fleetlens.intake.maps.forms import weigh
from fleetlens.intake.maps.held import Held, Room
from fleetlens.intake.maps.rows import Rows
from fleetlens.intake.maps.shape import same
from fleetlens.intake.maps.spreading import Read
from fleetlens.intake.maps.written import write
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.sources import Source
from fleetlens.vocabulary.tables import tables

__all__ = ["apply", "tables_of"]


def apply(
    sheet: Sheet,
    column_map: ColumnMap,
    *,
    sha256: str,
    state: tuple[int, int],
    read: Read,
    today: date,
    room: Room | None = None,
) -> list[Source]:
    """The sources of one sheet, parents first.

    `sha256` and `state`: of the file. `read`: what reads a line of free text. `room`: what the sheets of a load may
    hold in memory (None: this one has it to itself).
    Raises FleetlensError where the sheet lacks a column that the map reads, and where something is undecided.
    """
    column_map.check_decided()
    column_map.check_fits(sheet.columns, sheet.name)
    column_map = _as_spelt(column_map, sheet)
    named = tables_of(column_map)
    held = Held(sheet, column_map.columns, room or Room(), 1 + len(named))
    sheet = held.sheet
    weighed = weigh(sheet, column_map, today)
    held.times = len(named)
    known = {*column_map.columns, *column_map.ignore}
    left = [name for name in sheet.columns if name not in known]
    remarks = tuple(f"{sheet.name}: column {name!r} isn't in the map: left aside" for name in left)
    identity = hashlib.sha256("\0".join((sha256, sheet.part, _meaning(column_map))).encode()).hexdigest()
    sources: list[Source] = []
    for table in named:
        tally = Tally()
        rows = Rows(sheet, column_map, table, weighed, tally=tally, read=read, with_ragged=not sources)
        told = partial(tally.notes, sheet.name)
        mine = () if sources else remarks
        by_the_way = table == "vehicles" and (column_map.kind == "wide" or _by_mark(column_map))
        source = Source(sheet.path, tables()[table], identity, rows.batches, state, mine, sheet, told, by_the_way)
        sources.append(source)
    return sources


def tables_of(column_map: ColumnMap) -> list[str]:
    """The tables that the map gives rows of, in their order: those it names, and those that its texts tell."""
    texts = {ours for mine in column_map.tables.values() for ours, origin in mine.items() if origin.text}
    told = {"job_codes"} if texts else set()
    told |= {"job_actions"} if "note" in texts else set()
    return [name for name in tables() if name in column_map.tables or name in told]


def _by_mark(column_map: ColumnMap) -> bool:
    """Whether its vehicles have no numbers, but are told by their mark or VIN."""
    mine = column_map.tables["vehicles"]
    return any(other in mine and mine[other].column == mine["vehicle_id"].column for other in ("registration", "vin"))


def _as_spelt(column_map: ColumnMap, sheet: Sheet) -> ColumnMap:
    """The map with the names of columns as this very file spells them."""
    spelt = {same(name): name for name in sheet.columns}

    def here(origin: Origin) -> Origin:
        unit = f"from column {spelt[same(origin.unit_column)]}" if origin.unit_column else origin.unit
        return replace(origin, column=spelt.get(same(origin.column), origin.column), unit=unit)

    return replace(
        column_map,
        tables={
            table: {ours: here(origin) for ours, origin in mine.items()} for table, mine in column_map.tables.items()
        },
        ignore=tuple(spelt.get(same(name), name) for name in column_map.ignore),
    )


def _meaning(column_map: ColumnMap) -> str:
    """What of a map decides the rows: its name, its file, its header and where it stands don't."""
    return write(replace(column_map, name="", file="", header=(), ignore=(), where=""))
