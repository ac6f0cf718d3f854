"""Measurements against the rules written by hand, on generated fleets and on the sample's known truth."""

from collections import Counter
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from findings.by_hand import Fleet
from findings.direct import snapshot_of
from findings.test_by_hand import fleets, near
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest

from fleetlens.errors import FleetlensError
from fleetlens.findings.drift import drift, drift_by_distance, drift_rows
from fleetlens.findings.filters import Filters
from fleetlens.findings.measurements import check_rows, measurements
from fleetlens.intake.load import load
from fleetlens.sample import make_sample
from fleetlens.sample.wear import WEARS
from fleetlens.store.reader import Snapshot, open_store

every: dict[str, Any] = {"models": None, "duties": None, "depots": None}
thorough = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def measured(draw: st.DrawFn) -> dict[str, Any]:
    """A fleet with checks at its jobs: with and without values, limits and outcomes."""
    fleet = draw(fleets())
    fleet["checks"] = [
        {
            "job_id": job["job_id"],
            "component": draw(st.sampled_from(["egr_valve", "turbo", None])),
            "check": draw(st.sampled_from(["signal", "boost"])),
            "unit": "V",
            "value": draw(st.none() | st.sampled_from([0.2, 0.7, 1.4])),
            "low": draw(st.sampled_from([None, 0.5])),
            "high": draw(st.sampled_from([None, 1.0])),
            "passed": draw(st.sampled_from([None, None, True, False])),
        }
        for job in fleet["jobs"]
        for _ in range(draw(st.integers(0, 2)))
    ]
    return fleet


def outcome(row: dict[str, Any]) -> bool | None:
    """As recorded, else by value and limits."""
    if row["passed"] is not None:
        return row["passed"]
    if row["value"] is None or (row["low"] is None and row["high"] is None):
        return None
    return (row["low"] is None or row["value"] >= row["low"]) and (row["high"] is None or row["value"] <= row["high"])


@thorough
@given(measured())
def test_failed_and_passed_are_as_recorded_else_by_the_limits(fleet: dict[str, Any]) -> None:
    hand = Fleet(**{name: rows for name, rows in fleet.items() if name != "checks"})
    seen = {job["job_id"] for vehicle in fleet["vehicles"] for job in hand.observed(vehicle)}
    rows = [row for row in fleet["checks"] if row["job_id"] in seen]
    counts = Counter((row["component"], row["check"], outcome(row)) for row in rows)
    with snapshot_of(**fleet) as snapshot:
        found = measurements(snapshot).rows
    assert found["checks"].sum() == len(rows)
    for row in found.iter_rows(named=True):
        key = row["component"], row["check"]
        failed, passed, silent = (counts[*key, told] for told in (False, True, None))
        assert (row["failed"], row["judged"], row["unjudged"]) == (failed, failed + passed, silent)
        mine = [one for one in rows if (one["component"], one["check"]) == key]
        bare = [one for one in mine if one["value"] is not None and one["low"] is None and one["high"] is None]
        assert row["without_limits"] == len(bare)
        values = [one["value"] for one in mine if one["value"] is not None]
        assert row["values"] == len(values)
        if values:
            told = [row[name] for name in ("value_lowest", "value_10", "value_median", "value_90", "value_highest")]
            assert told == pytest.approx(list(np.quantile(values, [0, 0.1, 0.5, 0.9, 1])))  # numpy: an outside check
        if failed + passed:
            exact = binomtest(failed, failed + passed).proportion_ci(method="exact")  # scipy: an outside check
            assert (row["share_failed_low"], row["share_failed_high"]) == pytest.approx((exact.low, exact.high))


