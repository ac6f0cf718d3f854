"""Vehicles that an export tells of by mark or VIN only, and vehicles that contradict each other.

Rules: our own, as `intake.by_the_way` and `values.identity` state them (common practice, no outside source).
"""

import pytest
from intake.small import counts

from fleetlens.intake.load import load
from fleetlens.intake.maps import written

VEHICLES = """
    vehicle_id,registration,vin,in_service_on,left_service_on
    V1,HX12 ABC,G0XLG22A2RV000003,2020-01-01,
    V2,HX13 ABC,,2020-01-01,
    V3,HX14 ABC,,2019-01-01,2021-01-31
    V4,HX14 ABC,,2021-03-01,
"""
WIDE = """
    Job,Who,Plate,Day,Make
    1,hx13abc,hx13abc,2021-04-13,Brellan
    2,HX99 ZZZ,HX99 ZZZ,2021-04-14,Brellan
    3,HX99-zzz,HX99-zzz,2021-04-15,
    4,HX14ABC,HX14ABC,2020-04-15,
    5,HX14ABC,HX14ABC,2022-04-15,
    6,G0XLG22A2RV000003,,2022-04-15,
"""
MAP = """
    name = "wide"
    kind = "wide"
    vehicles = { vehicle_id = "Who", registration = "Plate", make = "Make" }
    jobs = { job_id = "Job", vehicle_id = "Who", opened_at = "Day" }
"""


@pytest.mark.parametrize("together", [True, False], ids=["one load", "two loads"])
def test_a_mark_or_vin_is_the_vehicle_that_holds_it(together, write, store, ask):
    files = write({"vehicles.csv": VEHICLES, "wide.csv": WIDE})
    maps = [written.parse(MAP, "map")]
    if together:
        load([files], store, maps=maps)
    else:
        load([files / "vehicles.csv"], store)
        load([files / "wide.csv"], store, maps=maps)
    assert ask("select job_id, vehicle_id from jobs join vehicles using (vehicle_key) order by 1") == [
        ("1", "V2"),
        ("2", "HX99 ZZZ"),  # new, and one vehicle in both spellings
        ("3", "HX99 ZZZ"),
        ("4", "V3"),
        ("5", "V4"),
        ("6", "V1"),
    ]
    assert ask("select vehicle_id, registration, make from vehicles order by 1") == [
        ("HX99 ZZZ", "HX99 ZZZ", "Brellan"),
        ("V1", "HX12 ABC", None),
        ("V2", "HX13 ABC", "Brellan"),
        ("V3", "HX14 ABC", None),
        ("V4", "HX14 ABC", None),
    ]


def test_a_list_by_marks_alone_completes_what_is_known(write, store, ask):
    load([write({"vehicles.csv": VEHICLES}, "first")], store)
    made = written.parse(
        """
        name = "list"
        kind = "table"
        vehicles = { vehicle_id = "Plate", registration = "Plate", make = "Make" }
        """,
        "list",
    )
    report = load([write({"list.csv": "Plate,Make\nhx12abc,Brellan\nHX55 NEW,Corla\n"}, "second")], store, maps=[made])
    assert counts(report) == (2, 2, 0, 0, 1)
    assert ask("select vehicle_id, vin, make from vehicles where make is not null order by 1") == [
        ("HX55 NEW", None, "Corla"),
        ("V1", "G0XLG22A2RV000003", "Brellan"),
    ]


CONTRADICTIONS = {
    "one VIN under two numbers": ("vin", "G0XLG22A2RV000003: one VIN under several fleet numbers: V1, V2"),
    "one mark on two vehicles": ("registration", "HX12ABC: V1 and V2 both have the mark between "),
}


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_contradictions_between_vehicles_are_reported(name, write, store):
    column, told = CONTRADICTIONS[name]
    value = {"vin": "G0XLG22A2RV000003", "registration": "hx12 abc"}[column]
    text = f"vehicle_id,in_service_on,{column}\nV1,2020-01-01,{value}\nV2,2021-01-01,{value.upper()}\n"
    jobs = "job_id,vehicle_id,opened_at\nJ1,V1,2022-01-01\n"
    report = load([write({"vehicles.csv": text, "jobs.csv": jobs})], store)
    assert any(note.startswith(told) for note in report.notes), report.notes


def test_a_mark_handed_on_is_no_contradiction(write, store):
    report = load(
        [write({"vehicles.csv": VEHICLES, "jobs.csv": "job_id,vehicle_id,opened_at\nJ1,V4,2022-01-01\n"})], store
    )
    assert not any("both have the mark" in note for note in report.notes)
