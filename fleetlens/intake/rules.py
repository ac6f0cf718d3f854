"""The rules that a row must keep by itself: types, limits, allowed values, dates that can be.

A rule says which rows break it, and one sentence with the remedy. Blank keeps every rule but `required`.
"""

import difflib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from fleetlens.vocabulary.codes import normalise
from fleetlens.vocabulary.tables import Column, Table
from fleetlens.vocabulary.units import km_factor

__all__ = ["FIRST_DATE", "RULES", "Rule", "rules", "text_of", "typed"]

FIRST_DATE = date(1950, 1, 1)  # nothing in a workshop's record is older
_LAST_INTEGER = 2**31 - 1
_TRUE, _FALSE = ("true", "t", "yes", "y", "1"), ("false", "f", "no", "n", "0")
_TIME = r"[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,9})?)?(Z|[+-]\d{2}:?\d{2})?"
_DATE = rf"^\d{{4}}-\d{{2}}-\d{{2}}({_TIME})?$"
_LISTED = 1_000  # so many distinct wrong values get a nearest allowed one named

# Every rule by name; those of `merge` and of the references are judged against the store, "unreadable" by a map.
RULES = (
    "ragged",
    "unreadable",
    "required",
    "number",
    "integer",
    "boolean",
    "date",
    "minimum",
    "maximum",
    "negative_odometer",
    "not_allowed",
    "future",
    "too_old",
    "closed_before_opened",
    "left_before_in_service",
    "code",
    "unknown_vehicle",
    "unknown_job",
    "reused_number",
    "same_key",
)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule on one column. `broken`: true for a row that breaks it; `reason`: the sentence.

    Both read the text columns and the typed ones.
    """

    name: str
    column: str
    broken: pl.Expr
    reason: pl.Expr


def text_of(name: str) -> pl.Expr:
    """The text of a column: blanks at its ends don't count, and nothing else is null."""
    return pl.col(f"{name}:text")


def typed(table: Table) -> list[pl.Expr]:
    """The columns of the table with their own types, null where blank or unreadable; they read the text columns."""
    return [_typed(column).alias(column.name) for column in table.columns]


def rules(table: Table, today: date) -> list[Rule]:
    """The rules of the table, column by column; a date may lie one day after `today`, for the sake of time zones."""
    found = [rule for column in table.columns for rule in _of_column(table, column, today)]
    if table.name == "jobs":
        # A closing date without a time is the whole day.
        opened, closed = pl.col("opened_at"), pl.col("closed_at")
        whole_day = text_of("closed_at").str.len_chars() == 10
        early = pl.when(whole_day).then(closed.dt.date() < opened.dt.date()).otherwise(closed < opened)
        found.append(
            Rule(
                "closed_before_opened",
                "closed_at",
                early,
                _say(
                    "closed on {}, before it was opened on {}: correct the date that is wrong", "closed_at", "opened_at"
                ),
            )
        )
    if table.name == "vehicles":
        found.append(
            Rule(
                "left_before_in_service",
                "left_service_on",
                pl.col("left_service_on") < pl.col("in_service_on"),
                _say(
                    "left service on {}, before it went into service on {}: correct the date that is wrong",
                    "left_service_on",
                    "in_service_on",
                ),
            )
        )
    return found


def _typed(column: Column) -> pl.Expr:
    text = text_of(column.name)
    match column.type:
        case "number":
            number = text.cast(pl.Float64, strict=False)
            return pl.when(number.is_finite()).then(number)
        case "integer":
            number = text.cast(pl.Float64, strict=False)
            whole = (number == number.floor()) & (number.abs() <= _LAST_INTEGER)
            return pl.when(whole).then(number).cast(pl.Int32, strict=False)
        case "boolean":
            low = text.str.to_lowercase()
            return pl.when(low.is_in(_TRUE)).then(True).when(low.is_in(_FALSE)).then(False)
        case "date":
            return _once(text, _day, pl.Date())
        case "datetime":
            return _once(text, _moment, pl.Datetime("us"))
        case "string":
            return _spelt(column, text)


def _once(text: pl.Expr, work: Callable[[pl.Expr], pl.Expr], dtype: pl.DataType) -> pl.Expr:
    """What `work` makes of the texts, worked out once for each different text where many repeat, as dates do."""

    def found(values: pl.Series) -> pl.Series:
        distinct = values.unique()
        if 2 * distinct.len() >= values.len():
            return values.to_frame("text").select(work(pl.col("text"))).to_series()
        answers = distinct.to_frame("text").select(work(pl.col("text"))).to_series()
        return values.replace_strict(distinct, answers, return_dtype=dtype)

    return text.map_batches(found, return_dtype=dtype)


def _day(text: pl.Expr) -> pl.Expr:
    day = text.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    return pl.when(text.str.contains(_DATE)).then(day)


def _moment(text: pl.Expr) -> pl.Expr:
    """The time on the wall where it was written; an offset from UTC says where that was and is passed over."""
    clock = text.str.slice(11).str.replace(r"(Z|[+-]\d{2}:?\d{2})$", "")
    clock = pl.when(clock.str.len_chars() == 5).then(clock + ":00").otherwise(clock)
    clock = pl.when(text.str.len_chars() == 10).then(pl.lit("00:00:00")).otherwise(clock)
    moment = text.str.slice(0, 10) + " " + clock
    moment = moment.str.to_datetime("%Y-%m-%d %H:%M:%S%.f", time_unit="us", strict=False)
    return pl.when(text.str.contains(_DATE)).then(moment)


