"""The keys of a map that the values of a column decide: order of dates, decimal mark, unit, meanings of words."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

import polars as pl

from fleetlens.intake.maps import component_words
from fleetlens.intake.maps.column_map import UNDECIDED, Origin, question
from fleetlens.intake.maps.contents import Contents
from fleetlens.intake.maps.names import unit_in
from fleetlens.intake.maps.shape import words as words_of
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.intake.values import date_evidence, number_evidence, odometers, words
from fleetlens.intake.values.words import WordForm
from fleetlens.vocabulary.tables import Column, tables

__all__ = ["Seen", "Settled", "dates_of", "numbers_of", "settle"]

_ASKED = ("reason", "action")  # without them no figure is right
_NAMED = 12  # so many examples in one sentence


@dataclass(frozen=True, slots=True)
class Settled:
    """An origin with its keys, the evidence in words, and the questions that the values leave open."""

    origin: Origin
    evidence: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """What is known of a sheet: its first rows, and what each of its columns is like in them."""

    sheet: Sheet
    sample: pl.DataFrame
    columns: Mapping[str, Contents]
    today: date


def settle(table: str, ours: str, origin: Origin, known: Seen) -> Settled:
    """The keys that the values of the column decide; what they don't decide is "?" and a question."""
    name, seen = origin.column, known.columns
    if name not in seen or not seen[name].filled:
        return Settled(origin, questions=(question(table, ours, "column", ""),) if name == UNDECIDED else ())
    column = next(column for column in tables()[table].columns if column.name == ours)
    key = f"{table}.{ours}"
    if column.type in ("date", "datetime"):
        settled = _date(known, key, origin)
    elif ours in ("odometer", "in_service_km"):
        settled = _unit(key, origin, known.sample)
    elif column.type == "number":
        settled = _number(known, key, origin)
    elif column.allowed and ours != "odometer_unit":
        settled = _words(table, column, origin, seen[name])
    elif ours == "component":
        settled = _components(origin, seen[name])
    else:
        settled = Settled(origin)
    return settled


def _components(origin: Origin, seen: Contents) -> Settled:
    unknown = [text for text in seen.distinct_values if words_of(text) not in component_words.known()]
    why = f"not in our list of components, and taken as written unless the map gives them values: {_some(unknown)}"
    return Settled(origin, (why,) if unknown else ())


def _words(table: str, column: Column, origin: Origin, seen: Contents) -> Settled:
    """Words of a fixed list that we can't read: asked where the figures rest on them, else left blank and told."""
    texts = pl.Series("text", seen.distinct_values, dtype=pl.String)
    unread = texts.filter(words.clean(texts, WordForm(column.name)).unreadable).to_list()
    if not unread:
        return Settled(origin)
    if column.name not in _ASKED:
        why = f'not read, so left blank until the map says what they mean (values, ""): {_some(unread)}'
        return Settled(replace(origin, values=dict.fromkeys(unread, "")), (why,))
    asked = question(table, column.name, "values", origin.column)
    return Settled(replace(origin, values=dict.fromkeys(unread, UNDECIDED)), (f"not read: {_some(unread)}",), (asked,))


def _some(texts: list[str]) -> str:
    return ", ".join(repr(text[:40]) for text in texts[:_NAMED]) + (
        f" and {len(texts) - _NAMED} more" if len(texts) > _NAMED else ""
    )


def _date(known: Seen, key: str, origin: Origin) -> Settled:
    found = date_evidence.evidence(known.sample[origin.column], known.today)
    if found.question:
        found = dates_of(known.sheet, origin.column, known.today)  # the rows further down may tell
    if found.question:
        return Settled(replace(origin, date_order=UNDECIDED), questions=(f"{key}.date_order: {found.question}",))
    order = found.form.order if found.form else None
    if order is None:
        return Settled(origin)
    sure = {"day_first": found.day_first, "month_first": found.month_first, "year_first": found.over_31}[order]
    why = f"{order.replace('_', ' ')}: {sure:,} of its dates can only be so, none only otherwise"
    return Settled(replace(origin, date_order=order), (why,))


def _number(known: Seen, key: str, origin: Origin) -> Settled:
    found = number_evidence.evidence(known.sample[origin.column])
    if found.question:
        found = numbers_of(known.sheet, origin.column)
    if found.question:
        mixed, none = bool(found.comma and found.point), bool(found.either and not found.comma and not found.point)
        if mixed or none:
            return Settled(replace(origin, decimal=UNDECIDED), questions=(f"{key}.decimal: {found.question}",))
        decided = "," if found.comma else "." if found.point else ""
        made = replace(origin, currency=UNDECIDED, decimal=decided)
        return Settled(made, questions=(f"{key}.currency: {found.question}",))
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
    table, _, ours = key.partition(".")
    return Settled(replace(origin, unit=UNDECIDED), questions=(question(table, ours, "unit", name),))


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
