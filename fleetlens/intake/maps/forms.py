"""How the values of a column are read: by the keys of the map, else by what the whole column says of itself."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import cast

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps import component_words
from fleetlens.intake.maps.column_map import ColumnMap, Origin
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.values import (
    date_evidence,
    dates,
    flags,
    identifiers,
    number_evidence,
    numbers,
    text,
    vins,
    words,
)
from fleetlens.intake.values.cleaned import Cleaned
from fleetlens.intake.values.dates import DateForm
from fleetlens.intake.values.number_shapes import Mark
from fleetlens.intake.values.numbers import NumberForm
from fleetlens.intake.values.words import WordForm
from fleetlens.vocabulary.tables import Column, tables

__all__ = ["Clean", "Weighed", "cleaner", "weigh"]

Clean = Callable[[pl.Series], Cleaned]

_LISTED = ("reason", "action", "status")
_MARKS: dict[str, Mark] = {",": ",", ".": "."}
_READINGS = ("odometer", "in_service_km")  # a reading says by itself how it is written
_BY_NAME: dict[str, Clean] = {
    "vin": vins.clean,
    "component": component_words.clean,
    **dict.fromkeys(("job_id", "part_number"), identifiers.clean),
    "vehicle_id": identifiers.of_one,
}


@dataclass(slots=True)
class Weighed:
    """What the columns of a file say of themselves, by the file's names."""

    today: date
    dates: dict[str, date_evidence.DateEvidence] = field(default_factory=dict)
    numbers: dict[str, number_evidence.NumberEvidence] = field(default_factory=dict)


def weigh(sheet: Sheet, column_map: ColumnMap, today: date, *, asking: bool = True) -> Weighed:
    """Read the sheet's dates and numbers once, as far as the map leaves something to them.

    `asking`: raises FleetlensError that lists all questions which neither the map nor a column decides.
    """
    found = Weighed(today)
    for _, column, origin in _typed(column_map):
        if column.type in ("date", "datetime"):
            found.dates[origin.column] = date_evidence.DateEvidence(today)
        elif column.type in ("number", "integer") and not origin.decimal and column.name not in _READINGS:
            found.numbers[origin.column] = number_evidence.NumberEvidence()
    wanted = tuple(dict.fromkeys((*found.dates, *found.numbers)))
    for batch in sheet.read(wanted) if wanted else ():
        for name, dated in found.dates.items():
            found.dates[name] = dated + date_evidence.evidence(batch.rows[name], today)
        for name, counted in found.numbers.items():
            found.numbers[name] = counted + number_evidence.evidence(batch.rows[name])
    asked = list(dict.fromkeys(_questions(column_map, found)))
    if asked and asking:
        listed = "\n".join(f"{number}. {one}" for number, one in enumerate(asked, 1))
        many = "s" if len(asked) > 1 else ""
        raise FleetlensError(
            f"{len(asked)} question{many} about {sheet.name} must be answered first; nothing was loaded\n{listed}",
            where=column_map.where,
            do="write each answer into the map at the key that it names, and load again with --map",
        )
    return found


def cleaner(table: str, ours: str, origin: Origin, weighed: Weighed) -> Clean:
    """What cleans the column."""
    column = next(column for column in tables()[table].columns if column.name == ours)
    match column.type:
        case "date" | "datetime":
            return partial(dates.clean, form=_dates(origin, weighed))
        case "number" | "integer":
            return partial(numbers.clean, form=_numbers(origin, column, weighed))
        case "boolean":
            return flags.clean
    if ours in _LISTED:
        return partial(words.clean, form=WordForm(ours))
    return _BY_NAME.get(ours, text.clean)


def _typed(column_map: ColumnMap) -> Iterator[tuple[str, Column, Origin]]:
    """The map's columns that have a column of the file: key, our column, origin."""
    for table in column_map.tables:
        columns = {column.name: column for column in tables()[table].columns}
        for ours, origin in column_map.tables[table].items():
            if origin.column:
                yield f"{table}.{ours}", columns[ours], origin


def _questions(column_map: ColumnMap, found: Weighed) -> Iterator[str]:
    for key, column, origin in _typed(column_map):
        if column.type in ("date", "datetime"):
            dated = found.dates[origin.column]
            if asked := _contradicted(dated, origin) if origin.date_order else dated.question:
                yield f"{key}.date_order: {asked}"
        elif origin.column in found.numbers and column.type in ("number", "integer"):
            weighed = found.numbers[origin.column]
            mixed = weighed.comma and weighed.point
            only_currency = len(weighed.currencies) > 1 and not mixed and not _undecided(weighed)
            if (asked := weighed.question) and not (only_currency and origin.currency):
                yield f"{key}.{'currency' if only_currency else 'decimal'}: {asked}"


def _contradicted(dated: date_evidence.DateEvidence, origin: Origin) -> str | None:
    """Why the order in the map can't be that of this file: else its days up to the 12th would be read as months."""
    sure = {"day_first": dated.day_first, "month_first": dated.month_first}
    against = sum(sure.values()) - sure.get(origin.date_order, 0)
    if origin.date_order not in sure or sure[origin.date_order] or not against:
        return None
    many = f"{against:,} of the dates" if against > 1 else "1 of the dates"
    return (
        f"the map says {origin.date_order}, but {many} of column {origin.column!r} can't be read so, and none can only "
        "be read so: give this file a map of its own"
    )


def _undecided(weighed: number_evidence.NumberEvidence) -> bool:
    return bool(weighed.either and not weighed.comma and not weighed.point)


def _dates(origin: Origin, weighed: Weighed) -> DateForm:
    found = weighed.dates.get(origin.column)
    own = found.form if found else None
    order = cast(dates.Order | None, origin.date_order or None)
    return DateForm(
        weighed.today,
        order or (own.order if own else None),
        base=1904 if origin.date_base == 1904 else 1900,
        midnight_is_day=bool(found and found.midnights and found.midnights == found.times),
        zone=origin.zone or None,
        mend_century=origin.mend_century,
    )


def _numbers(origin: Origin, column: Column, weighed: Weighed) -> NumberForm:
    found = weighed.numbers.get(origin.column)
    own = found.form if found else None
    decimal = _MARKS.get(origin.decimal) or (own.decimal if own else None)
    return NumberForm(decimal, "h" if column.unit == "h" else "", origin.currency or None)
