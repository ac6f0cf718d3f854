"""What a load accepts, repeats and replaces; what it never does."""

import json
from datetime import date

import polars as pl
import pytest
from intake.small import JOBS, VEHICLES, counts

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.store import snapshots
from fleetlens.store.lock import writing
from fleetlens.store.reader import open_store

CODES = """
    job_id,code,status
    J1,p0401-64,stored
    J1,P0401,pending
    J1,P0401:62,stored
    J3,spn 1208 fmi 3,
"""
ACTIONS = """
    job_id,line,component,action,cause,parts_cost
    J1,1,EGR valve,Clean,carbon,-12.50
    J1,2,egr-cooler,no fault found,,
    J3,,flux capacitor,replace,,300
"""
CHECKS = """
    job_id,component,check,value,unit,low,high,passed
    J1,egr_valve,reference_voltage,4.98,V,4.9,5.1,yes
    J1,,road_test,,,,,0
"""
ODOMETER = """
    vehicle_id,read_at,odometer,odometer_unit,source
    V1,2021-12-01,15000,km,fuel card
    V1,2021-12-01,15000,km,
"""
FITTED = """
    model,component,count
    Corvo 3,EGR valve,1
"""
ALL = {
    "vehicles.csv": VEHICLES,
    "jobs.csv": JOBS,
    "job_codes.csv": CODES,
    "job_actions.csv": ACTIONS,
    "job_checks.csv": CHECKS,
    "odometer.csv": ODOMETER,
    "fitted.csv": FITTED,
}


def test_a_whole_folder(write, store, ask):
    report = load([write(ALL | {"datapackage.json": "{}", "README.md": "", "truth.json": "{}"})], store)
    assert counts(report) == (17, 17, 0, 0, 0)
    assert (report.snapshot, report.published) == ("fleet-000001", True)
    assert [file.table for file in report.files] == [
        "vehicles", "fitted", "jobs", "job_codes", "job_actions", "job_checks", "odometer"
    ]  # fmt: skip
    assert report.notes == (
        "1 component not in our list, taken as written: flux_capacitor",
        "1 fault code without a description in our list: SPN 1208 FMI 3",
    )
    assert ask("select code, failure_type, status from job_codes join codes using (code_key) order by all") == [
        ("P0401", "62", "stored"),
        ("P0401", "64", "stored"),
        ("P0401", None, "pending"),
        ("SPN 1208 FMI 3", None, None),
    ]
    assert ask(
        "select job_id, line, component, action, cause, parts_cost from job_actions"
        " join jobs using (job_key) join components using (component_key) order by all"
    ) == [
        ("J1", 1, "egr_valve", "clean", "carbon", -12.5),
        ("J1", 2, "egr_cooler", "no_fault_found", None, None),
        ("J3", None, "flux_capacitor", "replace", None, 300.0),
    ]
    assert ask(
        'select component, "check", value, passed from job_checks left join components using (component_key) order by 2'
    ) == [
        ("egr_valve", "reference_voltage", 4.98, True),
        (None, "road_test", None, False),
    ]
    assert ask("select model, component, count from fitted join components using (component_key)") == [
        ("Corvo 3", "egr_valve", 1)
    ]
    assert ask("select count(*), count(source) from odometer") == [(2, 1)]
    assert ask("select rows_in, accepted, repeated, refused, replaced, snapshot from loads") == [
        (17, 17, 0, 0, 0, "fleet-000001")
    ]
    assert ask("select count(*) from lives")[0][0] > 0


def test_keys_are_given_in_the_order_of_the_identifiers_and_go_on(write, fleet, ask):
    load([write({"vehicles.csv": "vehicle_id\nA9\nV3\n"}, "second")], fleet)
    assert ask("select vehicle_id, vehicle_key from vehicles order by vehicle_key") == [
        ("V1", 1), ("V2", 2), ("A9", 3), ("V3", 4)
    ]  # fmt: skip


