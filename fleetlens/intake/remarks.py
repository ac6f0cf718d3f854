"""What a load tells that is no fault: names that our lists don't hold, VINs that look wrong, rows replaced."""

from collections.abc import Sequence

import duckdb
import polars as pl

from fleetlens.intake.report import FileReport
from fleetlens.intake.values.identity import resolve
from fleetlens.store import queries
from fleetlens.vocabulary import codes, components, vin

__all__ = ["on_content", "on_files"]

_NAMED = 5  # so many examples in one remark


def on_files(files: Sequence[FileReport]) -> list[str]:
    """Files without rows, and rows that took the place of others."""
    with_rows = {file.path for file in files if file.rows_in}
    empty = dict.fromkeys(file.path.name for file in files if file.path not in with_rows)
    notes = [f"{name}: only a header, no rows" for name in empty]
    notes += [
        f"{_count(file.replaced, 'row')} of {file.path.name} took the place of rows loaded before"
        for file in files
        if file.replaced
    ]
    return notes


def on_content(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """On the whole store as it would be after the load."""
    notes = []
    unknown = [name for name in _texts(connection, "components", "component") if name not in components.components()]
    if unknown:
        notes.append(f"{_count(len(unknown), 'component')} not in our list, taken as written: {_some(unknown)}")
    undescribed = [code for code in _texts(connection, "codes", "code") if codes.description(code) is None]
    if undescribed:
        notes.append(
            f"{_count(len(undescribed), 'fault code')} without a description in our list: {_some(undescribed)}"
        )
    wrong = [number for number in _texts(connection, "vehicles", "vin") if vin.problems(number)]
    if wrong:
        first = vin.problems(wrong[0])[0]
        notes.append(f"{_count(len(wrong), 'VIN')} can't be right: {_some(wrong)}; of {wrong[0]}: {first}")
    return [*notes, *_on_vehicles(connection), *_on_odometers(connection)]


def _on_vehicles(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Vehicles that contradict each other: one VIN or one mark of several. One that hasn't left has its mark still."""
    marks = queries.inside(connection, "intake/vehicle_marks")
    last = connection.table("jobs").aggregate("max(cast(opened_at as date))").fetchall()[0][0]
    present = connection.table("vehicles").filter("left_service_on is null").project("vin, vehicle_id, registration")
    still = present.pl().rename({"vehicle_id": "fleet_number"}).with_columns(seen_on=pl.lit(last, pl.Date))
    found = resolve(pl.concat([marks, still])).contradictions
    told = [f"{value}: {why}" for value, why in found.select("value", "reason").iter_rows()]
    more = [f"{len(told) - _NAMED:,} more contradictions between vehicles"] if len(told) > _NAMED else []
    return [*told[:_NAMED], *more]


def _on_odometers(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """What became of readings that contradict those around."""
    aside, proposed, corrected, run_on = queries.inside(connection, "intake/reading_remarks").row(0)
    notes = []
    if aside:
        fit = f"; {proposed:,} would fit in another unit or with a digit moved" if proposed else ""
        notes.append(
            f"{_count(aside, 'odometer reading')} set aside, contradicting those around: the data check lists them{fit}"
        )
    if corrected:
        notes.append(f"{_count(corrected, 'odometer reading')} used as corrected, as the store's setting says")
    if run_on:
        notes.append(
            f"{_count(run_on, 'vehicle')} with an odometer that starts anew: its km run on from the one before"
        )
    return notes


def _texts(connection: duckdb.DuckDBPyConnection, table: str, column: str) -> list[str]:
    rows: pl.DataFrame = connection.table(table).select(column).distinct().pl()
    return rows[column].drop_nulls().sort().to_list()


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def _some(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more:,} more" if more > 0 else "")
