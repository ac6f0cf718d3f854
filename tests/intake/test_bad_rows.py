"""Rows that break a rule: refused with every reason, the whole sentence pinned; the others are taken."""

from datetime import datetime, timedelta

import pytest
from intake.small import VEHICLES, counts, faults

from fleetlens.intake.load import load
from fleetlens.intake.rules import RULES

TODAY = datetime.now().astimezone().date()
LATER = str(TODAY + timedelta(days=2))
REASONS = "breakdown, defect, scheduled, inspection, campaign or warranty"
NUMBER = "write digits with a point as the decimal mark, without unit and without a mark for thousands"


def job(**values: object) -> str:
    """A file of jobs with one row, good but for `values`."""
    row = {"job_id": "J9", "vehicle_id": "V1", "opened_at": "2024-01-01"} | values
    return ",".join(row) + "\n" + ",".join(str(value) for value in row.values()) + "\n"


CASES = [
    # file, text, (column, value, rule, reason)
    (
        "jobs",
        job(vehicle_id=""),
        ("vehicle_id", None, "required", "vehicle_id is blank: give a value, no row of jobs can stand without it"),
    ),
    (
        "jobs",
        job(job_id="  "),
        ("job_id", None, "required", "job_id is blank: give a value, no row of jobs can stand without it"),
    ),
    (
        "jobs",
        job(opened_at="2026-02-31"),
        (
            "opened_at",
            "2026-02-31",
            "date",
            "'2026-02-31' is not a date: write a day that exists as YYYY-MM-DD, or YYYY-MM-DD HH:MM",
        ),
    ),
    (
        "jobs",
        job(opened_at="31/01/2024"),
        (
            "opened_at",
            "31/01/2024",
            "date",
            "'31/01/2024' is not a date: write a day that exists as YYYY-MM-DD, or YYYY-MM-DD HH:MM",
        ),
    ),
    (
        "jobs",
        job(opened_at="2024-01-01 25:00"),
        (
            "opened_at",
            "2024-01-01 25:00",
            "date",
            "'2024-01-01 25:00' is not a date: write a day that exists as YYYY-MM-DD, or YYYY-MM-DD HH:MM",
        ),
    ),
    (
        "jobs",
        job(opened_at=LATER),
        ("opened_at", LATER, "future", f"'{LATER}' lies in the future (today is {TODAY}): check the year"),
    ),
    (
        "jobs",
        job(opened_at="1949-12-31"),
        ("opened_at", "1949-12-31", "too_old", "'1949-12-31' lies before 1950: check the year"),
    ),
    (
        "jobs",
        job(closed_at="2023-12-31"),
        (
            "closed_at",
            "2023-12-31",
            "closed_before_opened",
            "closed on 2023-12-31, before it was opened on 2024-01-01: correct the date that is wrong",
        ),
    ),
    (
        "jobs",
        job(opened_at="2024-01-01 10:00", closed_at="2024-01-01 09:59"),
        (
            "closed_at",
            "2024-01-01 09:59",
            "closed_before_opened",
            "closed on 2024-01-01 09:59, before it was opened on 2024-01-01 10:00: correct the date that is wrong",
        ),
    ),
    (
        "jobs",
        job(odometer="-1"),
        (
            "odometer",
            "-1",
            "negative_odometer",
            "an odometer can't read -1: check the sign and the figure, or leave it blank",
        ),
    ),
    ("jobs", job(odometer="12 km"), ("odometer", "12 km", "number", f"'12 km' is not a number: {NUMBER}")),
    ("jobs", job(odometer="nan"), ("odometer", "nan", "number", f"'nan' is not a number: {NUMBER}")),
    ("jobs", job(odometer="-inf"), ("odometer", "-inf", "number", f"'-inf' is not a number: {NUMBER}")),
    ("jobs", job(odometer="1e999"), ("odometer", "1e999", "number", f"'1e999' is not a number: {NUMBER}")),
    (
        "jobs",
        job(odometer_unit="furlong"),
        ("odometer_unit", "furlong", "not_allowed", "'furlong' is no unit of an odometer: write km or mi"),
    ),
    (
        "jobs",
        job(reason="breakdwon"),
        (
            "reason",
            "breakdwon",
            "not_allowed",
            f"'breakdwon' is not one of the values of reason (nearest: breakdown): write {REASONS}",
        ),
    ),
    (
        "jobs",
        job(reason="xyz"),
        ("reason", "xyz", "not_allowed", f"'xyz' is not one of the values of reason: write {REASONS}"),
    ),
    (
        "jobs",
        job(downtime_h="-0.5"),
        ("downtime_h", "-0.5", "minimum", "-0.5 is less than 0, the least there can be: check it"),
    ),
    (
        "jobs",
        job(vehicle_id="V7"),
        (
            "vehicle_id",
            "V7",
            "unknown_vehicle",
            "vehicle 'V7' is not in vehicles: load its row of vehicles first, or correct vehicle_id",
        ),
    ),
    (
        "jobs",
        "job_id,vehicle_id,opened_at\nJ9,V1\n",
        (
            "",
            "J9,V1",
            "ragged",
            "the row has 2 values where the header has 3: look for a comma or a quotation mark too few",
        ),
    ),
    (
        "jobs",
        "job_id,vehicle_id,opened_at\nJ9,V1,2024-01-01,x\n",
        (
            "",
            "J9,V1,2024-01-01,x",
            "ragged",
            "the row has 4 values where the header has 3: look for a comma or a quotation mark too many",
        ),
    ),
    (
        "vehicles",
        "vehicle_id,model_year\nV9,20x4\n",
        ("model_year", "20x4", "integer", "'20x4' is not a whole number: write digits only"),
    ),
    (
        "vehicles",
        "vehicle_id,model_year\nV9,2004.5\n",
        ("model_year", "2004.5", "integer", "'2004.5' is not a whole number: write digits only"),
    ),
    (
        "vehicles",
        "vehicle_id,model_year\nV9,99999999999\n",
        ("model_year", "99999999999", "integer", "'99999999999' is not a whole number: write digits only"),
    ),
    (
        "vehicles",
        "vehicle_id,model_year\nV9,2101\n",
        ("model_year", "2101", "maximum", "2101 is more than 2100, the most there can be: check it"),
    ),
    (
        "vehicles",
        "vehicle_id,in_service_on\nV9,2024-02-30\n",
        ("in_service_on", "2024-02-30", "date", "'2024-02-30' is not a date: write a day that exists as YYYY-MM-DD"),
    ),
    (
        "vehicles",
        "vehicle_id,in_service_on,left_service_on\nV9,2024-02-02,2024-02-01\n",
        (
            "left_service_on",
            "2024-02-01",
            "left_before_in_service",
            "left service on 2024-02-01, before it went into service on 2024-02-02: correct the date that is wrong",
        ),
    ),
    (
        "job_codes",
        "job_id,code\nJ1,P04\n",
        ("code", "P04", "code", "'P04' is not a fault code: write it as P0401, P0401-64 or SPN 1208 FMI 3"),
    ),
    (
        "job_codes",
        "job_id,code\nJ77,P0401\n",
        ("job_id", "J77", "unknown_job", "job 'J77' is not in jobs: load its row of jobs first, or correct job_id"),
    ),
    (
        "job_checks",
        "job_id,check,passed\nJ1,road_test,maybe\n",
        ("passed", "maybe", "boolean", "'maybe' is neither true nor false: write true, false or nothing"),
    ),
    (
        "jobs",
        "job_id,vehicle_id,opened_at\nJ1,V2,2024-01-01\n",
        (
            "job_id",
            "J1",
            "reused_number",
            "job 'J1' stands in the store for vehicle V1, opened on 2021-05-01, so this is another job: give the "
            "numbers of this source a prefix (job_prefix in its map), or correct the number",
        ),
    ),
    (
        "odometer",
        "vehicle_id,read_at,odometer\nV1,2024-01-01,\n",
        ("odometer", None, "required", "odometer is blank: give a value, no row of odometer can stand without it"),
    ),
]


