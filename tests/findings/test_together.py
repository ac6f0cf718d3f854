"""Codes together and what goes before: a published lift through the whole question, supply faults, leads and edges."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from findings.direct import snapshot_of
from scipy.stats import binomtest, fisher_exact

from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.forerunners import forerunner_rows, forerunners
from fleetlens.findings.together import codes_together, together_rows
from fleetlens.vocabulary.codes import supply_fault

START = date(2020, 1, 1)


def fleet_of(*visits: tuple[str, int, Sequence[str], str | None]) -> dict[str, Any]:
    """A fleet of (vehicle, day, codes, component that failed or None); vehicles run 100 km a day for 1,000 days."""
    names = sorted({vehicle for vehicle, *_ in visits})
    fleet: dict[str, Any] = {
        "vehicles": [{"vehicle_id": name, "in_service_on": START, "in_service_km": 0.0} for name in names],
        "jobs": [],
        "codes": [],
        "actions": [],
        "odometer": [
            {"vehicle_id": name, "read_at": START + timedelta(1000), "km": 100_000.0} for name in names
        ],
    }  # fmt: skip
    for number, (vehicle, day, codes, component) in enumerate(visits):
        job_id = f"J{number:04}"
        opened = START + timedelta(day)
        job = {"job_id": job_id, "vehicle_id": vehicle, "opened_at": opened, "odometer_km": 100.0 * day}
        fleet["jobs"].append({**job, "reason": "defect"})
        fleet["codes"] += [{"job_id": job_id, "code": code} for code in codes]
        if component:
            fleet["actions"].append({"job_id": job_id, "component": component, "action": "replace"})
    return fleet


def asked(fleet: dict[str, Any], question: Any, *given: Any, **more: Any) -> Finding:
    with snapshot_of(**fleet) as snapshot:
        found: Finding = question(snapshot, *given, **more)
    return found


def basket(count: int, codes: Sequence[str], first: int) -> list[tuple[str, int, Sequence[str], str | None]]:
    """So many visits with these codes, one a day."""
    return [("V1", first + number, codes, None) for number in range(count)]


def test_a_published_lift_comes_out_of_job_histories() -> None:
    """Tan, Steinbach & Kumar 2006, Introduction to Data Mining, section 6.7.1, from memory, a tenth of each count: of
    100 visits 20 with one, 80 with the other, 15 with both: lift 0.9375. p: scipy.stats.fisher_exact."""
    fleet = fleet_of(
        *basket(15, ("P0401", "P2002"), 0), *basket(5, ("P0401",), 15), *basket(65, ("P2002",), 20), *basket(15, (), 85)
    )
    row = asked(fleet, codes_together).rows.row(0, named=True)
    assert (row["code"], row["with_code"]) == ("P0401", "P2002")
    assert (row["together"], row["code_visits"], row["with_visits"], row["by_chance"]) == (15, 20, 80, 16.0)
    assert row["lift"] == pytest.approx(0.9375)
    assert row["lift_low"] < 0.9375 < row["lift_high"]
    tails = [fisher_exact([[15, 5], [65, 15]], alternative=side).pvalue for side in ("less", "greater")]
    assert row["lift_q"] == pytest.approx(min(1.0, 2 * min(tails)))  # of one pair q is p
    assert row["pairing"] == "within chance"
    assert row["plain_lift"] == pytest.approx(0.9375)  # no supply fault among them


def test_a_weak_battery_sets_codes_together_that_are_strangers_otherwise() -> None:
    fleet = fleet_of(
        *basket(20, ("P0299", "P0401", "P0562"), 0),
        *basket(20, ("P2002", "P2463"), 20),
        *basket(30, ("P0401",), 40),
        *basket(30, ("P0299",), 70),
        *basket(200, (), 100),
    )
    finding = asked(fleet, codes_together)
    rows = {(row["code"], row["with_code"]): row for row in finding.rows.iter_rows(named=True)}
    assert rows["P0299", "P0401"]["pairing"] == "together with supply faults only"
    assert rows["P0299", "P0401"]["plain_together"] == 0
    assert rows["P0401", "P0562"]["plain_lift"] is None
    assert rows["P2002", "P2463"]["pairing"] == "together"
    assert any("20 of 300 visits log a fault of the voltage supply" in note for note in finding.notes)
    assert any("3 pairs come together only there" in note for note in finding.notes)
    assert any(note.startswith("10 pairs were screened at once") for note in finding.notes)


@pytest.mark.parametrize("code", ["P0560", "p0562", "P0641", "P0652", "SPN 168 FMI 4", "SPN 3509 FMI 3"])
def test_supply_faults(code: str) -> None:
    """SAE J2012 (P0560 to P0563, P0641 to P0643, P0651 to P0653) and SAE J1939-71 (168, 3509), from memory."""
    assert supply_fault(code)


@pytest.mark.parametrize("code", ["P0401", "P0606", "SPN 1208 FMI 4", "no code"])
def test_no_supply_faults(code: str) -> None:
    assert not supply_fault(code)


def test_jobs_that_follow_each_other_can_be_one_visit() -> None:
    fleet = fleet_of(
        *(visit for number in range(6) for visit in (
            ("V1", 100 * number, ("P0401",), None), ("V1", 100 * number + 10, ("P2002",), None),
        )),
    )  # fmt: skip
    assert asked(fleet, codes_together).rows.is_empty()
    joined = asked(fleet, codes_together, join_days=14).rows.row(0, named=True)
    assert (joined["together"], joined["code_visits"]) == (6, 6)
    assert asked(fleet, together_rows, ("P0401", "P2002")).rows.is_empty()
    assert asked(fleet, together_rows, ("P0401", "P2002"), join_days=14).rows.height == 12


def test_pairs_of_one_code_and_of_rare_codes() -> None:
    fleet = fleet_of(*basket(6, ("P0401", "P2002"), 0), *basket(6, ("P0299", "P2463"), 6), *basket(1, ("P0100",), 12))
    rows = asked(fleet, codes_together, ("P0299",)).rows
    assert rows.select("code", "with_code").rows() == [("P0299", "P2463")]
    finding = asked(fleet, codes_together)
    assert [str(one) for one in finding.excluded] == ["1 code: on fewer than 5 visits, not paired"]
    assert finding.counted[1].count == 6  # pairs of four codes
    assert asked(fleet, codes_together, at_least=1).counted[1].count == 10
    assert asked(fleet, together_rows).rows.height == 12


def warned(vehicles: int, ahead: int) -> list[tuple[str, int, Sequence[str], str | None]]:
    """Vehicles whose valve fails on day 500, so many days after a code; as many on which neither happens."""
    visits: list[tuple[str, int, Sequence[str], str | None]] = []
    for number in range(vehicles):
        visits += [(f"V{number}", 500 - ahead, ("P0401",), None), (f"V{number}", 500, ("P0402",), "egr_valve")]
        visits.append((f"W{number}", 300, ("P2002",), None))
    return visits


def test_a_code_that_goes_before_is_told_with_its_lead() -> None:
    """Chance by hand: one beginning on each of 1,000 days, 60 of them in the run-up; p: scipy.stats.binomtest."""
    finding = asked(fleet_of(*warned(8, 20)), forerunners, "egr_valve", at_least=1)
    (row,) = finding.rows.iter_rows(named=True)
    assert (row["sign_is"], row["sign"], row["preceded"], row["happenings"]) == ("code", "P0401", 8, 8)
    assert row["chance_share"] == pytest.approx(0.06)
    assert row["times"] == pytest.approx(1 / 0.06)
    assert row["times_low"] == pytest.approx(binomtest(8, 8).proportion_ci(method="exact").low / 0.06)
    assert row["times_q"] == pytest.approx(2 * binomtest(8, 8, 0.06, alternative="greater").pvalue)
    assert (row["lead_days"], row["lead_km"]) == (20.0, pytest.approx(2000.0))
    assert (row["followed"], row["begun"]) == (8, 8)
    rows = asked(fleet_of(*warned(8, 20)), forerunner_rows, "egr_valve").rows
    assert rows.height == 8
    assert set(rows["lead_days"]) == {20}


def test_the_window_may_be_in_km() -> None:
    row = asked(fleet_of(*warned(8, 20)), forerunners, "egr_valve", km=2500, at_least=1).rows.row(0, named=True)
    assert row["chance_share"] == pytest.approx(0.025)
    assert asked(fleet_of(*warned(8, 20)), forerunners, "egr_valve", km=1900, at_least=1).rows.is_empty()


def test_what_begins_at_the_same_job_warns_of_nothing() -> None:
    finding = asked(fleet_of(*warned(8, 20)), forerunners, "egr_valve", at_least=1)
    assert "P0402" not in finding.rows["sign"]


def test_the_run_up_ends_at_the_failure_before() -> None:
    visits = [("V1", 480, ("P0401",), None), ("V1", 490, (), "egr_valve"), ("V1", 500, (), "egr_valve")]
    finding = asked(fleet_of(*visits), forerunners, "egr_valve", at_least=1)
    (row,) = finding.rows.iter_rows(named=True)
    assert (row["preceded"], row["happenings"]) == (1, 2)
    assert row["chance_share"] == pytest.approx((0.06 + 0.01) / 2)  # 60 days, and the 10 since the failure before


def test_of_several_signs_the_first_gives_the_lead_and_each_is_followed() -> None:
    """The code is repaired after the first sign, so that the second is an episode of its own."""
    visits = [("V1", 450, ("P0401",), "wiring"), ("V1", 480, ("P0401",), None), ("V1", 500, (), "egr_valve")]
    finding = asked(fleet_of(*visits), forerunners, "egr_valve", at_least=1)
    row = finding.rows.filter(finding.rows["sign"] == "P0401").row(0, named=True)
    assert (row["preceded"], row["followed"], row["begun"]) == (1, 2, 2)
    assert (row["lead_days"], row["lead_days_q1"], row["lead_days_q3"]) == (50.0, 50.0, 50.0)
    assert row["chance_share"] == pytest.approx(1 - 0.94**2)


def test_failures_of_other_components_and_episodes_of_codes_are_asked_alike() -> None:
    visits = [(f"V{number}", day, codes, part) for number in range(5) for day, codes, part in (
        (300, (), "egr_cooler"), (330, ("P0401",), "egr_valve"),
    )]  # fmt: skip
    part = asked(fleet_of(*visits), forerunners, "egr_valve").rows.row(0, named=True)
    code = asked(fleet_of(*visits), forerunners, "p0401").rows.row(0, named=True)
    assert (part["sign_is"], part["sign"]) == (code["sign_is"], code["sign"]) == ("component", "egr_cooler")
    assert code["lead_days"] == 30.0


def test_a_failure_on_the_first_day_of_the_record_has_no_run_up() -> None:
    finding = asked(fleet_of(("V1", 0, ("P0401",), "egr_valve")), forerunners, "egr_valve")
    assert finding.rows.is_empty()
    assert any("1 failure: of egr_valve, no time under observation before" in str(one) for one in finding.excluded)
    assert finding.notes == ("Nothing went before the failures of egr_valve within 60 days.",)


@pytest.mark.parametrize(
    ("given", "more", "says"),
    [
        (("clutch",), {}, "neither a code nor a component of this store: 'clutch'"),
        (("P0999",), {}, "no job in this store logs the code 'P0999'"),
        (("egr_valve",), {"days": 60, "km": 3000.0}, "in days or in km, not in both"),
        (("egr_valve",), {"days": 0}, "the window reaches nowhere"),
        (("egr_valve",), {"km": 0.0}, "the window reaches nowhere"),
        (("egr_valve",), {"at_least": 0}, "a sign begins at least once"),
        (("egr_valve",), {"filters": Filters(component=("egr_valve",))}, "not kept by component"),
    ],
)
def test_what_cannot_be_asked_before(given: tuple[str, ...], more: dict[str, Any], says: str) -> None:
    with pytest.raises(FleetlensError, match=says):
        asked(fleet_of(*warned(2, 20)), forerunners, *given, **more)


@pytest.mark.parametrize("more", [{"join_days": -2}, {"at_least": 0}])
def test_what_cannot_be_asked_of_pairs(more: dict[str, Any]) -> None:
    with pytest.raises(FleetlensError, match="a pair needs at least 1 visit"):
        asked(fleet_of(*warned(2, 20)), codes_together, **more)


def test_an_empty_store_has_no_pairs() -> None:
    with snapshot_of([{"vehicle_id": "V1"}], []) as snapshot:
        assert codes_together(snapshot).rows.is_empty()
        assert together_rows(snapshot).rows.is_empty()
