"""Whatever rows an export holds, the rows of each of its sources add up, and every good job is in the store."""

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetlens.intake.load import load
from fleetlens.intake.maps.written import parse

MAP = """
name = "wide"
kind = "wide"
first_row_only = {once}
[vehicles]
registration = "Reg"
[jobs]
job_id = "Job"
vehicle_id = "Van"
opened_at = {{ column = "In", date_order = "day_first" }}
odometer = {{ column = "Km", unit = "km" }}
[job_codes]
code = {{ column = "Codes", split = true }}
[job_actions]
line = {{ counted = true }}
component = "Part"
action = "Done"
note = {{ column = "Text", text = true }}
labour_cost = {{ column = "Cost", decimal = "," }}
"""
cells = st.tuples(
    st.sampled_from(["J1", "J2", "J3", "", '"', "do.", "#REF!"]),
    st.sampled_from(["V1", "V2", "", "n/a"]),
    st.sampled_from(["OV 1", "OV 2", ""]),
    st.sampled_from(["03.04.2021", "31.02.2021", "4.5.21", "soon", "", "2021-04-03"]),
    st.sampled_from(["120.500", "99999999", "12 h", "-4", "", "80,000 mi"]),
    st.sampled_from(["P0401", "p0401/p0404", "INV P2002", "none", "", "P0671-P0674", "401"]),
    st.sampled_from(["egr_valve", "EGR valve", "", "flux"]),
    st.sampled_from(["replaced", "clean", "", "zapped"]),
    st.sampled_from(["egr valve and dpf cleaned, P0401", "adv turbo", "", "as per quote", "egr £240"]),
    st.sampled_from(["1.234,56", "(12,50)", "", "free", "12.50"]),
)


@given(rows=st.lists(cells, min_size=1, max_size=25), once=st.booleans())
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_mix_of_rows_balances(rows: list[tuple[str, ...]], once: bool) -> None:
    quoted = [";".join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in row) for row in rows]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        path.write_text("\n".join(["Job;Van;Reg;In;Km;Codes;Part;Done;Text;Cost", *quoted]) + "\n", encoding="utf-8")
        made = parse(MAP.format(once=str(once).lower()), "map")
        report = load([path], Path(folder) / "store", maps=[made])
        again = load([path], Path(folder) / "store", maps=[made])
    assert [file.table for file in report.files] == ["vehicles", "jobs", "job_codes", "job_actions"]
    for one in (report, again):
        for file in one.files:
            assert file.rows_in == file.accepted + file.repeated + file.refused, file
            assert file.refused == 0 or one.refusals.height
    assert report.files[0].rows_in == report.files[1].rows_in <= len(rows)
    assert again.accepted == 0