@pytest.mark.parametrize(("table", "text", "fault"), CASES, ids=[f"{fault[2]}-{fault[1]}" for _, _, fault in CASES])
def test_the_whole_message(write, fleet, table, text, fault):
    report = load([write({f"{table}.csv": text}, "second")], fleet)
    assert counts(report) == (1, 0, 0, 1, 0)
    column, value, rule, reason = fault
    assert faults(report) == [(f"{table}.csv", 2, column, value, rule, reason)]
    assert (report.snapshot, report.published) == ("fleet-000001", False)


def test_every_rule_has_a_case() -> None:
    # What a column map can't read is tested in maps/test_load.py.
    assert {rule for _, _, (_, _, rule, _) in CASES} | {"same_key", "unreadable"} == set(RULES)


def test_every_reason_of_a_row_is_told_and_the_row_counted_once(write, fleet):
    text = "job_id,vehicle_id,opened_at,closed_at,odometer,reason\nJ9,V7,2024-01-02,2024-01-01,-5,nothing\n"
    report = load([write({"jobs.csv": text}, "second")], fleet)
    assert counts(report) == (1, 0, 0, 1, 0)
    assert [(column, rule) for _, _, column, _, rule, _ in faults(report)] == [
        ("odometer", "negative_odometer"),
        ("reason", "not_allowed"),
        ("closed_at", "closed_before_opened"),
        ("vehicle_id", "unknown_vehicle"),
    ]


