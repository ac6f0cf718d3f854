"""Which parts a plan may hold, and when they are due."""

from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl
import pytest
from advice.planning.by_hand import AS_OF, NEW, parts, rates, strata

from fleetlens.advice.planning.candidates import STALE_DAYS, Candidates, candidates
from fleetlens.advice.planning.weeks import weeks
from fleetlens.reliability.cleaning_policy import life
from fleetlens.store.preferences import Service, Workshop

OVER = weeks(date(2026, 7, 6), 8, Workshop())


def found(*told: dict[str, Any], quarters: pl.DataFrame | None = None, **changed: Any) -> Candidates:
    return candidates(parts(*told), strata(**changed), rates() if quarters is None else quarters, OVER, Service())


def test_a_part_is_due_when_the_vehicle_gets_it_to_the_age_of_its_policy() -> None:
    quarters = rates(("V1", 80.0), ("V1", 100.0), ("V1", 125.0))
    row = found({"now_km": 40_000.0, "start_km": 10_000.0}, quarters=quarters).rows.row(0, named=True)
    left = row["due_age"] - 30_000
    assert row["age_km"] == 30_000
    assert row["due_km"] == 10_000 + row["due_age"]
    assert row["due_on"] == AS_OF + timedelta(days=int(left / 100))
    assert row["due_low"] == AS_OF + timedelta(days=int(left / 125))
    assert row["due_high"] == AS_OF + timedelta(days=int(left / 80))
    assert not row["overdue"]


def test_a_part_past_its_age_is_overdue_since_a_day_gone() -> None:
    row = found({"now_km": 95_000.0}, quarters=rates(("V1", 80.0), ("V1", 125.0))).rows.row(0, named=True)
    assert row["overdue"]
    assert row["due_low"] < row["due_on"] < row["due_high"] < AS_OF


def test_a_part_that_gets_due_before_the_plan_begins_is_overdue() -> None:
    due = float(strata().rows["first_km"][0])
    assert found({"now_km": due - 300}).rows["overdue"][0], "six days at 100 km lie before the first Monday"
    assert not found({"now_km": due - 700}).rows["overdue"][0]


def test_a_cleaned_part_lives_by_its_own_life_and_age() -> None:
    rows = found({"began_as": "new"}, {"began_as": "cleaned", "cleanings": 1}, {"began_as": "repaired"}).rows
    policy = strata().rows.row(0, named=True)
    assert rows["due_age"].to_list() == [policy["first_km"], policy["after_km"], policy["first_km"]]
    assert rows["shape"].to_list() == [2.6, 1.9, 2.6]
    assert rows["action"].to_list() == ["clean"] * 3


def test_a_part_cleaned_as_often_as_the_policy_says_is_replaced() -> None:
    cleaned = {"began_as": "cleaned"}
    rows = found({**cleaned, "cleanings": 1}, {**cleaned, "cleanings": 2}, cleanings=2).rows
    assert rows["action"].to_list() == ["clean", "replace"]
    assert rows["hours"].to_list() == [1.5, 2.5]
    assert found({}, cleanings=0).rows["action"].to_list() == ["replace"]


def test_without_cleaned_lives_a_cleaned_part_is_taken_by_the_life_of_new_ones() -> None:
    nothing = {f"cleaned_{name}": None for name in ("shape", "scale", "var_log_shape", "var_log_scale", "cov_log")}
    assert found({"began_as": "cleaned"}, **nothing).rows["shape"].to_list() == [2.6]


@pytest.mark.parametrize(
    ("part", "reason"),
    [
        ({"now_km": None}, "no usable odometer"),
        ({"last_on": AS_OF - timedelta(days=STALE_DAYS + 1)}, "more than 60 days"),
        ({"last_on": None}, "more than 60 days"),
        ({"km_per_day": 0.0}, "isn't being driven"),
    ],
)
def test_what_can_not_be_dated_is_listed_apart(part: dict[str, Any], reason: str) -> None:
    told = found(part, {})
    assert (told.rows.height, told.apart.height, told.unscheduled) == (1, 1, 0)
    assert reason in told.apart["because"][0]


def test_a_part_of_a_stratum_that_is_not_worth_a_schedule_is_counted() -> None:
    told = found({}, {"model": "Lugger"}, {"model": None})
    assert (told.rows.height, told.apart.height, told.unscheduled) == (1, 0, 2)
    assert found({}, verdict="not enough evidence").unscheduled == 1


def test_the_chance_of_failing_before_the_service_is_that_of_its_life() -> None:
    service = {"service_on": date(2026, 1, 10), "service_km": 25_000.0}
    row = found({**service, "now_km": 50_000.0}).rows.row(0, named=True)
    assert row["next_service_on"] == AS_OF + timedelta(days=50), "30,000 km after the last one"
    new = life(*NEW)
    km = 50_000 + 100 * 50
    assert row["chance_before_service"] == pytest.approx(
        1 - float(new.survival(np.array(km)) / new.survival(np.array(50_000.0)))
    )
    slow = found({**service, "now_km": 30_000.0, "km_per_day": 10.0}).rows.row(0, named=True)
    assert slow["next_service_on"] == date(2027, 1, 10), "a year after the last one"
    assert found({}).rows["chance_before_service"][0] is None


@pytest.mark.parametrize(
    ("service_on", "days"),
    [
        (date(2026, 6, 1), 336),  # next on 2027-06-01, after the plan
        (date(2025, 7, 20), 20 + 365),  # next on 2026-07-20, in the plan: the one after it
        (date(2024, 7, 20), 20 + 365),  # due for more than a year: again the next in that rhythm after the plan
    ],
)
def test_the_service_after_the_plan_keeps_the_rhythm_of_services(service_on: date, days: int) -> None:
    row = found({"service_on": service_on, "service_km": 39_000.0, "km_per_day": 20.0}).rows.row(0, named=True)
    assert row["later_age"] == row["age_km"] + 20.0 * days


def test_without_a_known_service_one_is_due_a_services_time_after_the_plan() -> None:
    row = found({"km_per_day": 100.0}).rows.row(0, named=True)
    assert row["later_age"] == 40_000 + 100.0 * ((OVER[-1].last_day - AS_OF).days + 300)