def test_loading_twice_is_loading_once(write, store):
    folder = write(ALL)
    load([folder], store)
    before = sorted(entry.name for entry in store.iterdir())
    again = load([folder], store)
    assert counts(again) == (17, 0, 17, 0, 0)
    assert (again.snapshot, again.published) == ("fleet-000001", False)
    assert sorted(entry.name for entry in store.iterdir()) == before


def test_the_same_rows_in_another_file_repeat(write, store):
    load([write(ALL)], store)
    shuffled = {name: text + "\n" for name, text in ALL.items()}
    again = load([write(shuffled, "other")], store)
    assert counts(again) == (17, 0, 17, 0, 0)
    assert not again.published


def test_rows_repeated_inside_a_file(write, store):
    report = load([write({"vehicles.csv": "vehicle_id,model\nV1,A\n V1 ,A\nV1,A \n"})], store)
    assert counts(report) == (3, 1, 2, 0, 0)


def test_a_corrected_file_replaces_the_rows_it_corrects_and_says_so(write, fleet, ask):
    corrected = JOBS.replace("20000,km,scheduled", "21000,km,inspection")
    report = load([write({"jobs.csv": corrected}, "second")], fleet)
    assert counts(report) == (3, 1, 2, 0, 1)
    assert report.notes == ("1 row of jobs.csv took the place of rows loaded before",)
    assert ask("select job_key, odometer_km, reason from jobs where job_id = 'J2'") == [(2, 21000.0, "inspection")]
    assert ask("select count(*) from jobs") == [(3,)]
    assert ask("select load_id, accepted, replaced from loads order by 1") == [(1, 5, 0), (2, 1, 1)]


def test_a_replaced_job_keeps_its_codes_and_actions(write, store, ask):
    load([write(ALL)], store)
    moved = JOBS.replace("J1,V1,2021-05-01 08:00", "J1,V2,2021-05-01 09:00")
    load([write({"jobs.csv": moved}, "second")], store)
    assert ask(
        "select vehicle_id, count(*) from job_codes join jobs using (job_key) join vehicles using (vehicle_key)"
        " where job_id = 'J1' group by all"
    ) == [("V2", 3)]


def test_a_corrected_line_replaces_the_line_and_a_row_without_line_is_new(write, store, ask):
    load([write(ALL)], store)
    corrected = ACTIONS.replace("carbon,-12.50", "carbon,-11").replace("replace,,300", "replace,,310")
    report = load([write({"job_actions.csv": corrected}, "second")], store)
    assert counts(report) == (3, 2, 1, 0, 1)
    assert ask("select line, parts_cost from job_actions order by all") == [
        (1, -11.0),
        (2, None),
        (None, 300.0),
        (None, 310.0),
    ]


def test_the_first_file_again_does_not_undo_a_correction(write, fleet, ask):
    first = fleet.parent / "first"
    load([write({"jobs.csv": JOBS.replace("10000", "11000")}, "second")], fleet)
    again = load([first], fleet)
    assert counts(again) == (5, 0, 5, 0, 0)
    assert (again.snapshot, again.published) == ("fleet-000002", False)
    assert ask("select odometer_km from jobs where job_id = 'J1'") == [(11000.0,)]


def test_only_the_rows_refused_before_are_tried_again(write, store, ask):
    jobs = write({"jobs.csv": JOBS.replace("J3,V2", "J3,V8")}, "jobs")
    vehicles = write({"vehicles.csv": VEHICLES}, "vehicles")
    assert counts(load([vehicles, jobs], store)) == (5, 4, 0, 1, 0)
    load([write({"jobs.csv": JOBS.replace("10000", "11000").replace("J3,V2", "J4,V2")}, "corrected")], store)
    load([write({"vehicles.csv": "vehicle_id\nV8\n"}, "late")], store)
    again = load([jobs], store)
    assert counts(again) == (3, 1, 2, 0, 0)
    assert ask("select job_id, vehicle_id, odometer_km from jobs join vehicles using (vehicle_key) order by 1") == [
        ("J1", "V1", 11000.0),
        ("J2", "V1", 20000.0),
        ("J3", "V8", 9000.0),
        ("J4", "V2", 9000.0),
    ]
    assert counts(load([jobs], store)) == (3, 0, 3, 0, 0)


