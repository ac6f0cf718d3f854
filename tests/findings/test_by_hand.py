"""On generated fleets the SQL gives the same episodes, lives and comebacks as the rules written by hand, to the row."""

from datetime import date, timedelta
from typing import Any

import pytest
from findings.by_hand import Fleet
from findings.direct import snapshot_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

START = date(2024, 1, 1)
REASONS = ["breakdown", "defect", "warranty", "scheduled", "inspection", "campaign", None]
ACTIONS = [
    "replace",
    "repair",
    "clean",
    "adjust",
    "software",
    "inspect",
    "disable",
    "regenerate",
    "advise",
    "clear_codes",
    "relearn",
    "road_test",
]
CHECKS = st.tuples(
    st.sampled_from(["egr_valve", "turbo", "vehicle", None]),
    st.sampled_from(["road_test", "relearn", "codes_reread", "reference_voltage"]),
    st.sampled_from([True, False, None]),
)
days = st.integers(0, 400)


@st.composite
def fleets(draw: st.DrawFn) -> dict[str, Any]:
    """Up to three vehicles with crowded, tied, late, open and odometer-less jobs."""
    vehicles, jobs, codes, actions, checks, odometer = [], [], [], [], [], []
    for number in range(draw(st.integers(1, 3))):
        vehicle_id = f"V{number}"
        into = draw(st.integers(0, 30) | st.none())
        vehicle = {
            "vehicle_id": vehicle_id,
            "model": draw(st.sampled_from(["A", "B"])),
            "in_service_on": None if into is None else START + timedelta(into),
            "in_service_km": draw(st.sampled_from([None, 0.0, 500.0])) if into is not None else None,
            "history_from": draw(st.none() | days.map(lambda day: START + timedelta(day // 3))),
            "left_service_on": draw(st.none() | days.map(lambda day: START + timedelta(200 + day))),
        }
        vehicles.append(vehicle)
        moments = sorted(draw(st.lists(st.integers(0, 30).map(lambda step: 13 * step + step % 3), max_size=9)))
        km = 500.0
        for place, day in enumerate(moments):
            km += draw(st.sampled_from([0, 1, 10, 700, 2600, 9000]))
            kind = draw(st.sampled_from(["job", "job", "job", "job without km", "reading"]))
            if kind == "reading":
                odometer.append({"vehicle_id": vehicle_id, "read_at": START + timedelta(day), "km": km})
                continue
            job_id = f"{vehicle_id}-{draw(st.integers(0, 9))}{place}"
            stay = draw(st.none() | st.integers(0, 20))
            jobs.append(
                {
                    "job_id": job_id,
                    "vehicle_id": vehicle_id,
                    "opened_at": START + timedelta(day),
                    "closed_at": None if stay is None else START + timedelta(day + stay),
                    "odometer_km": km if kind == "job" else None,
                    "reason": draw(st.sampled_from(REASONS)),
                    "complaint": draw(st.sampled_from([None, None, "no power"])),
                }
            )
            codes += [
                {"job_id": job_id, "code": code}
                for code in draw(st.lists(st.sampled_from(["P0401", "P2002"]), max_size=3))
            ]
            checks += [
                {"job_id": job_id, "component": component, "check": check, "passed": passed}
                for component, check, passed in draw(st.lists(CHECKS, max_size=2))
            ]
            for _ in range(draw(st.integers(0, 3))):
                actions.append(
                    {
                        "job_id": job_id,
                        "component": draw(st.sampled_from(["egr_valve", "egr_valve", "turbo", "turbo", "vehicle"])),
                        "action": draw(st.sampled_from(ACTIONS)),
                        "cause": draw(st.sampled_from([None, None, "carbon", " "])),
                        "quantity": draw(st.sampled_from([None, None, None, 1.0, 2.0, -1.0])),
                        "part_number": draw(st.sampled_from([None, None, "10-1", "10-2"])),
                        "position": draw(st.sampled_from([None, None, None, "left", "Left ", "right"])),
                    }
                )
    listed = [{"model": "A", "component": "turbo", "count": draw(st.sampled_from([None, 1, 2]))}]
    return {
        "vehicles": vehicles, "jobs": jobs, "codes": codes, "actions": actions, "checks": checks, "odometer": odometer,
        "fitted": draw(st.sampled_from([[], listed])),
        "as_of": draw(st.none() | days.map(lambda day: START + timedelta(day))),
    }  # fmt: skip


def near(rows: Any) -> list[tuple[Any, ...]]:
    """Rows as sorted tuples, distances to the centimetre.

    A little is added before rounding: a value half-way between two, such as a distance over 32 days, would else fall to
    either side by its last digit.
    """
    return sorted(
        (tuple(round(value + 3.3e-7, 5) + 0.0 if isinstance(value, float) else value for value in row) for row in rows),
        key=lambda row: tuple((value is None, str(value)) for value in row),
    )


LIFE = (
    "vehicle_id",
    "component",
    "position",
    "began_as",
    "start_km",
    "entry_km",
    "end_km",
    "ended",
    "known_good_km",
    "began_job_id",
    "end_job_id",
)
REPAIR = (
    *("job_id", "component", "action", "cause", "checks_after"),
    *("comeback_job_id", "kind", "followed_days", "window_over"),
)
every = {"models": None, "duties": None, "depots": None}
thorough = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@thorough
@given(fleets())
def test_episodes(fleet: dict[str, Any]) -> None:
    with snapshot_of(**fleet) as snapshot:
        rows = []
        for code in ("P0401", "P2002"):
            found = snapshot.frame("findings/code_rows", code=code, **every)
            rows += found.select("code", "vehicle_id", "job_id", "episode").rows()
        assert near(rows) == near(Fleet(**fleet).episodes())


@thorough
@given(fleets())
def test_lives(fleet: dict[str, Any]) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame("findings/life_rows", components=None, **every).select(LIFE).rows()
        assert near(found) == near(tuple(life[name] for name in LIFE) for life in Fleet(**fleet).lives())
        ages = snapshot.frame("findings/life_ages", components=None, **every)
        named = snapshot.frame("findings/life_rows", components=None, **every).select(ages.columns)
        assert near(ages.rows()) == near(named.rows())


@thorough
@given(fleets())
def test_failures_of_components(fleet: dict[str, Any]) -> None:
    with snapshot_of(**fleet) as snapshot:
        asked = {"components": None, **every}
        carriers = snapshot.frame("findings/carriers", **asked)
        events = snapshot.frame("findings/failure_events", **asked)
        rows = []
        for (component,), carried in carriers.group_by("component"):
            failed = events.filter(component=component)
            seen = failed.filter("observed")
            km = carried["km"].sum() if carried["km"].count() else None
            rows.append((component, seen.height, seen["vehicle_id"].n_unique(), failed.height - seen.height, km))
        assert near(snapshot.frame("findings/component_failures", **asked).rows()) == near(rows)


@thorough
@given(fleets(), st.sampled_from([(90, 5000.0), (30, 700.0), (400, 1e9)]))
def test_comebacks(fleet: dict[str, Any], window: tuple[int, float]) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = snapshot.frame(
            "findings/repair_rows",
            components=None,
            window_days=window[0],
            window_km=window[1],
            technicians=False,
            **every,
        )
        assert near(found.select(REPAIR).rows()) == near(
            tuple(repair[name] for name in REPAIR) for repair in Fleet(**fleet).repairs(*window)
        )


@pytest.mark.parametrize("name", ["from_km", "to_km"])
@settings(max_examples=25, deadline=None)
@given(fleet=fleets())
def test_usage_at_the_ends_of_the_record(name: str, fleet: dict[str, Any]) -> None:
    by_hand = Fleet(**fleet)
    with snapshot_of(**fleet) as snapshot, snapshot._connection.cursor() as cursor:
        found = cursor.sql(f"select vehicle_id, {name} from exposures join vehicles using (vehicle_key)").fetchall()
    expected = []
    for vehicle in fleet["vehicles"]:
        start, end = by_hand.record(vehicle)
        expected.append(
            (vehicle["vehicle_id"], by_hand.usage(vehicle["vehicle_id"], start if name == "from_km" else end))
        )
    assert near(found) == near(expected)
