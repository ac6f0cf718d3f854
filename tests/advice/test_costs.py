"""Costs as given, as preferred, or learned from the store's own jobs."""

from datetime import date
from typing import Any

import pytest
from findings.direct import snapshot_of

from fleetlens.advice.costs import Costs, Given, costs, said
from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.store.preferences import ComponentPrices, Money, Preferences

VAN = {"vehicle_id": "V1", "model": "A", "in_service_on": date(2024, 1, 1), "in_service_km": 0.0}
PRICES = Preferences()


def learned(
    rows: list[tuple[str, str, dict[str, Any]]], preferences: Preferences = PRICES, given: Given | None = None
) -> Costs:
    """Costs from jobs given as (reason, action, money); every job was down for 10 h and diagnosed for 30."""
    jobs, actions = [], []
    for number, (reason, action, money) in enumerate(rows):
        job_id = f"J{number}"
        jobs.append(
            {
                "job_id": job_id,
                "vehicle_id": "V1",
                "opened_at": date(2024, 2, number + 1),
                "odometer_km": 1_000.0 * number,
                "reason": reason,
                "downtime_h": 10.0,
            }
        )
        actions.append({"job_id": job_id, "component": "dpf", "action": action, **money})
        actions.append({"job_id": job_id, "component": "vehicle", "action": "diagnose", "labour_cost": 30.0})
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        return costs(snapshot, ["dpf"], Filters(), preferences, given or Given())


def figure(told: Costs, name: str) -> float | None:
    value: float | None = told.rows[name][0]
    return value


MIXED = [
    ("scheduled", "clean", {"labour_cost": 80.0, "parts_cost": 20.0, "labour_h": 1.0}),
    ("scheduled", "clean", {"labour_cost": 120.0, "labour_h": 2.0}),
    ("scheduled", "replace", {"parts_cost": 900.0, "labour_h": 4.0}),
    ("breakdown", "replace", {"labour_cost": 100.0, "parts_cost": 400.0, "labour_h": 9.0}),
    ("defect", "clean", {"labour_cost": 70.0}),
]


def test_medians_of_planned_rows_and_of_whole_failure_jobs() -> None:
    told = learned(MIXED[:4], Preferences(money=Money(downtime_rate=20.0)))
    assert figure(told, "clean") == figure(told, "planned") == 110.0
    assert figure(told, "replace") == 900.0
    assert figure(told, "failure") == figure(told, "last_failure") == 500.0 + 30.0 + 10 * 20.0
    assert (figure(told, "clean_hours"), figure(told, "replace_hours"), figure(told, "mended")) == (1.5, 4.0, 0.0)
    assert (figure(told, "downtime_h"), figure(told, "part_cost")) == (10.0, 650.0)  # of one failure; of 900 and 400
    assert told.sentences("planned", "failure") == (
        "dpf: planned renewal 110.00, the median of 2 preventive cleanings; failure 730.00, the median of 1 whole jobs"
        ", with downtime at 20.00 an hour.",
    )


def test_failures_mended_by_a_cleaning_and_others_have_medians_of_their_own() -> None:
    told = learned([*MIXED, ("defect", "clean", {"labour_cost": 90.0})])
    assert figure(told, "failure") == pytest.approx((530 + 2 * 110) / 3)
    assert figure(told, "last_failure") == 530.0
    assert figure(told, "mended") == pytest.approx(2 / 3)
    assert "110.00 of 2 mended by a cleaning and 530.00 of 1 others" in " ".join(told.sentences("failure"))


def test_recovery_is_spread_over_the_failures_that_broke_down() -> None:
    rows = [*MIXED[3:4], ("defect", "replace", {"labour_cost": 500.0})]
    told = learned(rows, Preferences(money=Money(currency="EUR", recovery=100.0)))
    assert figure(told, "failure") == 530.0 + 100.0 / 2
    assert told.sentences("failure")[0].endswith("with recovery at 100.00 EUR for the 1 that broke down.")
    assert "Amounts are in EUR." in told.told


@pytest.mark.parametrize(
    ("rows", "planned", "clean", "replace"),
    [
        (
            [("scheduled", "replace", {"parts_cost": 900.0}), ("defect", "clean", {"labour_cost": 70.0})],
            *(900.0, 70.0, 900.0),
        ),
        ([("defect", "clean", {"labour_cost": 70.0})], 70.0, 70.0, None),
        ([("defect", "replace", {"labour_cost": 70.0})], None, None, 70.0),
        ([("scheduled", "clean", {})], None, None, None),
        ([("scheduled", "clean", {"labour_cost": 0.0})], None, None, None),
    ],
)
def test_where_the_planned_costs_come_from(
    rows: Any, planned: float | None, clean: float | None, replace: float | None
) -> None:
    told = learned(rows)
    assert [figure(told, name) for name in ("planned", "clean", "replace")] == [planned, clean, replace]


def test_given_prices_win_over_preferences_and_these_over_the_jobs() -> None:
    preferred = Preferences(component={"dpf": ComponentPrices(clean=60.0, failure=700.0, clean_hours=2.5)})
    told = learned(MIXED, preferred, Given(clean=5.0))
    assert [figure(told, name) for name in ("clean", "planned", "failure", "clean_hours", "replace")] == [
        *(5.0, 5.0, 700.0, 2.5, 900.0)
    ]
    said_of = " ".join(told.sentences("clean", "failure", "clean_hours"))
    assert "planned cleaning 5.00 as asked" in said_of
    assert "failure 700.00 as failure in [component.dpf] of fleetlens.toml" in said_of
    assert "2.50 h as clean_hours in [component.dpf] of fleetlens.toml" in said_of


def test_a_failure_that_is_set_is_the_mean_over_the_remedies() -> None:
    told = learned(MIXED, given=Given(failure=700.0))  # one failure of two was mended by a cleaning at 110
    assert figure(told, "last_failure") == 700.0 + 0.5 * (900.0 - 110.0)


def test_the_hours_of_two_parts_in_one_job_are_shared() -> None:
    jobs = [
        {
            "job_id": "J1",
            "vehicle_id": "V1",
            "opened_at": date(2024, 2, 1),
            "odometer_km": 1_000.0,
            "reason": "scheduled",
        }
    ]
    actions = [
        {"job_id": "J1", "component": "injector", "action": "clean", "position": place, "labour_h": hours}
        for place, hours in (("1", 3.0), ("2", None))
    ]
    actions.append({"job_id": "J1", "component": "injector", "action": "inspect", "position": "1", "labour_h": 8.0})
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        told = costs(snapshot, ["injector"], Filters(), PRICES)
    assert figure(told, "clean_hours") == 1.5


@pytest.mark.parametrize(
    "amounts", [{"clean": 0.0}, {"replace": 0.0}, {"failure": -1.0}, {"clean": float("inf")}, {"downtime_rate": -1.0}]
)
def test_amounts_that_can_not_be(amounts: dict[str, float]) -> None:
    with pytest.raises(FleetlensError, match="can't be"):
        Given(**amounts)


def test_unknown_costs_are_null_and_name_the_key() -> None:
    told = learned([])
    assert {name for name in told.rows.columns if told.rows[name][0] is None} == {
        *("clean", "replace", "planned", "failure", "last_failure", "clean_hours", "replace_hours"),
        *("downtime_h", "part_cost"),
    }
    assert "set replace in [component.dpf] of fleetlens.toml" in " ".join(told.sentences("replace"))


def test_amounts_are_said_with_their_currency() -> None:
    assert (said(1_234.5, "EUR"), said(1_234.5, None)) == ("1,234.50 EUR", "1,234.50")
