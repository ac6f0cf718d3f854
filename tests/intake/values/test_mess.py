"""The kinds of mess in job histories that concern single values, by their numbers in our list, each with its outcome.

The list is common practice, no source. Numbers that are missing here concern rows, files, texts or a vehicle's whole
record, and are tested there.
"""

from datetime import date

import pytest
from intake.values.told import column, told

from fleetlens.errors import FleetlensError
from fleetlens.intake.values import (
    code_cells,
    date_evidence,
    dates,
    flags,
    identifiers,
    number_evidence,
    numbers,
    odometers,
    registrations,
    text,
    vins,
)
from fleetlens.intake.values.dates import DateForm
from fleetlens.intake.values.numbers import NumberForm
from fleetlens.vocabulary.vin import check_digit, is_valid

TODAY = date(2026, 11, 25)
DAY_FIRST = DateForm(TODAY, "day_first")


def test_01_miles_among_km() -> None:
    found = odometers.clean(column("92000 mi", "148.220 km", "92k mi", "148220"))
    assert found.cleaned.values.to_list() == ["92000", "148220", "92000", "148220"]
    assert found.units.to_list() == ["mi", "km", "mi", None]


@pytest.mark.parametrize("filler", ["tba", "n/a", "N/A", "-", "?", "", "  ", "999999", "unbekannt"])
def test_04_fillers_are_blank(filler: str) -> None:
    cleaned = odometers.clean(column(filler)).cleaned
    assert cleaned.values.to_list() == [None]
    assert cleaned.unreadable.to_list() == [False]


@pytest.mark.parametrize("reading", ["0", "1", "123456"])
def test_04_readings_that_may_be_fillers_stay_with_a_remark(reading: str) -> None:
    cleaned = odometers.clean(column(reading)).cleaned
    assert told(cleaned) == [(reading, None)]
    assert "other readings" in cleaned.remarks[0]


def test_06_tenths_run_in_look_like_any_reading() -> None:
    assert told(odometers.clean(column("1482203", "148220.3")).cleaned) == [("1482203", None), ("148220.3", None)]


@pytest.mark.parametrize("cell", ["4512h", "4512 hrs", "4.512 Std."])
def test_10_hours_are_set_aside(cell: str) -> None:
    found = odometers.clean(column(cell))
    assert found.cleaned.unreadable.to_list() == [True]
    assert "hours" in found.cleaned.remarks[0]


@pytest.mark.parametrize(
    ("cell", "kept"),
    [("148220 km / 4512 h", "148220"), ("148220 km (92100 mi)", "148220"), ("92100 mi / 148.220 km", "148220")],
)
def test_10_of_two_readings_in_one_cell_the_km_are_kept(cell: str, kept: str) -> None:
    found = odometers.clean(column(cell))
    assert told(found.cleaned) == [(kept, "two_units")]
    assert found.units.to_list() == ["km"]


def test_10_two_readings_that_contradict_each_other_are_set_aside() -> None:
    assert odometers.clean(column("148220 km / 50000 mi", "12 / 13")).cleaned.unreadable.to_list() == [True, True]


@pytest.mark.parametrize(
    ("cell", "repair"),
    [
        ("148k", "thousands_word"),
        ("148.000", "thousands_mark"),
        ("148 000", "thousands_mark"),
        ("148'000", "thousands_mark"),
        ("148\u2019000", "thousands_mark"),
        ("148\u202f000", "thousands_mark"),
        ("148,000", "thousands_mark"),
    ],
)
def test_12_thousands(cell: str, repair: str) -> None:
    assert told(odometers.clean(column(cell)).cleaned) == [("148000", repair)]


def test_12_few_digits_before_the_mark_are_remarked() -> None:
    cleaned = odometers.clean(column("148,2")).cleaned
    assert told(cleaned) == [("148.2", "decimal_mark")]
    assert "thousands" in cleaned.remarks[0]


def test_14_the_column_decides_day_or_month() -> None:
    assert date_evidence.evidence(column("03/04/2021", "13/04/2021"), TODAY).form == DAY_FIRST
    assert date_evidence.evidence(column("03/04/2021", "04/13/2021"), TODAY).form == DateForm(TODAY, "month_first")


