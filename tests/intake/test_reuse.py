"""A number of a job that a new system uses again: told from a correction, and refused with the remedy.

Mess 65 of our list (common practice, no source).
"""

from datetime import date

import pytest
from intake.small import counts, faults

from fleetlens.intake.completeness import Origin
from fleetlens.intake.load import load
from fleetlens.intake.maps import written

HEADER = "job_id,vehicle_id,opened_at\n"


@pytest.mark.parametrize(
    ("row", "origin", "replaced"),
    [
        pytest.param("J1,V1,2021-05-03", None, 1, id="another day near by is a correction"),
        pytest.param("J1,V2,2021-05-03", None, 1, id="another vehicle near by is a correction"),
        pytest.param("J1,V1,2023-05-03", None, 1, id="another year of the same vehicle is a correction"),
        pytest.param("J1,V2,2023-05-03", None, 0, id="another vehicle in another year is another job"),
        pytest.param("J1,V1,2023-05-03", Origin("new"), 0, id="far away and of another source"),
        pytest.param("J1,V2,2021-05-03", Origin("new"), 0, id="another vehicle and another source"),
        pytest.param("J1,V1,2021-05-03", Origin("new"), 1, id="the same visit told by another source"),
        pytest.param("J1,V1,2023-05-03", Origin("old"), 1, id="another year in the same source"),
    ],
)
def test_65_another_job_of_the_number_is_refused_and_a_correction_is_not(  # noqa: PLR0917 - fixtures
    row, origin, replaced, fleet, write, ask
):
    load([write({"jobs.csv": f"{HEADER}J1,V1,2021-05-01 08:00\n"}, "again")], fleet, origin=Origin("old"))
    report = load([write({"jobs.csv": f"{HEADER}{row}\n"}, "new")], fleet, origin=origin)
    assert (report.replaced, report.refused) == (replaced, 1 - replaced)
    if not replaced:
        assert faults(report)[0][4] == "reused_number"
        assert ask("select opened_at::date::varchar from jobs where job_id = 'J1'") == [("2021-05-01",)]
        assert ask("select source from job_sources join jobs using (job_key) where job_id = 'J1'") == [("old",)]


def test_65_what_is_told_of_the_refused_job_does_not_reach_the_other(fleet, write, ask):
    files = {
        "jobs.csv": f"{HEADER}J1,V2,2024-01-01\n",
        "job_codes.csv": "job_id,code\nJ1,P0401\n",
        "job_actions.csv": "job_id,line,component,action\nJ1,1,dpf,clean\n",
    }
    report = load([write(files, "new")], fleet)
    assert counts(report) == (3, 0, 0, 3, 0)
    assert [fault[4] for fault in faults(report)] == ["reused_number"] * 3
    assert ask("select count(*) from job_codes") == [(0,)]


def test_65_a_prefix_keeps_the_numbers_of_two_systems_apart(fleet, write, ask):
    made = """
        name = "new system"
        kind = "wide"
        job_prefix = "N-"
        jobs = { job_id = "No", vehicle_id = "Van", opened_at = "Day" }
        job_codes = { code = "Code" }
    """
    files = write({"new.csv": "No,Van,Day,Code\nJ1,V2,2024-01-01,P0401\n"}, "new")
    report = load([files], fleet, maps=[written.parse(made, "map")])
    assert report.refused == 0
    assert ask("select job_id, code from job_codes join jobs using (job_key) join codes using (code_key)") == [
        ("N-J1", "P0401")
    ]
    assert written.parse(written.write(written.parse(made, "map")), "map").job_prefix == "N-"


def test_65_a_complete_file_of_the_new_source_leaves_the_old_jobs(fleet, write, ask):
    load([write({"jobs.csv": f"{HEADER}J1,V1,2021-05-01 08:00\n"}, "again")], fleet, origin=Origin("old"))
    complete = Origin("new", date(2021, 1, 1), date(2024, 12, 31))
    load([write({"jobs.csv": f"{HEADER}J1,V2,2024-01-01\nJ9,V2,2024-01-02\n"}, "new")], fleet, origin=complete)
    assert ask("select job_id from jobs order by 1") == [("J1",), ("J2",), ("J3",), ("J9",)]
