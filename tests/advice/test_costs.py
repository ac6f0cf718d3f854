"""Costs as set, or learned from the store's own jobs."""

from datetime import date
from typing import Any

import polars as pl
import pytest
from findings.direct import snapshot_of

from fleetlens.advice.costs import Costs, costs
from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters

VAN = {"vehicle_id": "V1", "model": "A", "in_service_on": date(2024, 1, 1), "in_service_km": 0.0}


def learned(rows: list[tuple[str, str, dict[str, Any]]], **options: Any) -> Costs:
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
    chosen = {"planned_cost": None, "failure_cost": None, "downtime_rate": 0.0, **options}
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        return costs(snapshot, ["dpf"], Filters(), **chosen)


def test_medians_of_planned_rows_and_of_whole_failure_jobs() -> None:
    rows = [
        ("scheduled", "clean", {"labour_cost": 80.0, "parts_cost": 20.0}),
        ("scheduled", "clean", {"labour_cost": 120.0}),
        ("scheduled", "replace", {"parts_cost": 900.0}),
        ("breakdown", "replace", {"labour_cost": 100.0, "parts_cost": 400.0}),
    ]
    told = learned(rows, downtime_rate=20.0)
    assert told.rows.rows() == [("dpf", 110.0, 500.0 + 30.0 + 10 * 20.0)]
    assert told.told == (
        "dpf: planned renewal 110.00, the median of 2 preventive cleanings; failure 730.00, the median of 1 whole jobs"
        ", with downtime at 20.00 an hour.",
    )


@pytest.mark.parametrize(
    ("rows", "planned"),
    [
        ([("scheduled", "replace", {"parts_cost": 900.0}), ("defect", "clean", {"labour_cost": 70.0})], 900.0),
        ([("defect", "clean", {"labour_cost": 70.0})], 70.0),
        ([("defect", "replace", {"labour_cost": 70.0})], None),
        ([("scheduled", "clean", {})], None),
        ([("scheduled", "clean", {"labour_cost": 0.0})], None),
    ],
)
def test_where_the_planned_cost_comes_from(rows: Any, planned: float | None) -> None:
    assert learned(rows).rows["planned"].to_list() == [planned]


def test_costs_as_set_win() -> None:
    told = learned([("scheduled", "clean", {"labour_cost": 80.0})], planned_cost=5.0, failure_cost=50.0)
    assert told.rows.rows() == [("dpf", 5.0, 50.0)]
    assert told.told == ("dpf: planned renewal 5.00 as set; failure 50.00 as set.",)


@pytest.mark.parametrize(
    "amounts", [{"planned_cost": 0.0}, {"failure_cost": -1.0}, {"planned_cost": float("inf")}, {"downtime_rate": -1.0}]
)
def test_amounts_that_can_not_be(amounts: dict[str, float]) -> None:
    with pytest.raises(FleetlensError, match="can't be"):
        learned([], **amounts)


def test_unknown_costs_are_null() -> None:
    told = learned([])
    assert told.rows.equals(
        pl.DataFrame({"component": ["dpf"], "planned": [None], "failure": [None]}, schema=told.rows.schema)
    )