def test_refused_rows_are_kept_in_the_store_with_the_load(write, store, ask):
    folder = write({"vehicles.csv": VEHICLES + "    V3,Pinta,2021-02-31,x\n"})
    report = load([folder], store)
    assert counts(report) == (3, 2, 0, 1, 0)
    assert ask('select load_id, path, table_name, "row", "column", value, rule from refused_rows') == [
        (1, str(folder / "vehicles.csv"), "vehicles", 4, "in_service_km", "x", "number"),
        (1, str(folder / "vehicles.csv"), "vehicles", 4, "in_service_on", "2021-02-31", "date"),
    ]
    assert ask("select sha256, reason from refused_rows where rule = 'date'") == [
        (report.files[0].sha256, "'2021-02-31' is not a date: write a day that exists as YYYY-MM-DD")
    ]


def test_a_job_of_a_refused_vehicle_and_a_code_of_a_refused_job(write, store):
    report = load(
        [
            write(
                {
                    "vehicles.csv": "vehicle_id,model_year\nV1,x\n",
                    "jobs.csv": "job_id,vehicle_id,opened_at\nJ1,V1,2024-01-01\n",
                    "job_codes.csv": "job_id,code\nJ1,P0401\n",
                }
            )
        ],
        store,
    )
    assert counts(report) == (3, 0, 0, 3, 0)
    assert [rule for *_, rule, _ in faults(report)] == ["integer", "unknown_vehicle", "unknown_job"]


@pytest.mark.parametrize(
    ("files", "where", "told"),
    [
        (
            {"jobs.csv": "job_id,vehicle_id,opened_at\nJ9,V1,2024-01-01\nJ9,V1,2024-01-02\n"},
            ("jobs.csv", 3, "job_id", "J9"),
            "job_id 'J9' stands already in jobs.csv, row 2",
        ),
        (
            {
                "jobs-1.csv": "job_id,vehicle_id,opened_at\nJ9,V1,2024-01-01\n",
                "jobs-2.csv": "job_id,vehicle_id,opened_at\nJ8,V1,2024-01-01\nJ9,V1,2024-01-02\n",
            },
            ("jobs-2.csv", 3, "job_id", "J9"),
            "job_id 'J9' stands already in jobs-1.csv, row 2",
        ),
        (
            {"job_actions.csv": "job_id,line,component,action\nJ1,4,egr_valve,clean\nJ1,4,egr_valve,replace\n"},
            ("job_actions.csv", 3, "job_id, line", "J1, 4"),
            "job_id, line 'J1, 4' stands already in job_actions.csv, row 2",
        ),
        (
            {"job_codes.csv": "job_id,code,status\nJ1,P0401,stored\nJ1,p0401,pending\n"},
            ("job_codes.csv", 3, "job_id, code", "J1, P0401"),
            "job_id, code 'J1, P0401' stands already in job_codes.csv, row 2",
        ),
        (
            {"odometer.csv": "vehicle_id,read_at,odometer\nV1,2024-01-01,40000\nV1,2024-01-01,40001\n"},
            ("odometer.csv", 3, "vehicle_id, read_at, source", "V1, 2024-01-01 00:00:00, "),
            "vehicle_id, read_at, source 'V1, 2024-01-01 00:00:00, ' stands already in odometer.csv, row 2",
        ),
    ],
)
def test_the_same_key_with_other_values(write, fleet, files, where, told):
    report = load([write(files, "second")], fleet)
    assert report.refused == 1
    assert faults(report) == [(*where, "same_key", f"{told}, with other values: keep one of the two rows")]


def test_rows_are_numbered_as_records_with_the_header_as_one(write, fleet):
    """Blank lines don't count, a value over two lines is one row, a ragged row counts."""
    text = (
        'job_id,vehicle_id,opened_at,complaint\n\nJ5,V1,2024-01-01,"a\nb"\nJ6\n'
        "J7,V1,2024-01-01,x\n\nJ8,V1,never,x\nJ9\n"
    )
    report = load([write({"jobs.csv": text}, "second")], fleet)
    assert counts(report) == (5, 2, 0, 3, 0)
    assert [(row, rule) for _, row, _, _, rule, _ in faults(report)] == [(3, "ragged"), (5, "date"), (6, "ragged")]


def test_what_is_tidied_rather_than_refused(write, fleet, ask):
    text = """
        job_id,vehicle_id,opened_at,closed_at,odometer,odometer_unit,reason
         J9 , V1 ,2024-01-01 10:00,2024-01-01,1e4, KM ,Break Down
        J8,V1,2024-01-01,,,,Inspection
    """
    load([write({"jobs.csv": text.replace("Break Down", "BREAKDOWN")}, "second")], fleet)
    assert ask("select job_id, odometer_km, reason from jobs where opened_at >= '2024-01-01' order by 1") == [
        ("J8", None, "inspection"),
        ("J9", 10000.0, "breakdown"),
    ]
