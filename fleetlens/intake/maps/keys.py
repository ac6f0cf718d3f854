"""The keys of a map that the values of a column decide: order of dates, decimal mark, unit, meanings of words."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

import polars as pl

from fleetlens.intake.maps.column_map import UNDECIDED, Origin, question
from fleetlens.intake.maps.contents import Contents
from fleetlens.intake.maps.names import unit_in
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.values import date_evidence, number_evidence, odometers
from fleetlens.vocabulary.tables import tables

__all__ = ["Settled", "dates_of", "numbers_of", "settle"]


@dataclass(frozen=True, slots=True)
class Settled:
    """An origin with its keys, the evidence in words, and the questions that the values leave open."""

    origin: Origin
    evidence: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()


def settle(
    sheet: Sheet, table: str, ours: str, origin: Origin, sample: pl.DataFrame, seen: Mapping[str, Contents], today: date
) -> Settled:
    """The keys that the values of the column decide; what they don't decide is "?" and a question."""
    name = origin.column
    if name not in seen or not seen[name].filled:
        return Settled(origin, questions=(question(table, ours, "column", ""),) if name == UNDECIDED else ())
    column = next(column for column in tables()[table].columns if column.name == ours)
    key = f"{table}.{ours}"
    if column.type in ("date", "datetime"):
        return _date(sheet, key, origin, sample, today)
    if ours in ("odometer", "in_service_km"):
        return _unit(key, origin, sample)
    if column.type == "number":
        return _number(sheet, key, origin, sample)
    return Settled(origin)


def _date(sheet: Sheet, key: str, origin: Origin, sample: pl.DataFrame, today: date) -> Settled:
    found = date_evidence.evidence(sample[origin.column], today)
    if found.question:
        found = dates_of(sheet, origin.column, today)  # the rows further down may tell
    if found.question:
        return Settled(replace(origin, date_order=UNDECIDED), questions=(f"{key}.date_order: {found.question}",))
    order = found.form.order if found.form else None
    if order is None:
        return Settled(origin)
    sure = {"day_first": found.day_first, "month_first": found.month_first, "year_first": found.over_31}[order]
    why = f"{order.replace('_', ' ')}: {sure:,} of its dates can only be so, none only otherwise"
    return Settled(replace(origin, date_order=order), (why,))


def _number(sheet: Sheet, key: str, origin: Origin, sample: pl.DataFrame) -> Settled:
    found = number_evidence.evidence(sample[origin.column])
    if found.question:
        found = numbers_of(sheet, origin.column)
    if found.question:
        asked = "currency" if len(found.currencies) > 1 and not (found.comma and found.point) else "decimal"
        return Settled(replace(origin, **{asked: UNDECIDED}), questions=(f"{key}.{asked}: {found.question}",))
    decimal = found.form.decimal if found.form else None
    if decimal is None:
        return Settled(origin)
    word, sure = ("comma", found.comma) if decimal == "," else ("point", found.point)
    return Settled(replace(origin, decimal=decimal), (f"decimal {word}: {sure:,} of its numbers can only be so",))


def _unit(key: str, origin: Origin, sample: pl.DataFrame) -> Settled:
    """The unit of an odometer: from a column of units, the name of its column, or the cells themselves."""
    name = origin.column
    if origin.unit:
        return Settled(origin)
    if unit := unit_in(name):
        return Settled(
            replace(origin, unit=unit), (f"in {unit}, as its name says; where a cell says another, in that",)
        )
    read = odometers.clean(sample[name])
    filled = read.cleaned.values.is_not_null()
    if filled.any() and read.units.filter(filled).is_not_null().all():
        return Settled(origin, ("each of its cells says its unit",))
    return Settled(replace(origin, unit=UNDECIDED), questions=(question(*key.split("."), "unit", name),))


def dates_of(sheet: Sheet, name: str, today: date) -> date_evidence.DateEvidence:
    """What the whole column says of the order of its dates."""
    total = date_evidence.DateEvidence(today)
    for texts in _column(sheet, name):
        total = total + date_evidence.evidence(texts, today)
    return total


def numbers_of(sheet: Sheet, name: str) -> number_evidence.NumberEvidence:
    """What the whole column says of its decimal mark and currency."""
    total = number_evidence.NumberEvidence()
    for texts in _column(sheet, name):
        total = total + number_evidence.evidence(texts)
    return total


def _column(sheet: Sheet, name: str) -> Iterator[pl.Series]:
    return (batch.rows[name] for batch in sheet.read((name,)))
