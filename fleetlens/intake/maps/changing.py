"""A column map changed by hand: columns given another meaning, keys answered, and the whole checked again."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl

from fleetlens.intake.maps import written
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap, Origin
from fleetlens.intake.maps.contents import look
from fleetlens.intake.maps.keys import Seen, settle
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.vocabulary.tables import tables

__all__ = ["KEYS", "answer", "constants_of", "dated_of", "keys_of", "reassign", "uses_of", "with_constants"]

KEYS = tuple(f"{table.name}.{column.name}" for table in tables().values() for column in table.columns)
_READINGS = ("odometer", "in_service_km")
_TEXTS = ("note", "complaint")


def uses_of(column_map: ColumnMap) -> dict[str, list[str]]:
    """For each column of the file that the map reads, what it is, as table.column."""
    found: dict[str, list[str]] = {}
    for table, mine in column_map.tables.items():
        for ours, origin in mine.items():
            if origin.column and origin.column != UNDECIDED:
                found.setdefault(origin.column, []).append(f"{table}.{ours}")
    return found


def reassign(sheet: Sheet, column_map: ColumnMap, uses: Mapping[str, Sequence[str]], today: date) -> ColumnMap:
    """The map in which the columns of the file are what `uses` says of them, and no others are read.

    What stays as it was keeps its keys; for the rest they are found in the column's values, and are "?" where those
    don't decide. Of two columns that are to be the same, the first is taken.
    """
    by_key = {key: name for name, keys in reversed(list(uses.items())) for key in keys}
    made: dict[str, dict[str, Origin]] = {}
    for table in tables().values():
        before = column_map.tables.get(table.name, {})
        mine = {}
        for column in table.columns:
            name, old = by_key.get(f"{table.name}.{column.name}"), before.get(column.name)
            if name is None:
                if old is not None and old.column in ("", UNDECIDED):
                    mine[column.name] = old
            elif old is not None and old.column == name:
                mine[column.name] = old
            else:
                mine[column.name] = _settled(sheet, table.name, column.name, name, today)
        if any(origin.column for origin in mine.values()):
            made[table.name] = mine
    _complete(made)
    same = list(made) == list(column_map.tables)
    changed = replace(
        column_map, tables=made, kind=column_map.kind if same else "table" if len(made) == 1 else "wide", ignore=()
    )
    used = set(changed.columns)
    return replace(changed, ignore=tuple(name for name in sheet.columns if name not in used))


def answer(column_map: ColumnMap, answers: Mapping[str, Mapping[str, Any]]) -> ColumnMap:
    """The map with these keys set, by table.column.

    Raises FleetlensError where the map can't be read so: a needed column that is missing, a key that doesn't fit.
    """
    made = {
        table: {ours: replace(origin, **answers.get(f"{table}.{ours}", {})) for ours, origin in mine.items()}
        for table, mine in column_map.tables.items()
    }
    changed = replace(column_map, tables=made)
    return written.parse(written.write(changed), changed.where)


def constants_of(column_map: ColumnMap) -> dict[str, str]:
    """Our columns that have one value for the whole file, as table.column, and the value."""
    return {
        f"{table}.{ours}": origin.constant
        for table, mine in column_map.tables.items()
        for ours, origin in mine.items()
        if origin.constant
    }


def with_constants(column_map: ColumnMap, values: Mapping[str, str]) -> ColumnMap:
    """The map in which these of our columns, as table.column, have one value for the whole file, and no others.

    They take the place of a column of the file; a blank value is none. Raises FleetlensError as `answer`.
    """
    made = {}
    for table in tables().values():
        mine = {ours: one for ours, one in column_map.tables.get(table.name, {}).items() if not one.constant}
        named = {column.name: values.get(f"{table.name}.{column.name}", "").strip() for column in table.columns}
        mine |= {ours: Origin(constant=value) for ours, value in named.items() if value}
        if mine:
            made[table.name] = mine
    kind = column_map.kind if len(made) == len(column_map.tables) or len(made) == 1 else "wide"
    return answer(replace(column_map, tables=made, kind=kind), {})


def dated_of(column_map: ColumnMap) -> list[str]:
    """Our columns of dates that come from a column of the file, as table.column."""
    dated = {
        f"{table.name}.{column.name}"
        for table in tables().values()
        for column in table.columns
        if column.type in ("date", "datetime")
    }
    return [key for keys in uses_of(column_map).values() for key in keys if key in dated]


def keys_of(table: str, ours: str, origin: Origin) -> tuple[str, ...]:
    """The keys that may be set for one of our columns that comes from a column of the file."""
    column = next(column for column in tables()[table].columns if column.name == ours)
    found: list[str] = []
    if column.type in ("date", "datetime"):
        found.append("date_order")
    elif ours in _READINGS:
        found.append("unit")
    elif column.type == "number":
        found.append("decimal")
    if origin.currency:
        found.append("currency")
    if column.allowed and origin.values:
        found.append("values")
    if ours in _TEXTS:
        found.append("text")
    return tuple(found)


def _settled(sheet: Sheet, table: str, ours: str, name: str, today: date) -> Origin:
    """The origin in the column `name`, with the keys that its first rows decide."""
    batch = next(iter(sheet.read((name,))), None)
    if batch is None:
        return Origin(name)
    sample: pl.DataFrame = batch.rows.select(name)
    origin = Origin(name, split=ours == "code")
    return settle(table, ours, origin, Seen(sheet, sample, {name: look(sample[name], today)}, today)).origin


def _complete(made: dict[str, dict[str, Origin]]) -> None:
    """Add what goes without a column: the job's number where none is there, the number of a line, texts to be read."""
    jobs = made.get("jobs")
    if jobs is not None and "job_id" not in jobs and {"vehicle_id", "opened_at"} <= set(jobs):
        made["jobs"] = {"job_id": Origin(made_from=("vehicle_id", "opened_at"))} | jobs
    actions = made.get("job_actions")
    if actions is not None:
        if "line" not in actions:
            actions["line"] = Origin(counted=True)
        if "note" in actions and not {"component", "action"} <= set(actions):
            actions["note"] = replace(actions["note"], text=True)
