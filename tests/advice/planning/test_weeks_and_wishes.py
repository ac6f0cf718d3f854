"""The weeks of a plan, and what people wish of it."""

from datetime import date
from typing import Any

import polars as pl
import pytest
from advice.planning.by_hand import parts

from fleetlens.advice.planning.weeks import weeks
from fleetlens.advice.planning.wishes import AGREED, EXCLUDE, PIN, Wish, matching, parse, wishes_of
from fleetlens.errors import FleetlensError
from fleetlens.store.preferences import Workshop


def test_weeks_begin_on_mondays_and_the_first_is_open_from_its_day_on() -> None:
    shop = Workshop(hours_a_day=10, bays=3, closed_weekdays=("sunday",), closed_days=(date(2026, 12, 25),))
    first, second, third = weeks(date(2026, 12, 10), 3, shop)  # a Thursday
    assert [first.monday, second.monday, third.monday] == [date(2026, 12, 7), date(2026, 12, 14), date(2026, 12, 21)]
    assert [len(week.open_days) for week in (first, second, third)] == [3, 6, 5]
    assert (second.hours, second.visits) == (60, 18)
    assert third.last_day == date(2026, 12, 27)


@pytest.mark.parametrize("count", [0, 53])
def test_a_plan_has_1_to_52_weeks(count: int) -> None:
    with pytest.raises(FleetlensError, match="1 to 52"):
        weeks(date(2026, 12, 10), count, Workshop())


@pytest.mark.parametrize(
    ("kind", "text", "wish"),
    [
        (PIN, "V1:egr_valve=2026-12-10", Wish(PIN, "V1", "egr_valve", None, date(2026, 12, 7))),
        (PIN, "V1=2026-12-07", Wish(PIN, "V1", None, None, date(2026, 12, 7))),
        (EXCLUDE, "V1", Wish(EXCLUDE, "V1")),
        (EXCLUDE, " V1 : glow_plug : 3 ", Wish(EXCLUDE, "V1", "glow_plug", "3")),
    ],
)
def test_wishes_are_read(kind: str, text: str, wish: Wish) -> None:
    assert parse(kind, text) == wish


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (PIN, "V1:egr_valve"),
        (PIN, "=2026-12-07"),
        (PIN, "V1=7.12.26"),
        (EXCLUDE, "V1=2026-12-07"),
        (PIN, "a:b:c:d=2026-12-07"),
    ],
)
def test_what_can_not_be_read_is_told_with_the_form(kind: str, text: str) -> None:
    with pytest.raises(FleetlensError, match=r"2026-12-07|V000012"):
        parse(kind, text)


def test_an_exported_plan_is_a_table_of_agreed_dates() -> None:
    rows = pl.DataFrame(
        {
            "week_from": [date(2026, 12, 7), "2026-12-16", None],
            "vehicle_id": ["V1", "V2", "V3"],
            "component": ["egr_valve"] * 3,
            "position": ["", None, ""],
        },
        schema_overrides={"week_from": pl.Object},
    )
    assert wishes_of(rows, "plan.csv", AGREED) == (
        Wish(AGREED, "V1", "egr_valve", None, date(2026, 12, 7)),
        Wish(AGREED, "V2", "egr_valve", None, date(2026, 12, 14)),
    )


def test_a_column_of_wishes_wins() -> None:
    rows = pl.DataFrame({"vehicle_id": ["V1", "V2"], "week_from": ["2026-12-07", None], "wish": ["Pin", "exclude"]})
    assert [wish.kind for wish in wishes_of(rows, "wishes.csv")] == [PIN, EXCLUDE]


@pytest.mark.parametrize(
    ("rows", "named"),
    [
        ({"vehicle": ["V1"]}, "'vehicle_id'"),
        ({"vehicle_id": ["V1"], "week_from": ["soon"]}, "row 2, column week_from"),
        ({"vehicle_id": ["V1"], "wish": ["maybe"]}, "row 2, column wish"),
    ],
)
def test_a_faulty_table_is_named_by_row_and_column(rows: dict[str, Any], named: str) -> None:
    with pytest.raises(FleetlensError) as caught:
        wishes_of(pl.DataFrame(rows), "plan.csv")
    assert named in str(caught.value)
    assert "plan.csv" in str(caught.value)


def test_a_wish_is_about_the_tasks_it_names() -> None:
    table = parts({}, {"position": "2"}, {"component": "turbo", "vehicle_id": "V1"})
    assert matching(Wish(EXCLUDE, "V1"), table) == [0, 2]
    assert matching(Wish(EXCLUDE, "V2", "egr_valve", "2"), table) == [1]
    assert matching(Wish(EXCLUDE, "V2", "egr_valve", "1"), table) == []