def test_14_an_undecided_column_asks() -> None:
    found = date_evidence.evidence(column("03/04/2021", "05/06/2021", "07/07/2021"), TODAY)
    assert found.form is None
    for part in ("'03/04/2021' and '05/06/2021'", "the 2 such dates", "date_order", "day_first", "month_first"):
        assert part in found.question


def test_14_a_change_of_clerk_is_told_with_counts() -> None:
    found = date_evidence.evidence(column("13/04/2021", "14/04/2021", "04/15/2021", "03/04/2021"), TODAY)
    assert found.form is None
    for part in ("2 dates can only be day-month", "1 only month-day", "1 could be either", "'04/15/2021'"):
        assert part in found.question


def test_14_what_contradicts_the_order_is_refused() -> None:
    cleaned = dates.clean(column("04/15/2021"), DAY_FIRST)
    assert cleaned.unreadable.to_list() == [True]
    assert "can only be month-day" in cleaned.remarks[0]


@pytest.mark.parametrize(
    ("short", "full"),
    [("01.02.21", "2021-02-01"), ("01.02.00", "2000-02-01"), ("01.02.27", "2027-02-01"), ("01.02.99", "1999-02-01")],
)
def test_15_two_digit_years(short: str, full: str) -> None:
    assert told(dates.clean(column(short), DAY_FIRST)) == [(full, "two_digit_year")]


def test_15_a_century_slip_stays_unless_the_map_mends_it() -> None:
    slip = column("01.02.1921", "1921-02-01", "01.02.1955")
    assert dates.clean(slip, DAY_FIRST).values.to_list() == ["1921-02-01", "1921-02-01", "1955-02-01"]
    mended = dates.clean(slip, DateForm(TODAY, "day_first", mend_century=True))
    assert told(mended) == [("2021-02-01", "century"), ("2021-02-01", "century"), ("1955-02-01", "date_shape")]


def test_16_day_numbers_of_a_spreadsheet() -> None:
    cells = column("44256", "44256.4375", "44256,4375")
    assert dates.clean(cells, DateForm(TODAY)).values.to_list() == [
        "2021-03-01",
        "2021-03-01 10:30",
        "2021-03-01 10:30",
    ]
    assert told(dates.clean(column("42794"), DateForm(TODAY, base=1904))) == [("2021-03-01", "date_serial")]


def test_16_a_number_that_is_no_day_of_a_fleet_is_refused() -> None:
    assert dates.clean(column("99999", "10231"), DateForm(TODAY)).unreadable.to_list() == [True, True]


@pytest.mark.parametrize(
    "cell",
    [
        *("3 mrt 2021", "3.M\u00e4r.2021", "3. M\u00e4rz 2021", "March 3, 2021", "3rd March 2021", "3 mars 2021"),
        *("3 de mar\u00e7o de 2021", "3 marca 2021", "3-Mar-2021", "3 marzo 2021", "3 marts 2021", "2021-Mar-03"),
    ],
)
def test_17_names_of_months(cell: str) -> None:
    assert told(dates.clean(column(cell), DateForm(TODAY))) == [("2021-03-03", "month_name")]


def test_17_a_beginning_of_two_months_is_refused() -> None:
    """French juin and juillet."""
    assert dates.clean(column("5 jui 2021", "5 juin 2021", "5 juil. 2021"), DateForm(TODAY)).values.to_list() == [
        None,
        "2021-06-05",
        "2021-07-05",
    ]


def test_17_two_digit_years_with_names() -> None:
    assert dates.clean(column("3 mrt 21", "3.M\u00e4r.21"), DateForm(TODAY)).values.to_list() == ["2021-03-03"] * 2


@pytest.mark.parametrize(
    "cell", ["30.02.2021", "31/06/2021", "1900-01-00", "2021-02-30", "29.02.2021", "2021-13-01", "30 Feb 2021", "0"]
)
def test_18_days_that_do_not_exist_are_refused(cell: str) -> None:
    assert dates.clean(column(cell), DAY_FIRST).unreadable.to_list() == [True]


