"""Values checked against what standards and public data say."""

import csv
from datetime import date
from pathlib import Path

import pytest
from babel import Locale
from intake.values.told import column, told

from fleetlens.intake.values import dates, vins
from fleetlens.intake.values.dates import DateForm
from fleetlens.intake.values.month_names import month

TODAY = date(2026, 11, 25)
VINS = Path(__file__).parents[2] / "references" / "data" / "vin_check_digit.csv"


@pytest.mark.parametrize("language", ["en", "de", "fr", "nl", "es", "it", "pt", "pl", "sv", "da", "nb"])
def test_the_months_of_the_unicode_locale_data(language: str) -> None:
    """Unicode CLDR, as the babel package carries it: every name and every abbreviation that stands for one month."""
    for context in ("format", "stand-alone"):
        for width in ("wide", "abbreviated"):
            for number, name in Locale(language).months[context][width].items():
                assert month(name) == number, (language, name)


@pytest.mark.parametrize(
    ("number", "day", "base"),
    [
        # ECMA-376 part 1, 18.17.4.1 (from memory): 1900-01-01 is 1 in the 1900 system, 1904-01-01 is 0 in the 1904 one,
        # and a date has 1,462 fewer there. 44256 is given with the kind of mess; 43831 and 36526 are widely printed.
        ("44256", "2021-03-01", 1900),
        ("43831", "2020-01-01", 1900),
        ("36526", "2000-01-01", 1900),
        ("42794", "2021-03-01", 1904),
    ],
)
def test_day_numbers_of_spreadsheets(number: str, day: str, base: int) -> None:
    assert told(dates.clean(column(number), DateForm(TODAY, base=base))) == [(day, "date_serial")]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        # Forms of ISO 8601-1 (from memory: complete representations, basic and extended, local, with offset, UTC).
        ("1985-04-12", "1985-04-12"),
        ("19850412", "1985-04-12"),
        ("1985-04-12T10:15:30", "1985-04-12T10:15:30"),
        ("1985-04-12T10:15", "1985-04-12T10:15"),
        ("19850412T101530", "1985-04-12 10:15:30"),
        ("1985-04-12T10:15:30Z", "1985-04-12T10:15:30Z"),
        ("1985-04-12T10:15:30+04:00", "1985-04-12T10:15:30+04:00"),
        ("1985-04-12T10:15:30+0400", "1985-04-12T10:15:30+0400"),
        ("19850412T101530Z", "1985-04-12 10:15:30Z"),
    ],
)
def test_iso_8601(cell: str, value: str) -> None:
    assert dates.clean(column(cell), DateForm(TODAY)).values.to_list() == [value]


def _whole_vins() -> list[str]:
    """Of 49 CFR 565.15 (c)(4) and worked examples: the valid ones, sources in the file."""
    with VINS.open(encoding="utf-8") as file:
        return [row["vin"] for row in csv.DictReader(file) if row["valid"] == "1"]


@pytest.mark.parametrize("vin", _whole_vins())
def test_published_vins_are_left_alone_and_come_back(vin: str) -> None:
    assert told(vins.clean(column(vin))) == [(vin, None)]
    assert vins.clean(column(vin.lower(), f" {vin[:8]} {vin[8:]}")).values.to_list() == [vin, vin]
    assert vins.clean(column(vin.replace("1", "I").replace("0", "O"))).values.to_list() == [vin]


@pytest.mark.parametrize("vin", _whole_vins())
@pytest.mark.parametrize(("right", "wrong"), [("8", "B"), ("5", "S"), ("2", "Z"), ("B", "8"), ("S", "5"), ("Z", "2")])
def test_one_lookalike_comes_back_or_stays_with_a_remark(vin: str, right: str, wrong: str) -> None:
    for place in (place for place in range(1, 17) if vin[place] == right):
        typed = vin[:place] + wrong + vin[place + 1 :]
        cleaned = vins.clean(column(typed))
        assert told(cleaned) in ([(vin, "vin_check_digit")], [(typed, None)])
        assert (cleaned.values[0] == vin) == (cleaned.remarks[0] is None)