def test_a_row_refused_for_its_key_stays_refused_when_the_file_comes_again(write, store, ask):
    folder = write({"vehicles.csv": "vehicle_id,model\nV1,A\nV1,B\n"})
    assert counts(load([folder], store)) == (2, 1, 0, 1, 0)
    again = load([folder], store)
    assert counts(again) == (2, 0, 1, 1, 0)
    assert again.refusals["reason"].to_list() == [
        "vehicle_id 'V1' stands already in vehicles.csv, row 2, with other values: keep one of the two rows"
    ]
    assert ask("select model from vehicles") == [("A",)]


def test_an_old_file_beside_its_correction_does_not_stand_in_the_way(write, fleet, ask):
    """The folder grows: the old file is known, the new one corrects it."""
    folder = write({"jobs-2.csv": JOBS.replace("10000", "11000")}, "first")
    report = load([folder], fleet)
    assert counts(report) == (8, 1, 7, 0, 1)
    assert ask("select odometer_km from jobs where job_id = 'J1'") == [(11000.0,)]


def test_a_known_row_of_an_old_file_that_is_tried_again_does_not_stand_in_the_way_either(write, store, ask):
    """The old file is read again for its refused row; its known rows are old news all the same."""
    folder = write({"vehicles-1.csv": "vehicle_id,model,model_year\nV1,A,\nV2,A,never\n"})
    load([folder], store)
    write({"vehicles-2.csv": "vehicle_id,model\nV1,B\n"})
    report = load([folder], store)
    assert counts(report) == (3, 1, 1, 1, 1)
    assert ask("select vehicle_id, model from vehicles") == [("V1", "B")]


def test_parents_first_whatever_the_order_and_several_files_of_one_table(write, store):
    folder = write(ALL | {"jobs-2024.csv": "job_id,vehicle_id,opened_at\nJ9,V1,2024-01-01\n"})
    files = sorted(folder.glob("*.csv"), reverse=True)
    report = load(files, store)
    assert counts(report) == (18, 18, 0, 0, 0)


def test_a_file_is_taken_once_however_often_it_is_named(write, store):
    folder = write({"vehicles.csv": VEHICLES})
    assert counts(load([folder, folder / "vehicles.csv"], store)) == (2, 2, 0, 0, 0)


def test_a_table_is_known_by_its_header_when_the_name_tells_nothing(write, store):
    folder = write({"export.csv": VEHICLES, "Werkstatt.csv": JOBS, "codes of 2024.csv": CODES, "acts.csv": ACTIONS})
    assert [file.table for file in load([folder], store).files] == ["vehicles", "jobs", "job_codes", "job_actions"]


def test_column_names_regardless_of_case_and_blanks(write, store, ask):
    load([write({"vehicles.csv": " Vehicle ID ,MODEL\nV1,Corvo 3\n"})], store)
    assert ask("select vehicle_id, model from vehicles") == [("V1", "Corvo 3")]


def test_miles_are_kilometres(write, store, ask):
    jobs = """
        job_id,vehicle_id,opened_at,odometer,odometer_unit
        J1,V1,2021-05-01,1000,mi
        J2,V1,2021-05-01,1609.344,km
        J3,V1,2021-05-01,1000,Miles
        J4,V1,2021-05-01,1609.344,
    """
    odometer = "vehicle_id,read_at,odometer,odometer_unit\nV1,2022-01-01,2000,MI\n"
    load([write({"vehicles.csv": "vehicle_id\nV1\n", "jobs.csv": jobs, "odometer.csv": odometer})], store)
    # 1 mile = 1.609344 km exactly: international yard and pound agreement of 1959.
    assert {row[0] for row in ask("select odometer_km from jobs")} == {1609.344}
    assert ask("select odometer_km from odometer") == [(pytest.approx(3218.688, abs=1e-9),)]


def test_parquet_is_csv(write, store, tmp_path):
    folder = write(ALL)
    load([folder], store)
    typed = tmp_path / "parquet"
    typed.mkdir()
    for file in folder.glob("*.csv"):
        pl.read_csv(file, try_parse_dates=True).write_parquet(typed / f"{file.stem}.parquet")
    again = load([typed], store)
    assert counts(again) == (17, 0, 17, 0, 0)