@pytest.mark.parametrize("cell", ["00.00.0000", "0000-00-00", "00/00/00", "0000-00-00 00:00:00"])
def test_18_dates_of_zeros_are_blank(cell: str) -> None:
    assert told(dates.clean(column(cell), DAY_FIRST)) == [(None, "filler")]


def test_20_times_that_are_all_midnight_are_dropped() -> None:
    found = date_evidence.evidence(column("13.04.2021 00:00", "2021-04-14T00:00:00"), TODAY)
    cleaned = dates.clean(column("13.04.2021 00:00", "2021-04-14T00:00:00"), found.form)
    assert told(cleaned) == [("2021-04-13", "date_shape"), ("2021-04-14", "midnight")]
    mixed = date_evidence.evidence(column("13.04.2021 00:00", "14.04.2021 08:00"), TODAY)
    assert not mixed.form.midnight_is_day


def test_21_a_time_in_utc_is_the_next_day_for_the_workshop() -> None:
    cells = column("2021-03-04T23:30Z", "2021-03-04T23:30:00+01:00", "2021-03-04T23:30")
    assert dates.clean(cells, DateForm(TODAY)).values.to_list() == cells.to_list()
    at_home = dates.clean(cells, DateForm(TODAY, zone="Europe/Berlin"))
    assert told(at_home) == [
        ("2021-03-05 00:30", "time_zone"),
        ("2021-03-04 23:30", "time_zone"),
        ("2021-03-04T23:30", None),
    ]


def test_21_an_unknown_zone_is_an_error_that_can_be_mended() -> None:
    with pytest.raises(FleetlensError, match="'Europe/Nowhere' is no time zone"):
        DateForm(TODAY, zone="Europe/Nowhere")


@pytest.mark.parametrize(
    ("cell", "repair"),
    [
        ("1m8gdm9axkp042788", "vin_form"),
        ("1M8GDM9AXK P042788", "vin_form"),
        ("1M8-GDM9AXK-P042788", "vin_form"),
        ("IM8GDM9AXKPO42788", "vin_letters"),
        ("1M8GDM9AXKPQ42788", "vin_letters"),
        ("1M8GDM9AXKP04278B", "vin_check_digit"),
        ("1MBGDM9AXKP042788", "vin_check_digit"),
        ("1M8GDM9AXKP04Z788", "vin_check_digit"),
    ],
)
def test_23_vins_are_repaired_where_it_is_certain(cell: str, repair: str) -> None:
    """The whole VIN: a worked example that is widely printed, see tests/references/data/vin_check_digit.csv."""
    assert told(vins.clean(column(cell))) == [("1M8GDM9AXKP042788", repair)]


@pytest.mark.parametrize(
    ("cell", "remark"),
    [
        ("1M8GDM9AXKP042789", "check digit"),
        ("1M8GDM9AXKP04278", "16"),
        ("1M8GDM9AXKP0427888", "18"),
        ("W0B00000000000000", "no check digit"),
        ("1M8GDM9A?KP042788", "?"),
    ],
)
def test_23_other_vins_stay_with_a_remark(cell: str, remark: str) -> None:
    cleaned = vins.clean(column(cell))
    assert told(cleaned) == [(cell, None)]
    assert remark in cleaned.remarks[0]


def test_23_two_changes_that_would_prove_themselves_prove_nothing() -> None:
    """Places 2 and 12 have one weight, so S for 5 at either gives one and the same sum."""
    whole = "1S8GDM9A0KP542788"
    whole = whole[:8] + check_digit(whole) + whole[9:]
    typed = whole.replace("S", "5")
    assert is_valid(whole)
    assert told(vins.clean(column(typed))) == [(typed, None)]


def test_25_a_mark_in_several_spellings_has_one_key() -> None:
    assert set(registrations.key(column("ab 12-cde", "AB12CDE", "AB12\u00a0CDE"))) == {"AB12CDE"}
    assert registrations.key(column("AB12CDO", "AB12CD0")).n_unique() == 2
    assert registrations.lookalike_key(column("AB12CDO", "A8I2CD0", "AB12CD0")).n_unique() == 1
    assert registrations.key(column("", "-", None)).to_list() == [None, None, None]


