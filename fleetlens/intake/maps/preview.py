"""The first rows of a sheet as a map would load them, table by table; what is undecided stays as it was written."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import polars as pl

from fleetlens.intake.maps.apply import tables_of
from fleetlens.intake.maps.cleaning import Tally
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap, Origin
from fleetlens.intake.maps.forms import weigh
from fleetlens.intake.maps.rows import Rows
from fleetlens.intake.maps.spreading import Read
from fleetlens.intake.readers.sheet import Batch, Sheet
from fleetlens.vocabulary.tables import tables

__all__ = ["preview"]

_LOOKED_AT = 500  # rows of the file


def preview(sheet: Sheet, column_map: ColumnMap, read: Read, today: date, rows: int = 5) -> dict[str, pl.DataFrame]:
    """For each table its first rows, all text, with the row of the file each comes from."""
    column_map.check_fits(sheet.columns, sheet.name)
    first = replace(sheet, read=lambda columns: _first(sheet, columns))
    known = {
        table: {ours: _decided(origin) for ours, origin in mine.items() if origin.column != UNDECIDED}
        for table, mine in column_map.tables.items()
    }
    _without_unknown_parts(known)
    decided = replace(column_map, tables=known)
    weighed = weigh(first, decided, today, asking=False)
    found = {}
    for table in tables_of(decided):
        batches = Rows(first, decided, table, weighed, tally=Tally(), read=read, with_ragged=False).batches()
        shown = pl.concat([batch.rows for batch in batches] or [pl.DataFrame({"row": []})])
        order = ["row", *(column.name for column in tables()[table].columns if column.name in shown.columns)]
        known_columns = order[1:]
        distinct = shown.unique(known_columns, keep="first", maintain_order=True) if known_columns else shown.clear()
        found[table] = distinct.select(order).head(rows)
    return found


def _decided(origin: Origin) -> Origin:
    values = {theirs: ours for theirs, ours in origin.values.items() if ours != UNDECIDED}
    blank: dict[str, Any] = dict.fromkeys((key for key in origin.open_keys if key != "values"), "")
    return replace(origin, values=values, **blank)


def _without_unknown_parts(known: dict[str, dict[str, Origin]]) -> None:
    """Make job numbers of what is decided of their parts; without any, nothing that needs a job's number is shown."""
    jobs = known.get("jobs", {})
    number = jobs.get("job_id", Origin())
    parts = tuple(ours for ours in number.made_from if ours in jobs)
    if parts:
        jobs["job_id"] = replace(number, made_from=parts)
    elif number.made_from:
        del jobs["job_id"]
        known.get("job_actions", {}).pop("line", None)


def _first(sheet: Sheet, columns: tuple[str, ...] | None) -> Iterator[Batch]:
    for batch in sheet.read(columns):
        yield Batch(batch.rows.head(_LOOKED_AT), [], 1.0)
        return
