"""Trends and codes together by command: what the Python call says, as JSON and as tables, and what can't be asked."""

import json
import shlex

import pytest

from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.filters import Filters
from fleetlens.findings.forerunners import forerunner_rows, forerunners
from fleetlens.findings.together import codes_together, together_rows
from fleetlens.findings.trends import changed_rates, rates_by_group, rates_by_period, trend_rows
from fleetlens.output.records import as_text, record

EGR = Filters(component=("egr_valve",))
ANSWERS = {
    "trends": rates_by_period,
    "trends --code P0401,P0402 --every quarter": lambda shot: rates_by_period(
        shot, every="quarter", codes=("P0401", "P0402")
    ),
    "trends --show changes": changed_rates,
    "trends --of failures --show changes --every quarter": lambda shot: changed_rates(shot, "failures", "quarter"),
    "trends --by depot,duty": lambda shot: rates_by_group(shot, by=("depot", "duty")),
    "trends --show groups --of failures --component egr_valve": lambda shot: rates_by_group(
        shot, "failures", filters=EGR
    ),
    "trends --rows --code P0401": lambda shot: trend_rows(shot, codes=("P0401",)),
    "trends --rows --of failures": lambda shot: trend_rows(shot, "failures"),
    "together": codes_together,
    "together --code P0401 --join-days 14 --at-least 3": lambda shot: codes_together(
        shot, ("P0401",), join_days=14, at_least=3
    ),
    "together --rows --code P0401": lambda shot: together_rows(shot, ("P0401",)),
    "together --before egr_valve": lambda shot: forerunners(shot, "egr_valve"),
    "together --before P0401 --km 3000 --at-least 2": lambda shot: forerunners(shot, "P0401", km=3000.0, at_least=2),
    "together --before egr_valve --days 90 --rows": lambda shot: forerunner_rows(shot, "egr_valve", days=90),
}


@pytest.mark.parametrize("line", ANSWERS)
def test_json_is_what_the_python_call_says(run, store, snapshot, line):
    told = run(*shlex.split(line), "--store", store, "--json")
    assert (told.code, told.err) == (0, "")
    said = json.loads(told.out, parse_constant=pytest.fail)
    assert said["rows"]
    assert said == json.loads(as_text(record(ANSWERS[line](snapshot))))


@pytest.mark.parametrize("line", ANSWERS)
def test_people_get_tables_with_their_evidence(run, store, line):
    told = run(*shlex.split(line), "--store", store)
    assert (told.code, told.err) == (0, "")
    assert "Method" in told.out
    assert max(len(row) for row in told.out.splitlines()) <= 100


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("trends --show graphs", "can't show 'graphs'"),
        ("trends --by depot --show changes", "--by compares groups over the whole record"),
        ("trends --every week", "there is no trend by 'week'"),
        ("trends --of failures --code P0401", "failures are of components, not of codes"),
        ("together --days 30", "--days and --km look back from something"),
        ("together --before egr_valve --code P0401", "--code and --join-days are about pairs"),
        ("together --before egr_valve --component dpf", "not kept by component"),
        ("together --before egr_valve --days 30 --km 900", "in days or in km, not in both"),
    ],
)
def test_what_cannot_be_asked_ends_with_what_to_do(run, store, line, says):
    told = run(*shlex.split(line), "--store", store)
    assert told.code == 2
    assert says in told.err
    assert "  try: " in told.err
    assert "Traceback" not in told.err


def test_recurring_codes_and_trends_count_the_same_episodes(snapshot):
    codes = recurring_codes(snapshot).rows
    assert rates_by_period(snapshot).rows["episodes"].sum() == codes["episodes"].sum()
    changes = changed_rates(snapshot).rows.sort("code")
    assert changes["episodes"].to_list() == codes.sort("code")["episodes"].to_list()
    assert rates_by_group(snapshot).rows["km"].sum() == pytest.approx(codes["km"][0])
