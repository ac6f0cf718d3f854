"""The switchable rules: set in a store, and every figure follows."""

from pathlib import Path

import pytest

from fleetlens import FleetlensError, comebacks, component_lives, load, open_store
from fleetlens.findings.fleet import overview
from fleetlens.intake.switches import SWITCHES, set_switch, switched

TABLES = {
    "vehicles": "vehicle_id,model,in_service_on,in_service_km\nV1,A,2024-01-01,0\n",
    "jobs": (
        "job_id,vehicle_id,opened_at,closed_at,odometer,reason,complaint\n"
        "J1,V1,2024-03-01,2024-03-01,10000,defect,no power\n"
        "J1-copy,V1,2024-03-01,2024-03-01,10000,defect,no power\n"
        "J2,V1,2024-03-03,2024-03-04,10001,defect,\n"
        "J3,V1,2024-09-01,2024-09-01,40000,scheduled,\n"
        "J4,V1,2024-10-01,2024-10-01,45000,scheduled,\n"
    ),
    "job_actions": (
        "job_id,line,component,action,part_number,quantity\n"
        "J1,1,egr_valve,clean,,\n"
        "J1-copy,1,egr_valve,clean,,\n"
        "J2,1,egr_valve,adjust,,\n"
        "J3,1,egr_valve,replace,10-1,1\n"
        "J4,1,egr_valve,credit,10-1,1\n"
    ),
}


@pytest.fixture
def store(tmp_path: Path) -> Path:
    for name, text in TABLES.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    load([tmp_path], tmp_path / "store")
    return tmp_path / "store"


def figures(store: Path) -> tuple[int, int, int]:
    """Observed jobs, comebacks, lives."""
    with open_store(store) as snapshot:
        back = comebacks(snapshot, "egr_valve", by=()).rows["comebacks"].to_list()
        return overview(snapshot).jobs, sum(back), component_lives(snapshot, "egr_valve", by=()).rows["lives"].sum()


def test_by_default_copies_credits_and_supplements_mislead_nobody(store: Path) -> None:
    assert switched(store) == {switch.name: switch.values[0] for switch in SWITCHES}
    assert figures(store) == (4, 0, 2)
    with open_store(store) as snapshot:
        told = {(count.count, count.what) for count in comebacks(snapshot).excluded}
    assert (1, "jobs") in told


@pytest.mark.parametrize(
    ("rule", "value", "expected"),
    [("copied_jobs", "count", (5, 0, 2)), ("supplements", "count", (4, 1, 2)), ("credits", "ignore", (4, 0, 3))],
)
def test_a_rule_switched_changes_its_figure_and_back(
    rule: str, value: str, expected: tuple[int, int, int], store: Path
) -> None:
    assert set_switch(store, rule, value) == "fleet-000002"
    assert figures(store) == expected
    assert set_switch(store, rule, value) is None
    first = next(switch.values[0] for switch in SWITCHES if switch.name == rule)
    assert set_switch(store, rule, first) == "fleet-000003"
    assert figures(store) == (4, 0, 2)


def test_a_later_load_keeps_the_rules(store: Path, tmp_path: Path) -> None:
    set_switch(store, "copied_jobs", "count")
    (tmp_path / "vehicles-2.csv").write_text("vehicle_id\nV2\n", encoding="utf-8")
    load([tmp_path / "vehicles-2.csv"], store)
    assert switched(store)["copied_jobs"] == "count"
    assert figures(store)[0] == 5


def test_what_is_no_rule_is_refused_with_those_there_are(store: Path) -> None:
    with pytest.raises(FleetlensError, match="one of: copied_jobs, credits, supplements, odometer_proposals"):
        set_switch(store, "copies", "count")
    with pytest.raises(FleetlensError, match="leave-out or count"):
        set_switch(store, "copied_jobs", "maybe")