@thorough
@given(measured())
def test_values_before_a_failure_are_those_of_the_lives(fleet: dict[str, Any]) -> None:
    hand = Fleet(**{name: rows for name, rows in fleet.items() if name != "checks"})
    expected = []
    lives = list(hand.lives())
    carried = Counter((life["vehicle_id"], life["component"], life["position"]) for life in lives)
    several = Counter((vehicle, component) for vehicle, component, _ in carried)
    for vehicle in fleet["vehicles"]:
        order = [job["job_id"] for job in hand.visits(vehicle)]
        seen = {job["job_id"]: job for job in hand.observed(vehicle)}
        for life in lives:
            if life["vehicle_id"] != vehicle["vehicle_id"] or life["ended"] != "failed":
                continue
            first = order.index(life["began_job_id"]) + 1 if life["began_job_id"] else 0
            between = order[first : order.index(life["end_job_id"])]
            expected += [
                (
                    *(life["component"], check["check"], check["value"], check["job_id"], life["end_job_id"]),
                    None
                    if life["end_km"] is None or hand.km(seen[check["job_id"]]) is None
                    else life["end_km"] - hand.km(seen[check["job_id"]]),
                    several[life["vehicle_id"], life["component"]] > 1,
                )
                for check in fleet["checks"]
                if check["job_id"] in between
                and check["job_id"] in seen
                and check["component"] == life["component"]
                and check["value"] is not None
            ]
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/drift_rows", components=None, **every)
    told = found.select("component", "check", "value", "job_id", "failed_job_id", "before_km", "several").rows()
    assert near(told) == near(expected)


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = make_sample(tmp_path_factory.mktemp("fleet"), vehicles=150, seed=11).folder
    load([folder], folder / "store")
    with open_store(folder / "store") as opened:
        yield opened


def test_the_drift_goes_the_way_of_the_truth(snapshot: Snapshot) -> None:
    """The sample's pads wear evenly from 11–13 mm to 0.8–2.8 mm; its valves rise late, from about 0.6 V to 1.4 V."""
    rows = {row["component"]: row for row in drift(snapshot).rows.iter_rows(named=True)}
    assert set(rows) == {wear.component for wear in WEARS}
    brakes, valve = rows["brakes"], rows["egr_valve"]
    assert (brakes["moves"], valve["moves"]) == ("falls towards failure", "rises towards failure")
    ages = drift_rows(snapshot, "brakes").rows["age_km"]
    # Each pad loses 12 - 1.8 mm over its own life; lives differ, so the fleet's slope is near that of a middle one.
    assert brakes["slope"] == pytest.approx(-1000 * (12 - 1.8) / ages.median(), rel=0.35)
    assert brakes["at_failure"] == pytest.approx(2.6, abs=0.7)  # inside the limit until it fails
    assert brakes["slope_low"] < brakes["slope"] < brakes["slope_high"] < 0


def test_what_is_far_or_of_one_of_several_is_left_out_and_said(snapshot: Snapshot) -> None:
    near_by, whole = drift_rows(snapshot, within_km=20_000), drift_rows(snapshot, within_km=1e9)
    assert near_by.rows["before_km"].max() <= 20_000 < whole.rows["before_km"].max()
    left = {count.reason: count.count for count in near_by.excluded}
    assert left["more than 20,000 km before the failure"] == whole.rows.height - near_by.rows.height
    assert left["of the several on the vehicle the check doesn't say which"] > 0  # glow plugs
    assert "glow_plug" not in whole.rows["component"]


def test_stretches_hold_the_rows_and_their_medians(snapshot: Snapshot) -> None:
    rows = drift_rows(snapshot, "brakes", 30_000).rows
    stretches = drift_by_distance(snapshot, "brakes", 30_000).rows
    assert stretches["measured"].sum() == rows.height
    for row in stretches.iter_rows(named=True):
        last = row["stretch_to_km"] >= 30_000
        mine = rows.filter(
            (pl.col("before_km") >= row["stretch_from_km"])
            & ((pl.col("before_km") < row["stretch_to_km"]) | pl.lit(last))
        )["value"].to_numpy()
        assert len(mine) == row["measured"]
        told = (row["value_25"], row["value_median"], row["value_75"])
        assert told == pytest.approx(tuple(np.quantile(mine, [0.25, 0.5, 0.75])))