def test_times_keep_what_was_on_the_wall(write, store, ask):
    jobs = """
        job_id,vehicle_id,opened_at
        J1,V1,2024-03-01
        J2,V1,2024-03-01T07:30
        J3,V1,2024-03-01 07:30:15.25
        J4,V1,2024-03-01T07:30:00Z
        J5,V1,2024-03-01T07:30:00+05:30
    """
    load([write({"vehicles.csv": "vehicle_id\nV1\n", "jobs.csv": jobs})], store)
    assert [row[0] for row in ask("select strftime(opened_at, '%Y-%m-%d %H:%M:%S.%g') from jobs order by job_id")] == [
        "2024-03-01 00:00:00.000",
        "2024-03-01 07:30:00.000",
        "2024-03-01 07:30:15.250",
        "2024-03-01 07:30:00.000",
        "2024-03-01 07:30:00.000",
    ]


HOSTILE = (
    "'; drop table jobs; --",
    '=cmd|" /c calc"!A1',
    "<script>alert('x')</script>",
    "two\nlines",
    "ключ 🔧",
    "$as_of {}",
    "%s\\",
    "null",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_comes_back_as_it_was(store, ask, tmp_path, text):
    folder = tmp_path / "files"
    folder.mkdir()
    identifier = {"vehicle_id": [text], "model": [text], "vin": [text], "depot": [text]}
    pl.DataFrame(identifier).write_csv(folder / "vehicles.csv")
    job = {
        "job_id": [text],
        "vehicle_id": [text],
        "opened_at": ["2024-01-01"],
        "complaint": [text],
        "technician": [text],
    }
    pl.DataFrame(job).write_csv(folder / "jobs.csv")
    action = {
        "job_id": [text],
        "component": [text],
        "action": ["inspect"],
        "cause": [text],
        "note": [text],
        "position": [text],
    }
    pl.DataFrame(action).write_csv(folder / "job_actions.csv")
    check = {"job_id": [text], "check": [text], "unit": [text]}
    pl.DataFrame(check).write_csv(folder / "job_checks.csv")
    reading = {"vehicle_id": [text], "read_at": ["2024-01-01"], "odometer": ["5"], "source": [text]}
    pl.DataFrame(reading).write_csv(folder / "odometer.csv")
    report = load([folder], store)
    assert counts(report) == (5, 5, 0, 0, 0)
    assert ask("select vehicle_id, model, vin, depot from vehicles") == [(text,) * 4]
    assert ask("select job_id, complaint, technician from jobs") == [(text,) * 3]
    assert ask("select cause, note, position from job_actions") == [(text,) * 3]
    assert ask('select "check", unit from job_checks') == [(text,) * 2]
    assert ask("select source from odometer") == [(text,)]
    assert counts(load([folder], store)) == (5, 0, 5, 0, 0)


def test_a_hostile_value_that_is_refused_is_kept_as_it_was(write, fleet):
    bad = "job_id,code\n'; drop table jobs; --,P0401\nJ1,=cmd\nJ1,{}\n"
    report = load([write({"job_codes.csv": bad}, "second")], fleet)
    assert report.refusals["value"].to_list() == ["'; drop table jobs; --", "=cmd", "{}"]
    assert report.refusals["reason"][2] == "'{}' is not a fault code: write it as P0401, P0401-64 or SPN 1208 FMI 3"


def test_a_dry_run_says_all_and_leaves_nothing(write, fleet):
    folder = write(ALL, "second")
    before = {entry.name: entry.stat().st_mtime_ns for entry in fleet.iterdir()}
    report = load([folder], fleet, dry_run=True)
    assert counts(report) == (17, 12, 5, 0, 0)
    assert (report.snapshot, report.published) == ("fleet-000001", False)
    assert {entry.name: entry.stat().st_mtime_ns for entry in fleet.iterdir()} == before
    assert counts(load([folder], fleet)) == counts(report)


def test_a_dry_run_makes_no_store(write, store):
    report = load([write(ALL)], store, dry_run=True)
    assert counts(report) == (17, 17, 0, 0, 0)
    assert report.snapshot is None
    assert not store.exists()


def test_as_of_is_a_setting_of_its_own(fleet, ask):
    folder = fleet.parent / "first"
    report = load([folder], fleet, as_of=date(2023, 1, 1))
    assert (counts(report), report.published) == ((5, 0, 5, 0, 0), True)
    assert ask("select value from settings where name = 'as_of'") == [("2023-01-01",)]
    assert not load([folder], fleet, as_of=date(2023, 1, 1)).published


def test_the_report_as_plain_values(write, store):
    folder = write({"vehicles.csv": "vehicle_id\nV1\n", "jobs.csv": "job_id,vehicle_id,opened_at\nJ1,V7,2024-01-01\n"})
    told = load([folder], store).to_json()
    assert json.loads(json.dumps(told)) == told
    assert {name: told[name] for name in ("rows_in", "accepted", "repeated", "refused", "replaced", "snapshot")} == {
        "rows_in": 2, "accepted": 1, "repeated": 0, "refused": 1, "replaced": 0, "snapshot": "fleet-000001"
    }  # fmt: skip
    assert told["files"][1] == {
        "path": str(folder / "jobs.csv"),
        "table": "jobs",
        "rows_in": 1,
        "accepted": 0,
        "repeated": 0,
        "refused": 1,
        "replaced": 0,
        "sha256": told["files"][1]["sha256"],
    }
    assert (
        told["refusals"][0]["reason"]
        == "vehicle 'V7' is not in vehicles: load its row of vehicles first, or correct vehicle_id"
    )


def test_progress_runs_from_nought_to_one(write, store):
    told: list[tuple[str, float]] = []
    load([write(ALL)], store, progress=lambda what, share: told.append((what, share)))
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert 0 <= shares[0] < 0.2
    assert told[-1] == ("done", 1.0)


def test_a_reader_keeps_its_rows_during_a_load_and_sees_the_new_ones_afterwards(write, fleet):
    seen: list[tuple[int, str]] = []
    with open_store(fleet) as before:

        def look(*_: object) -> None:
            seen.append(
                (before.frame("intake/readings", first_key=1, last_key=10**6).height, snapshots.current(fleet) or "")
            )

        load(
            [write({"jobs.csv": "job_id,vehicle_id,opened_at,odometer\nJ9,V1,2024-01-01,50000\n"}, "second")],
            fleet,
            progress=look,
        )
        assert set(seen[:-1]) == {(5, "fleet-000001")}
        assert before.frame("intake/readings", first_key=1, last_key=10**6).height == 5
    with open_store(fleet) as after:
        assert after.frame("intake/readings", first_key=1, last_key=10**6).height == 6


def test_a_second_load_at_the_same_time_is_told(fleet):
    with writing(fleet), pytest.raises(FleetlensError, match="another load is writing to this store"):
        load([fleet.parent / "first"], fleet)


def test_what_was_left_aside_is_said(write, store):
    folder = write(
        {"vehicles.csv": "vehicle_id,colour\nV1,red\n", "jobs.csv": "job_id,vehicle_id,opened_at\n", "notes.txt": "x"}
    )
    report = load([folder], store)
    assert report.notes == (
        f"{folder}: left aside, no table by its ending: notes.txt",
        "vehicles.csv: column 'colour' isn't in table vehicles: left aside",
        "jobs.csv: only a header, no rows",
    )


def test_doubtful_vins_are_named_and_taken(write, store):
    report = load([write({"vehicles.csv": "vehicle_id,vin\nV1,SHORT\nV2,\nV3,1M8GDM9AXKP042788\n"})], store)
    assert counts(report) == (3, 3, 0, 0, 0)
    assert report.notes == ("1 VIN can't be right: SHORT; of SHORT: a VIN has 17 characters, this one 5",)


def test_folders_in_a_folder_are_told(write, store):
    folder = write(ALL)
    (folder / "older").mkdir()
    assert f"{folder}: left aside, folders in a folder aren't searched: older" in load([folder], store).notes
