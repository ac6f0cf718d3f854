"""On generated fleets warranty, cost and campaign give what the rules written by hand give, to the row."""

from typing import Any

import pytest
from findings.direct import snapshot_of
from findings.money_by_hand import MoneyFleet
from findings.test_by_hand import fleets, near
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fleetlens.findings.campaign import campaign, campaign_failures, campaign_vehicles
from fleetlens.findings.cost import COST_KEYS
from fleetlens.findings.filters import choices
from fleetlens.findings.treatments import Treatment

thorough = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
every = {"models": None, "duties": None, "depots": None}
amounts = st.sampled_from([None, None, 0.0, 12.5, 80.0, -12.5])


@st.composite
def priced(draw: st.DrawFn) -> dict[str, Any]:
    """Generated fleets whose rows carry money and whose jobs carry downtime."""
    fleet = draw(fleets())
    fleet["actions"] = [row | {"labour_cost": draw(amounts), "parts_cost": draw(amounts)} for row in fleet["actions"]]
    fleet["jobs"] = [row | {"downtime_h": draw(st.sampled_from([None, 3.0, 30.0]))} for row in fleet["jobs"]]
    fleet["vehicles"] = [row | {"duty": draw(st.sampled_from([None, "site"]))} for row in fleet["vehicles"]]
    return fleet


FAILURE = (
    *("vehicle_id", "component", "position", "fitted_on", "fitted_km", "failed_on", "failed_km"),
    *("parts_cost", "labour_cost", "fit_job_id", "fail_job_id"),
)
FITTED = ("component", "position", "fitted_km", "seen_to", "seen_to_km", "on_vehicle", "fit_job_id")
COST = (
    *("name", "jobs", "jobs_without_cost", "vehicles", "labour_cost", "parts_cost", "fault_cost"),
    *("downtime_h", "downtime_jobs", "seen", "km", "spent"),
)


@thorough
@given(priced())
def test_failures_of_fitted_parts(fleet: dict[str, Any]) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/part_failures", components=None, **every)
    assert near(found.select(FAILURE).rows()) == near(
        tuple(row[name] for name in FAILURE) for row in MoneyFleet(**fleet).part_failures()
    )


@thorough
@given(priced())
def test_parts_fitted(fleet: dict[str, Any]) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/parts_fitted", components=None, **every)
    assert near(found.select(FITTED).rows()) == near(
        tuple(row[name] for name in FITTED) for row in MoneyFleet(**fleet).parts_fitted()
    )


@thorough
@given(priced(), st.sampled_from(COST_KEYS), st.sampled_from([0.0, 20.0]), st.sampled_from([None, ["turbo"]]))
def test_costs(fleet: dict[str, Any], by: str, rate: float, components: list[str] | None) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/costs", by=by, downtime_rate=rate, components=components, **every)
    expected = list(MoneyFleet(**fleet).costs(by, rate, components))
    assert near(found.select(COST).rows()) == near(tuple(row[name] for name in COST) for row in expected)
    residual = {row["name"]: row["residual"] for row in expected}
    for row in found.rows(named=True):
        if row["km"]:
            rate = row["spent"] / row["km"]
            told = row["spent_spent"] - 2 * rate * row["spent_km"] + rate**2 * row["km_km"]
            assert told == pytest.approx(residual[row["name"]], rel=1e-6, abs=1e-4)


@thorough
@given(priced(), st.sampled_from(["component", "code", "vehicle"]))
def test_the_jobs_behind_the_cost_hold_the_same_money(fleet: dict[str, Any], by: str) -> None:
    with snapshot_of(**fleet) as snapshot:
        groups = snapshot.frame("findings/costs", by=by, downtime_rate=0.0, components=None, **every)
        rows = snapshot.frame("findings/job_costs", by=by, components=None, **every)
    name = {"vehicle": "vehicle_id"}.get(by, by)
    for group in groups.rows(named=True):
        mine = rows.filter(rows[name].eq_missing(group["name"]))
        assert mine.height == group["jobs"]
        for column in ("labour_cost", "parts_cost", "downtime_h"):
            assert mine[column].sum() == pytest.approx(group[column] or 0.0)


@thorough
@given(priced(), st.sampled_from(COST_KEYS))
def test_job_times(fleet: dict[str, Any], by: str) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/job_times", by=by, components=None, **every)
    assert near(found.select("name", "open_h", "closed").rows()) == near(MoneyFleet(**fleet).job_times(by))


@thorough
@given(
    priced(),
    st.sampled_from([(None, None), ("turbo", None), ("egr_valve", "clean"), ("egr_valve", "replace")]),
    st.sampled_from([60, 365]),
)
def test_campaign(fleet: dict[str, Any], treated_by: tuple[str | None, str | None], days: int) -> None:
    by_hand = MoneyFleet(**fleet)
    component = treated_by[0] or "egr_valve"
    named = treated_by if treated_by[1] else (component, None)
    treated = by_hand.treated(*named)
    treatment = Treatment(*treated_by) if treated_by[1] else Treatment()
    with snapshot_of(**fleet) as snapshot:
        assume(component in choices(snapshot)["component"])
        rows = campaign(snapshot, component, treatment, days=days).rows
        vehicles = campaign_vehicles(snapshot, component, treatment, days=days).rows
        failures = campaign_failures(snapshot, component, treatment, days=days).rows
    if not treated:
        assert vehicles.is_empty()
        return
    expected = by_hand.around(component, treated, days)
    for side, told in expected.items():
        mine = vehicles.filter(vehicles["side"] == side)
        assert mine.height == told["vehicles"]
        for period in ("before", "after"):
            assert mine[f"km_{period}"].sum() == pytest.approx(told[f"km_{period}"])
            assert mine[f"failures_{period}"].sum() == told[period]
            assert failures.filter(side=side, period=period).height == told[period]
    if all(told["vehicles"] for told in expected.values()):
        assert rows["vehicles"].to_list() == [expected[side]["vehicles"] for side in expected] + [None]
        assert rows["failures_after"].to_list() == [expected[side]["after"] for side in expected] + [None]
    else:
        assert rows.is_empty()