def _spelt(column: Column, text: pl.Expr) -> pl.Expr:
    """Text in the one spelling we keep."""
    if column.name == "odometer_unit":
        return text
    if column.name == "component" or column.allowed:
        return _once(text, lambda one: one.str.to_lowercase().str.replace_all(r"[\s-]+", "_"), pl.String())
    return text


def _of_column(table: Table, column: Column, today: date) -> Iterator[Rule]:
    name, value, text = column.name, pl.col(column.name), text_of(column.name)
    unreadable = text.is_not_null() & value.is_null()
    if column.required:
        sentence = f"{name} is blank: give a value, no row of {table.name} can stand without it"
        yield Rule("required", name, text.is_null(), pl.lit(sentence))
    match column.type:
        case "number":
            remedy = "write digits with a point as the decimal mark, without unit and without a mark for thousands"
            yield Rule("number", name, unreadable, _say(f"'{{}}' is not a number: {remedy}", name))
        case "integer":
            yield Rule("integer", name, unreadable, _say("'{}' is not a whole number: write digits only", name))
        case "boolean":
            yield Rule(
                "boolean", name, unreadable, _say("'{}' is neither true nor false: write true, false or nothing", name)
            )
        case "date" | "datetime":
            yield from _of_date(column, unreadable, today)
        case "string":
            yield from _of_text(column)
    if column.minimum is not None:
        yield _least(column, column.minimum)
    if column.maximum is not None:
        most = f"{column.maximum:g}"
        yield Rule(
            "maximum",
            name,
            value > column.maximum,
            _say(f"{{}} is more than {most}, the most there can be: check it", name),
        )


def _least(column: Column, minimum: float) -> Rule:
    below = pl.col(column.name) < minimum
    if column.name == "odometer":
        sentence = "an odometer can't read {}: check the sign and the figure, or leave it blank"
        return Rule("negative_odometer", column.name, below, _say(sentence, column.name))
    sentence = f"{{}} is less than {minimum:g}, the least there can be: check it"
    return Rule("minimum", column.name, below, _say(sentence, column.name))


def _of_date(column: Column, unreadable: pl.Expr, today: date) -> Iterator[Rule]:
    name, value = column.name, pl.col(column.name).cast(pl.Date)
    form = "YYYY-MM-DD" if column.type == "date" else "YYYY-MM-DD, or YYYY-MM-DD HH:MM"
    last = today + timedelta(days=1)
    yield Rule("date", name, unreadable, _say(f"'{{}}' is not a date: write a day that exists as {form}", name))
    yield Rule(
        "future", name, value > last, _say(f"'{{}}' lies in the future (today is {today}): check the year", name)
    )
    yield Rule("too_old", name, value < FIRST_DATE, _say(f"'{{}}' lies before {FIRST_DATE:%Y}: check the year", name))


def _of_text(column: Column) -> Iterator[Rule]:
    name = column.name
    if name == "odometer_unit":
        known = text_of(name).map_batches(_known_units, return_dtype=pl.Boolean)
        yield Rule("not_allowed", name, ~known, _say("'{}' is no unit of an odometer: write km or mi", name))
    elif column.allowed:
        sentence = _say(
            f"'{{}}' is not one of the values of {name}{{}}: write {_either(column.allowed)}", name, near=column.allowed
        )
        yield Rule("not_allowed", name, ~pl.col(name).is_in(column.allowed), sentence)
    elif name == "code":
        known = text_of(name).map_batches(_are_codes, return_dtype=pl.Boolean)
        yield Rule(
            "code", name, ~known, _say("'{}' is not a fault code: write it as P0401, P0401-64 or SPN 1208 FMI 3", name)
        )


def _say(sentence: str, *names: str, near: tuple[str, ...] = ()) -> pl.Expr:
    """The sentence with the texts of the columns in its places; with `near`, the nearest allowed value as well."""
    parts = [text_of(name).fill_null("") for name in names]
    if near:
        parts.append(text_of(names[0]).map_batches(lambda values: _nearest(values, near), return_dtype=pl.String))
    return pl.format(sentence, *parts)


def _either(allowed: tuple[str, ...]) -> str:
    return f"{', '.join(allowed[:-1])} or {allowed[-1]}"


def _nearest(values: pl.Series, allowed: tuple[str, ...]) -> pl.Series:
    distinct = values.drop_nulls().unique().sort().head(_LISTED)
    found = {value: difflib.get_close_matches(value.lower()[:40], allowed, n=1) for value in distinct}
    hints = {value: f" (nearest: {near[0]})" for value, near in found.items() if near}
    return (
        values.replace_strict(hints, default="", return_dtype=pl.String)
        if hints
        else pl.repeat("", len(values), eager=True)
    )


def _known_units(values: pl.Series) -> pl.Series:
    return _by_distinct(values, {value: km_factor(value) is not None for value in values.drop_nulls().unique()})


def _are_codes(values: pl.Series) -> pl.Series:
    return _by_distinct(values, {value: normalise(value) is not None for value in values.drop_nulls().unique()})


def _by_distinct(values: pl.Series, answers: dict[str, bool]) -> pl.Series:
    if not answers:
        return pl.repeat(None, len(values), dtype=pl.Boolean, eager=True)
    return values.replace_strict(answers, default=None, return_dtype=pl.Boolean)
