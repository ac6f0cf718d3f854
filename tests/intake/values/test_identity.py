"""One vehicle under several identities, told as small stories (kinds of mess 24, 26 and 28; common practice)."""

from datetime import date

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetlens.intake.values.identity import resolve

Mention = tuple[str | None, str | None, str | None, date | None]
COLUMNS = {"vin": pl.String, "fleet_number": pl.String, "registration": pl.String, "seen_on": pl.Date}


def mentions(*rows: Mention) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=COLUMNS, orient="row")


def vehicles(*rows: Mention) -> list[str | None]:
    return resolve(mentions(*rows)).vehicles["vehicle"].to_list()


def test_26_a_fleet_number_a_mark_and_a_vin_are_one_vehicle() -> None:
    found = resolve(
        mentions(
            ("VIN1", "7", None, None),
            ("vin1 ", None, "AB 12", date(2021, 1, 1)),
            (None, "7", None, None),
            (None, None, "ab-12", date(2022, 1, 1)),
            (None, None, "XY 9", None),
            (None, None, None, None),
        )
    )
    assert found.vehicles["vehicle"].to_list() == ["7", "7", "7", "7", "XY9", None]
    assert found.vehicles["why"].to_list() == [None] * 5 + ["no VIN, fleet number or registration"]
    assert found.contradictions.is_empty()


def test_24_a_mark_that_was_transferred_goes_with_the_date() -> None:
    first, second = ("V1", "7", "AB12", date(2020, 3, 1)), ("V1", "7", "AB12", date(2020, 9, 1))
    third = ("V2", "8", "AB12", date(2022, 1, 1))
    days = [date(2019, 1, 1), date(2020, 6, 1), date(2021, 6, 1), date(2022, 1, 1), date(2024, 1, 1)]
    found = resolve(mentions(first, second, third, *((None, None, "AB12", day) for day in days)))
    assert found.vehicles["vehicle"].to_list()[3:] == ["7", "7", None, "8", "8"]
    assert "any of 7, 8" in found.vehicles["why"][5]
    assert found.contradictions.is_empty()


def test_24_a_vehicle_with_a_new_mark_stays_one_vehicle() -> None:
    rows = [("V1", None, "AB12", date(2020, 1, 1)), ("V1", None, "CD34", date(2022, 1, 1))]
    assert vehicles(*rows, (None, None, "ab12", None), (None, None, "cd34", None)) == ["V1"] * 4


def test_a_mark_on_two_vehicles_at_a_time_is_reported_and_not_resolved() -> None:
    found = resolve(
        mentions(
            ("V1", None, "AB12", date(2020, 1, 1)),
            ("V1", None, "AB12", date(2022, 1, 1)),
            ("V2", None, "AB12", date(2021, 1, 1)),
            (None, None, "AB12", date(2021, 1, 1)),
            (None, None, "AB12", date(2020, 6, 1)),
            (None, None, "AB12", None),
        )
    )
    assert found.vehicles["vehicle"].to_list() == ["V1", "V1", "V2", None, "V1", None]
    assert found.contradictions.rows() == [
        (
            "two_vehicles_at_a_time",
            "AB12",
            ["V1", "V2"],
            "V1 and V2 both have the mark between 2021-01-01 and 2021-01-01",
        )
    ]


def test_a_holder_without_a_date_leaves_the_mark_in_doubt() -> None:
    held = [("V1", None, "AB12", None), ("V2", None, "AB12", date(2020, 1, 1))]
    found = resolve(mentions(*held, (None, None, "AB12", date(2021, 1, 1))))
    assert found.vehicles["vehicle"].to_list() == ["V1", "V2", None]
    assert found.contradictions["reason"].to_list() == [
        "V1 and V2 both have the mark, and no date tells which had it when"
    ]


def test_a_vin_under_two_fleet_numbers_is_reported() -> None:
    found = resolve(mentions(("V1", "7", None, None), ("V1", "8", None, None), (None, "7", None, None)))
    assert found.vehicles["vehicle"].to_list() == ["V1", "V1", "V1"]
    assert found.contradictions["kind"].to_list() == ["two_fleet_numbers"]
    assert found.contradictions["reason"].to_list() == ["one VIN under several fleet numbers: 7, 8"]


def test_28_a_fleet_number_given_to_a_second_vehicle_is_reported_and_not_resolved() -> None:
    found = resolve(mentions(("V1", "7", None, None), ("V2", "7", None, None), (None, "7", "AB12", None)))
    assert found.vehicles["vehicle"].to_list() == ["V1", "V2", None]
    assert "several VINs" in found.vehicles["why"][2]
    assert found.contradictions["kind"].to_list() == ["two_vins"]


def test_no_mentions() -> None:
    found = resolve(mentions())
    assert found.vehicles.is_empty()
    assert found.contradictions.is_empty()


SOME = st.tuples(
    st.sampled_from([None, "", "V1", "V2", "V3"]),
    st.sampled_from([None, "", "7", "8"]),
    st.sampled_from([None, "AB 12", "ab12", "CD-3"]),
    st.one_of(st.none(), st.dates(date(2020, 1, 1), date(2020, 1, 9))),
)


@settings(max_examples=150)
@given(st.lists(SOME, max_size=14))
def test_every_mention_keeps_its_place_and_a_vin_decides(rows: list[Mention]) -> None:
    found = resolve(mentions(*rows))
    assert found.vehicles.height == len(rows)
    names: dict[str, set[str | None]] = {}
    for (vin, number, mark, _), vehicle, why in zip(rows, *found.vehicles.get_columns(), strict=True):
        assert (vehicle is None) == (why is not None)
        if vin:
            names.setdefault(vin, set()).add(vehicle)
        if not (vin or number or mark):
            assert vehicle is None
    # One VIN, one vehicle; two VINs, two.
    assert all(len(called) == 1 and None not in called for called in names.values())
    assert len({name for called in names.values() for name in called}) == len(names)
    backward = resolve(mentions(*rows[::-1]))
    assert backward.vehicles["vehicle"].to_list()[::-1] == found.vehicles["vehicle"].to_list()
    assert backward.contradictions.equals(found.contradictions)