def test_rows_open_every_figure(snapshot: Snapshot) -> None:
    figures, rows = measurements(snapshot, "egr_valve"), check_rows(snapshot, "egr_valve")
    assert figures.rows["checks"].sum() == rows.rows.height
    assert figures.rows["failed"].sum() == (~rows.rows["passed"]).sum()
    model = rows.rows["model"][0]
    some = Filters(model=(model,))
    assert measurements(snapshot, "egr_valve", some).rows["checks"].sum() == rows.rows.filter(model=model).height


def test_outcomes_against_their_own_limits_are_said() -> None:
    check = {"job_id": "J", "component": "egr_valve", "check": "signal", "value": 1.4, "low": 0.5, "high": 1.0}
    checks = [
        {**check, "passed": True},
        {**check, "passed": None},
        {**check, "value": 0.6, "high": 1.2, "passed": None},
        {**check, "value": 0.6, "low": None, "high": None, "passed": None},
    ]
    job = {"job_id": "J", "vehicle_id": "V", "opened_at": date(2024, 2, 1), "reason": "defect"}
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": date(2024, 1, 1)}]
    with snapshot_of(vehicles, [job], checks=checks) as opened:
        finding = measurements(opened)
    row = finding.rows.row(0, named=True)
    assert (row["checks"], row["failed"], row["judged"], row["without_limits"]) == (4, 1, 3, 1)
    assert (row["limit_low"], row["limit_high"]) == (0.5, 1.2)
    told = " ".join((*finding.notes, *finding.assumed))
    assert "Outcomes recorded against their own limits, where the recorded one counts: 1." in told
    assert "Limits differ between jobs; the outermost are shown: egr_valve signal." in told
    assert "Outcomes not recorded, taken from value and limits: 2." in told


def test_a_few_vehicles_give_counts_and_no_slope(tmp_path: Path) -> None:
    folder = make_sample(tmp_path / "few", vehicles=6, seed=2).folder
    load([folder], tmp_path / "store")
    with open_store(tmp_path / "store") as opened:
        finding = drift(opened)
        few = finding.rows.filter(pl.col("slope").is_null())
    assert few.height > 0
    assert few["moves"].unique().to_list() == ["too few"]
    assert any("too few for a slope" in note for note in finding.notes)


def test_no_distance_holds_no_measurement(snapshot: Snapshot) -> None:
    for ask in (drift, drift_rows, drift_by_distance):
        with pytest.raises(FleetlensError, match="holds no measurement"):
            ask(snapshot, within_km=0)


def test_only_values_between_the_beginning_and_the_failing_job_count() -> None:
    """A story: fitted, measured twice on the way, measured again as it failed and once more after the repair."""
    start = date(2024, 1, 1)
    visits = [(1_000.0, "scheduled"), (6_000.0, "inspection"), (9_000.0, "inspection"), (10_000.0, "defect")]
    jobs = [
        {
            **{"job_id": f"J{place}", "vehicle_id": "V", "opened_at": start + timedelta(30 * (place + 1))},
            **{"reason": reason, "odometer_km": km},
        }
        for place, (km, reason) in enumerate(visits)
    ]
    actions = [{"job_id": job, "component": "egr_valve", "action": "replace"} for job in ("J0", "J3")]
    checks = [
        {"job_id": f"J{place}", "component": part, "check": "signal", "unit": "V", "value": 0.1 * place}
        for place in range(4)
        for part in ("egr_valve", "turbo")
    ]
    checks.append({"job_id": "J1", "component": "egr_valve", "check": "signal", "unit": "V", "passed": True})
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": start, "in_service_km": 0.0}]
    with snapshot_of(vehicles, jobs, actions=actions, checks=checks) as opened:
        rows = drift_rows(opened).rows
    assert rows.select("component", "job_id", "before_km", "failed_job_id", "age_km").rows() == [
        ("egr_valve", "J1", 4_000.0, "J3", 9_000.0),
        ("egr_valve", "J2", 1_000.0, "J3", 9_000.0),
    ]
