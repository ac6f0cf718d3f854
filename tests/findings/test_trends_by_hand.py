"""On generated fleets each period has the episodes, failures and km that a plain count by hand gives."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from findings.by_hand import FAULT, RENEWING, Fleet, Row, day_of
from findings.direct import snapshot_of
from findings.test_by_hand import fleets, near, thorough
from hypothesis import assume, given
from hypothesis import strategies as st

FILTERS = {"models": None, "duties": None, "depots": None}
APART = {"each_model": False, "each_duty": False, "each_depot": False}
periods = st.sampled_from([1, 3])


def starts(day: date, months: int) -> date:
    """The first day of the period of so many months that holds the day."""
    return date(day.year, (day.month - 1) // months * months + 1, 1)


def km_by_period(fleet: Fleet, months: int) -> dict[tuple[str | None, date], float]:
    """Km of each model in each period: what the odometer gained from each day to the next."""
    found: dict[tuple[str | None, date], float] = defaultdict(float)
    for vehicle in fleet.vehicles:
        day, end = fleet.record(vehicle)
        while day is not None and end is not None and fleet.readings[vehicle["vehicle_id"]] and day < end:
            gained = fleet.usage(vehicle["vehicle_id"], day + timedelta(1)) - fleet.usage(vehicle["vehicle_id"], day)
            found[vehicle["model"], starts(day, months)] += gained
            day += timedelta(1)
    return {key: km for key, km in found.items() if km > 1e-6}


def begun(fleet: Fleet) -> Iterator[tuple[Row, Row, str]]:
    """(vehicle, job, code) of each episode's first event."""
    jobs = {job["job_id"]: job for job in fleet.all_jobs}
    vehicles = {vehicle["vehicle_id"]: vehicle for vehicle in fleet.vehicles}
    seen = set()
    for code, vehicle_id, job_id, number in fleet.episodes():
        if (code, vehicle_id, number) not in seen:
            seen.add((code, vehicle_id, number))
            yield vehicles[vehicle_id], jobs[job_id], code


def failed(fleet: Fleet) -> Iterator[tuple[Row, Row, str]]:
    """(vehicle, job, component) of each confirmed failure inside the record, once a part."""
    for vehicle, component, place in fleet.parts():
        for job in fleet.observed(vehicle):
            rows = [
                row
                for row in fleet.actions_of(job)
                if row["component"] == component and fleet.position(vehicle, row) == place
            ]
            renewing = [row for row in rows if row["action"] in RENEWING]
            caused = any((row.get("cause") or "").strip() for row in renewing)
            disabled = any(row["action"] == "disable" for row in rows)
            if renewing and not disabled and (job["reason"] in FAULT or caused):
                yield vehicle, job, component


@thorough
@given(fleets(), periods)
def test_the_km_of_each_period(fleet: dict[str, Any], months: int) -> None:
    with snapshot_of(**fleet) as snapshot:
        apart = APART | {"each_model": True}
        rows = snapshot.frame("findings/km_periods", months=months, **apart, **FILTERS)
    here = [row for row in rows.select("model", "starts_on", "km").rows() if row[2] > 1e-6]
    told = [(*key, km) for key, km in km_by_period(Fleet(**fleet), months).items()]
    assert sorted(row[:2] for row in here) == sorted(row[:2] for row in told)
    assert {row[:2]: row[2] for row in here} == pytest.approx({row[:2]: row[2] for row in told})


@thorough
@given(fleets())
def test_the_months_add_up_to_the_distance_under_observation(fleet: dict[str, Any]) -> None:
    readings = Fleet(**fleet).readings.values()
    assume(all(low <= high for each in readings for (_, low), (_, high) in pairwise(each)))  # as good ones never fall
    with snapshot_of(**fleet) as snapshot, snapshot._connection.cursor() as cursor:
        whole = cursor.sql("select coalesce(sum(km), 0), coalesce(sum(carried_km), 0) from exposures").fetchall()
        parts = cursor.sql("select coalesce(sum(km), 0), coalesce(sum(carried_km), 0) from exposure_months").fetchall()
    assert parts[0] == pytest.approx(whole[0])


@thorough
@given(fleets(), periods, st.sampled_from([None, ["egr_valve"]]))
def test_the_episodes_of_each_period(fleet: dict[str, Any], months: int, components: list[str] | None) -> None:
    by_hand = Fleet(**fleet)
    expected: dict[tuple[str, date], list[str]] = defaultdict(list)
    jobs = {job["job_id"]: job for job in by_hand.all_jobs}
    first: dict[tuple[str, str, int], date] = {}
    for code, vehicle_id, job_id, number in by_hand.episodes():
        acted = {row["component"] for row in by_hand.actions_of(jobs[job_id])}
        if components is None or acted & set(components):
            first.setdefault((code, vehicle_id, number), day_of(jobs[job_id]["opened_at"]))
    for (code, vehicle_id, _), day in first.items():
        expected[code, starts(day, months)].append(vehicle_id)
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/code_periods",
            months=months, names=None, each_name=True, components=components, **APART, **FILTERS,
        )  # fmt: skip
    assert near(rows.select("name", "starts_on", "events", "vehicles").rows()) == near(
        (*key, len(vehicles), len(set(vehicles))) for key, vehicles in expected.items()
    )


@thorough
@given(fleets(), periods)
def test_the_failures_of_each_period(fleet: dict[str, Any], months: int) -> None:
    expected: dict[tuple[str, date], list[str]] = defaultdict(list)
    for vehicle, job, component in failed(Fleet(**fleet)):
        expected[component, starts(day_of(job["opened_at"]), months)].append(vehicle["vehicle_id"])
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/failure_periods", months=months, each_name=True, components=None, **APART, **FILTERS
        )
    assert near(rows.select("name", "starts_on", "events", "vehicles").rows()) == near(
        (*key, len(vehicles), len(set(vehicles))) for key, vehicles in expected.items()
    )


@thorough
@given(fleets(), st.sampled_from([None, ["egr_valve"], ["egr_valve", "turbo"]]))
def test_a_component_has_the_km_of_the_vehicles_that_carry_it(
    fleet: dict[str, Any], components: list[str] | None
) -> None:
    by_hand = Fleet(**fleet)
    # Good readings never fall; where made-up ones do, one model's negative distance would hide another's.
    assume(all(low <= high for each in by_hand.readings.values() for (_, low), (_, high) in pairwise(each)))
    km = km_by_period(by_hand, 3)
    carried = {(part, vehicle["model"]) for vehicle, part, _ in by_hand.parts() if part in (components or [part])}
    each = {(part, day): 0.0 for part, model in carried for at, day in km if at == model}
    together: dict[date, float] = defaultdict(float)
    for (model, day), run in km.items():
        for part in {part for part, of in carried if of == model}:
            each[part, day] += run
        together[day] += run * any(of == model for _, of in carried)
    values = {"months": 3, "components": components, **APART, **FILTERS}
    with snapshot_of(**fleet) as snapshot:
        apart = snapshot.frame("findings/carrier_km_periods", each_name=True, **values)
        whole = snapshot.frame("findings/carrier_km_periods", each_name=False, **values)
    rows = [row for row in apart.select("name", "starts_on", "km").rows() if row[2] > 1e-6]
    assert near(rows) == near((*key, run) for key, run in each.items())
    rows = [row for row in whole.select("starts_on", "km").rows() if row[1] > 1e-6]
    assert near(rows) == near((day, run) for day, run in together.items() if run)
