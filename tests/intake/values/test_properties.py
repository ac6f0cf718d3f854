"""What is written in any listed shape reads back; no text breaks a cleaner; nothing is silent; batches don't matter."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from intake.values.told import column, keeps_its_promises

from fleetlens.intake.values import (
    code_cells,
    date_evidence,
    dates,
    flags,
    identifiers,
    number_evidence,
    numbers,
    odometers,
    text,
    vins,
    words,
)
from fleetlens.intake.values.cleaned import Cleaned
from fleetlens.intake.values.dates import DateForm
from fleetlens.intake.values.numbers import NumberForm
from fleetlens.intake.values.registrations import key, lookalike_key
from fleetlens.intake.values.words import WordForm

TODAY = date(2026, 11, 25)
DAYS = st.dates(date(1950, 1, 1), date(2027, 12, 31))
MONTHS = {
    "English": "January February March April May June July August September October November December",
    "German": "Januar Februar M\u00e4rz April Mai Juni Juli August September Oktober November Dezember",
    "Polish": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia wrze\u015bnia pa\u017adziernika "
    "listopada grudnia",
}
CLEANERS: dict[str, Callable[[pl.Series], Cleaned]] = {
    "day first": lambda texts: dates.clean(texts, DateForm(TODAY, "day_first")),
    "month first": lambda texts: dates.clean(texts, DateForm(TODAY, "month_first", 1904, True)),
    "year first": lambda texts: dates.clean(texts, DateForm(TODAY, "year_first", mend_century=True)),
    "zone": lambda texts: dates.clean(texts, DateForm(TODAY, zone="Europe/Berlin")),
    "comma": lambda texts: numbers.clean(texts, NumberForm(",")),
    "point": lambda texts: numbers.clean(texts, NumberForm(".", currency="EUR")),
    "hours": lambda texts: numbers.clean(texts, NumberForm(None, unit="h")),
    "odometers": lambda texts: odometers.clean(texts).cleaned,
    "flags": flags.clean,
    "vins": vins.clean,
    "text": text.clean,
    "identifiers": identifiers.clean,
    "reasons": lambda texts: words.clean(texts, WordForm("reason")),
    "actions": lambda texts: words.clean(texts, WordForm("action")),
    "codes": lambda texts: code_cells.clean(texts).cleaned,
}
# Texts that come close to values, and any others.
NEAR = st.text(
    st.sampled_from("0123456789.,-/: '()+%kKmiEeTZhPpOI\u20ac\u00a3\u00a0\u200b\uff11\u0661\u00c3\u00a4janmr#?\"xy"),
    max_size=18,
)
CELLS = st.lists(st.one_of(st.none(), NEAR, st.text(max_size=20)), max_size=12)


@pytest.mark.parametrize("name", CLEANERS)
@settings(max_examples=120)
@given(CELLS)
def test_no_text_breaks_a_cleaner_and_nothing_is_silent(name: str, cells: list[str | None]) -> None:
    texts = column(*cells)
    keeps_its_promises(texts, CLEANERS[name](texts))


@pytest.mark.parametrize("name", CLEANERS)
@settings(max_examples=25)
@given(CELLS)
def test_repeats_and_the_order_of_rows_change_nothing(name: str, cells: list[str | None]) -> None:
    once, often = CLEANERS[name](column(*cells)), CLEANERS[name](column(*(cells[::-1] * 5)))
    for part in ("values", "repaired", "unreadable", "remarks"):
        assert getattr(once, part).to_list()[::-1] * 5 == getattr(often, part).to_list()


@settings(max_examples=100)
@given(CELLS)
def test_no_text_breaks_keys_evidence_and_ditto_marks(cells: list[str | None]) -> None:
    texts = column(*cells)
    for found in (key(texts), lookalike_key(texts), text.dittos(texts)):
        assert len(found) == len(texts)
    dated, counted = date_evidence.evidence(texts, TODAY), number_evidence.evidence(texts)
    assert dated.rows == counted.rows == len(texts)
    assert (dated.form is None) == (dated.question is not None)
    assert (counted.form is None) == (counted.question is not None)
    kinds = (
        dated.blank,
        dated.day_first,
        dated.month_first,
        dated.either,
        dated.alike,
        dated.other_shapes,
        dated.no_date,
    )
    assert sum(kinds) <= len(texts)
    assert sum((counted.blank, counted.comma, counted.point, counted.either, counted.whole, counted.no_number)) == len(
        texts
    )


@settings(max_examples=60)
@given(CELLS, CELLS)
def test_evidence_adds_up_over_batches(one: list[str | None], two: list[str | None]) -> None:
    dated = date_evidence.evidence(column(*one), TODAY) + date_evidence.evidence(column(*two), TODAY)
    assert dated == date_evidence.evidence(column(*one, *two), TODAY)
    counted = number_evidence.evidence(column(*one)) + number_evidence.evidence(column(*two))
    assert counted == number_evidence.evidence(column(*one, *two))


@settings(max_examples=150)
@given(
    day=DAYS,
    mark=st.sampled_from("/.- \u00a0"),
    order=st.sampled_from(["day_first", "month_first", "year_first"]),
    padded=st.booleans(),
    short=st.booleans(),
)
def test_a_date_in_figures_reads_back(day: date, mark: str, order: dates.Order, padded: bool, short: bool) -> None:
    # A year of two digits says only those of which 2027 is the last.
    short = (short or order == "year_first") and day.year >= 1928
    year = f"{day.year % 100:02}" if short else str(day.year)
    parts = [f"{day.day:02}" if padded else str(day.day), f"{day.month:02}" if padded else str(day.month)]
    in_order = {"day_first": [*parts, year], "month_first": [*parts[::-1], year], "year_first": [year, *parts[::-1]]}
    cell = f" {mark.join(in_order[order])} "
    assert dates.clean(column(cell), DateForm(TODAY, order)).values.to_list() == [str(day)]


@settings(max_examples=60)
@given(day=DAYS, language=st.sampled_from(sorted(MONTHS)), length=st.sampled_from([3, 99]), first=st.booleans())
def test_a_date_with_the_name_of_its_month_reads_back(day: date, language: str, length: int, first: bool) -> None:
    name = MONTHS[language].split()[day.month - 1][:length]
    cell = f"{name} {day.day}, {day.year}" if first else f"{day.day}. {name} {day.year}"
    assert dates.clean(column(cell), DateForm(TODAY)).values.to_list() == [str(day)]


@settings(max_examples=100)
@given(
    moment=st.datetimes(datetime(1950, 1, 1), datetime(2027, 12, 31)).map(lambda moment: moment.replace(microsecond=0)),
    shape=st.sampled_from(
        [
            "%Y-%m-%d %H:%M:%S",
            "%d.%m.%Y %H:%M:%S",
            "%d/%m/%Y, %I:%M:%S %p",
            "%Y%m%dT%H%M%S",
            "%d.%m.%Y %H.%M.%S",
            "serial",
        ]
    ),
)
def test_a_time_reads_back(moment: datetime, shape: str) -> None:
    if shape == "serial":
        cell = f"{(moment - datetime(1899, 12, 30)) / timedelta(days=1):.10f}"
    else:
        cell = moment.strftime(shape)
    value = dates.clean(column(cell), DateForm(TODAY, "day_first")).values[0]
    assert datetime.fromisoformat(value) == moment


@settings(max_examples=200)
@given(
    number=st.decimals(-(10**9), 10**9, places=2),
    decimal=st.sampled_from(",."),
    group=st.sampled_from(["", "other", "'", " ", "\u00a0", "\u202f", "\u2019"]),
    negative=st.sampled_from(["-{}", "({})", "{}-", "\u2212{}"]),
    around=st.sampled_from(["{}", "\u20ac {}", "{} EUR", "\u00a3{}", "{} kr", "CHF {}", " {} "]),
)
def test_a_number_of_any_country_reads_back(
    number: object, decimal: str, group: str, negative: str, around: str
) -> None:
    english = f"{abs(number):,.2f}"  # type: ignore[call-overload]
    mark = {"other": "." if decimal == "," else ","}.get(group, group)
    written = english.replace(",", "_").replace(".", decimal).replace("_", mark)
    cell = around.format(negative.format(written) if number < 0 else written)  # type: ignore[operator]
    cleaned = numbers.clean(column(cell), NumberForm(decimal))
    assert cleaned.unreadable.to_list() == [False], cell
    assert float(cleaned.values[0]) == float(number), cell  # type: ignore[arg-type]


@settings(max_examples=60)
@given(st.lists(DAYS, min_size=1, max_size=20), st.sampled_from(["day_first", "month_first"]))
def test_evidence_never_decides_wrongly(days: list[date], order: dates.Order) -> None:
    shape = "%d/%m/%Y" if order == "day_first" else "%m/%d/%Y"
    texts = column(*(day.strftime(shape) for day in days))
    form = date_evidence.evidence(texts, TODAY).form
    if any(day.day > 12 for day in days):
        assert form == DateForm(TODAY, order)
    elif any(day.day != day.month for day in days):
        assert form is None
    if form:
        assert dates.clean(texts, form).values.to_list() == [str(day) for day in days]


@settings(max_examples=60)
@given(
    st.integers(1, 2_000_000), st.sampled_from(["{:,}", "{} km", "{:,} mi", "{}", "ODO {}"]), st.sampled_from(",.' ")
)
def test_an_odometer_reads_back(reading: int, shape: str, mark: str) -> None:
    found = odometers.clean(column(shape.format(reading).replace(",", mark)))
    nines = set(str(reading)) == {"9"} and reading > 99_999
    assert found.cleaned.values.to_list() == [None if nines else str(reading)]
    assert found.units.to_list() == [None if nines else shape[-2:] if shape[-2:] in ("km", "mi") else None]