@pytest.mark.parametrize(
    "mark", ['"', "''", "do.", "Do.", "dto.", "ditto", "as above", '-"-', "- \u201d -", "idem", "s.o."]
)
def test_31_ditto_marks_are_told(mark: str) -> None:
    assert text.dittos(column(mark)).to_list() == [True]


def test_31_other_texts_are_no_ditto_marks() -> None:
    assert not text.dittos(column("-", "done", "id card", "do egr", "", None, "above average")).any()


@pytest.mark.parametrize("cell", ["(123.45)", "123.45-", "-123.45", "\u2212123.45", "-\u00a3123.45", "\u00a3 -123.45"])
def test_35_negative_amounts(cell: str) -> None:
    assert numbers.clean(column(cell), NumberForm(".")).values.to_list() == ["-123.45"]


@pytest.mark.parametrize("cell", ["(-5)", "-5-", "--5", "(5", "5)"])
def test_35_two_signs_are_none(cell: str) -> None:
    assert numbers.clean(column(cell), NumberForm(".")).unreadable.to_list() == [True]


def test_40_currencies_are_left_out_and_never_converted() -> None:
    amounts = column("\u20ac 12,50", "12,50 EUR", "\u00a3 9,00")
    found = number_evidence.evidence(amounts)
    assert found.form is None
    assert "EUR (2 rows) and GBP (1 rows)" in found.question
    cleaned = numbers.clean(amounts, NumberForm(",", currency="EUR"))
    assert told(cleaned)[:2] == [("12.50", "currency")] * 2
    assert cleaned.remarks[2] == "an amount in GBP, but the column is in EUR"


def test_40_quantities_of_nothing_and_of_a_quarter() -> None:
    assert told(numbers.clean(column("0", "0.25", "3 pcs"), NumberForm("."))) == [
        ("0", None),
        ("0.25", None),
        ("3", "unit"),
    ]


@pytest.mark.parametrize(
    ("cell", "decimal"),
    [
        ("1.234,56", ","),
        ("1,234.56", "."),
        ("1 234,56", ","),
        ("1\u00a0234,56", ","),
        ("1\u2009234.56", "."),
        ("1'234.56", "."),
    ],
)
def test_41_decimal_and_thousands_marks(cell: str, decimal: str) -> None:
    found = number_evidence.evidence(column(cell, "1.234"))
    assert found.form == NumberForm(decimal)
    assert numbers.clean(column(cell), found.form).values.to_list() == ["1234.56"]


def test_41_a_mark_that_may_be_either_asks() -> None:
    found = number_evidence.evidence(column("1.234", "2.500", "17"))
    assert found.form is None
    for part in ("'1.234' and '2.500'", "set decimal"):
        assert part in found.question
    assert numbers.clean(column("1.234"), NumberForm(",")).values.to_list() == ["1234"]
    assert told(numbers.clean(column("1.234"), NumberForm("."))) == [("1.234", None)]
    assert numbers.clean(column("1.234"), NumberForm()).unreadable.to_list() == [True]


def test_41_a_column_that_contradicts_itself_asks() -> None:
    found = number_evidence.evidence(column("1,5", "2.5", "3,5"))
    assert found.form is None
    assert "2 numbers can only have a decimal comma ('1,5' and '3,5') and 1 only a decimal point" in found.question


@pytest.mark.parametrize(
    ("cell", "codes"),
    [
        ("p0401", ["P0401"]),
        ("P 0401", ["P0401"]),
        ("P0 401", ["P0401"]),
        ("P-0401", ["P0401"]),
        ("PO401", ["P0401"]),
        ("P04O1", ["P0401"]),
        ("0401", ["P0401"]),
        ("P0401-64", ["P0401-64"]),
        ("DTC:P0401", ["P0401"]),
        ("P0401;P0404", ["P0401", "P0404"]),
        ("P0671-P0674", ["P0671", "P0672", "P0673", "P0674"]),
    ],
)
def test_45_spellings_of_codes(cell: str, codes: list[str]) -> None:
    assert code_cells.clean(column(cell)).codes.to_list() == [codes]


def test_45_a_code_without_letter_and_zero_is_refused() -> None:
    cleaned = code_cells.clean(column("401")).cleaned
    assert cleaned.unreadable.to_list() == [True]
    assert "lost" in cleaned.remarks[0]


