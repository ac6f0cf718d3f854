"""Rows that name their vehicle by mark or VIN. Rules: our own, as `values.identity` states them (no outside source)."""

import pytest

from fleetlens.intake.load import load

VEHICLES = """
    vehicle_id,registration,vin,model,in_service_on,left_service_on
    V1,AB12 CDE,,Corvo,2019-01-01,2021-06-30
    V2,AB12 CDE,,Corvo,2021-09-01,
    V3,XY34 ZZZ,G0XLG22A2RV000003,Corvo,2020-01-01,
"""


@pytest.fixture
def fleet(write, store):
    load([write({"vehicles.csv": VEHICLES}, "first")], store)
    return store


@pytest.mark.parametrize(
    ("mention", "vehicle"),
    [
        (("V3", "2022-03-01"), "V3"),
        (("XY34 ZZZ", "2022-03-01"), "V3"),
        (("xy34zzz", "2022-03-01"), "V3"),
        (("XY-34 ZZZ", "2022-03-01"), "V3"),
        (("G0XLG22A2RV000003", "2022-03-01"), "V3"),
        (("g0x lg2 2a2 rv000003", "2022-03-01"), "V3"),
        (("AB12CDE", "2020-03-01"), "V1"),  # the mark went to another vehicle later
        (("AB12CDE", "2022-03-01"), "V2"),
    ],
)
def test_a_vehicle_is_found_by_its_mark_or_vin(mention, vehicle, fleet, write, ask):
    named, day = mention
    jobs = write({"jobs.csv": f"job_id,vehicle_id,opened_at\nJ1,{named},{day}\n"})
    readings = write({"odometer.csv": f"vehicle_id,read_at,odometer\n{named},{day},1000\n"}, "readings")
    for folder in (jobs, readings):
        report = load([folder], fleet)
        assert (report.accepted, report.refused) == (1, 0)
        assert any("by a registration mark or VIN" in note for note in report.notes) == (named != vehicle)
        again = load([folder], fleet)
        assert (again.accepted, again.repeated, again.refused) == (0, 1, 0)
    assert ask("select vehicle_id from jobs join vehicles using (vehicle_key)") == [(vehicle,)]
    assert ask("select vehicle_id from odometer join vehicles using (vehicle_key)") == [(vehicle,)]


@pytest.mark.parametrize(
    ("named", "day", "said"),
    [
        ("AB12CDE", "2021-08-01", "may belong to any of V1, V2"),  # between the two
        ("XY34 2ZZ", "2022-03-01", ""),
        ("XY34 ZZ2", "2022-03-01", ""),  # a look-alike is no proof
    ],
)
def test_what_stays_in_doubt_is_refused(named, day, said, fleet, write):
    report = load([write({"jobs.csv": f"job_id,vehicle_id,opened_at\nJ1,{named},{day}\n"})], fleet)
    assert (report.accepted, report.refused) == (0, 1)
    assert report.refusals["rule"].to_list() == ["unknown_vehicle"]
    assert any("may belong" in note and said in note for note in report.notes) == bool(said)


def test_two_rows_of_one_vehicle_under_two_names_are_one_job(fleet, write, ask):
    text = "job_id,vehicle_id,opened_at\nJ1,V3,2022-03-01\nJ1,xy34zzz,2022-03-01\n"
    report = load([write({"jobs.csv": text})], fleet)
    assert (report.accepted, report.repeated, report.refused) == (1, 1, 0)
    assert ask("select count(*) from jobs") == [(1,)]


def test_a_refused_row_under_a_known_mark_has_one_reason_only(fleet, write):
    report = load([write({"jobs.csv": "job_id,vehicle_id,opened_at\nJ1,xy34zzz,31 June\n"})], fleet)
    assert report.refused == 1
    assert "unknown_vehicle" not in report.refusals["rule"].to_list()