def test_46_several_codes_in_one_cell() -> None:
    cells = column("P0401, P0404/P0299\nU0100", "P0401 P0401", "n/a", "P0000")
    assert code_cells.clean(cells).codes.to_list() == [["P0401", "P0404", "P0299", "U0100"], ["P0401"], None, None]


def test_47_codes_of_another_system() -> None:
    assert code_cells.clean(column("SPN 1208 FMI 3", "16785")).codes.to_list() == [["SPN 1208 FMI 3"], None]


def test_49_lookalikes_are_no_codes() -> None:
    assert code_cells.clean(column("invoice P2002", "order no P0401")).cleaned.unreadable.to_list() == [True, True]


@pytest.mark.parametrize(
    ("cell", "right"),
    [
        ("\u00c2\u00a3240", "\u00a3240"),
        ("M\u00c3\u00a4r", "M\u00e4r"),
        ("\u00e2\u20ac\u0153ok\u00e2\u20ac\u009d", '"ok"'),
    ],
)
def test_57_text_in_the_wrong_encoding(cell: str, right: str) -> None:
    assert told(text.clean(column(cell))) == [(right, "mojibake")]


def test_57_text_in_the_right_encoding_stays() -> None:
    cells = column("M\u00e4rz", "\u0141\u00f3d\u017a", "\u00c5ngstr\u00f6m", "caf\u00e9 \u2013 ok")
    assert text.clean(cells).repaired.to_list() == [None, None, None, "characters"]


def test_58_broken_characters_are_refused() -> None:
    assert text.clean(column("a\0b")).unreadable.to_list() == [True]


def test_59_what_a_spreadsheet_does_to_numbers() -> None:
    cleaned = identifiers.clean(column("10231.0", "1.2E+11", "03-Dec", "00123", "A 12"))
    assert cleaned.values.to_list() == ["10231", None, "03-Dec", "00123", "A 12"]
    assert cleaned.repaired.to_list() == ["number_tail", None, None, None, None]
    assert "cut off digits" in cleaned.remarks[1]
    assert "date" in cleaned.remarks[2]
    assert numbers.clean(column("1.2E+11"), NumberForm(".")).values.to_list() == ["1.2E+11"]


@pytest.mark.parametrize("error", ["#REF!", "#VALUE!", "#DIV/0!", "#NAME?"])
def test_61_errors_of_a_spreadsheet_are_refused(error: str) -> None:
    assert text.clean(column(error)).unreadable.to_list() == [True]
    assert numbers.clean(column(error), NumberForm(".")).unreadable.to_list() == [True]
    assert dates.clean(column(error), DAY_FIRST).unreadable.to_list() == [True]


def test_62_characters_of_other_kinds() -> None:
    cells = column("  ok  ", "a\u00a0b", "\u201cx\u201d", "it\u2019s", "zero\u200bwidth", "\uff11\uff12", "\u00a0")
    assert text.clean(cells).values.to_list() == ["ok", "a b", '"x"', "it's", "zerowidth", "12", None]
    assert numbers.clean(column("\uff11\uff12,\uff15"), NumberForm(",")).values.to_list() == ["12.5"]


@pytest.mark.parametrize(
    "yes", ["Yes", "Y", "J", "1", "TRUE", "x", "X", "ja", "oui", "S\u00ed", "tak", "wahr", "\u2713"]
)
def test_62_words_for_yes(yes: str) -> None:
    assert flags.clean(column(yes)).values.to_list() == ["true"]


@pytest.mark.parametrize("no", ["No", "N", "0", "FALSE", "nein", "non", "n\u00e3o", "nie", "nej", "Nee"])
def test_62_words_for_no(no: str) -> None:
    assert flags.clean(column(no)).values.to_list() == ["false"]


def test_62_other_words_are_refused_unless_the_map_has_them() -> None:
    assert flags.clean(column("maybe")).unreadable.to_list() == [True]
    assert told(flags.clean(column("maybe", "n/a"), flags.FlagForm(false=("Maybe",)))) == [
        ("false", "flag"),
        (None, "filler"),
    ]
