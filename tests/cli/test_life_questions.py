"""The commands about lives, repeat failures, causes and measurements say what the Python calls say."""

import json
import shlex

import pytest

from fleetlens.advice.bench import cause_split
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.findings import drift as drifting
from fleetlens.findings import measurements as measuring
from fleetlens.findings.b_lives import b_lives
from fleetlens.findings.causes import NEVER_SKIP, cause_rows
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.fates import fates
from fleetlens.findings.filters import Filters
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.life_fit import cumulative_hazards, life_fit, probability_points
from fleetlens.findings.recurrence import recurrence_difference, recurrent_failures
from fleetlens.findings.vehicle_failures import failure_rows
from fleetlens.output.records import as_text, record

EGR = Filters(component=("egr_valve",))
FELL = Filters(model=("Fell",))
LIVES = "lives --component egr_valve"
ANSWERS = {
    f"{LIVES} --show fates --at 40000,80000": lambda shot: fates(shot, at=(40_000.0, 80_000.0), filters=EGR),
    f"{LIVES} --show b-lives --share 0.01,0.1 --shape-from duty=multi-drop": lambda shot: b_lives(
        shot, shares=(0.01, 0.1), shape_from={"duty": "multi-drop"}, filters=EGR
    ),
    f"{LIVES} --show b-lives --shape 2 --by ''": lambda shot: b_lives(shot, by=(), shape=2.0, filters=EGR),
    f"{LIVES} --by model --show comparison --within duty": lambda shot: compared_lives(
        shot, by=("model",), within=("duty",), filters=EGR
    ),
    f"{LIVES} --by duty --show difference --between motorway,multi-drop": lambda shot: two_groups(
        shot, None, "duty", "motorway", "multi-drop", filters=EGR
    ),
    f"{LIVES} --by '' --show fit": lambda shot: life_fit(shot, by=(), filters=EGR),
    f"{LIVES} --show points": lambda shot: probability_points(shot, filters=EGR),
    f"{LIVES} --show hazard --unknown-start leave-out": lambda shot: cumulative_hazards(
        shot, filters=EGR, unknown_start="leave-out"
    ),
    "recurrence --by duty": lambda shot: recurrent_failures(shot, by=("duty",)),
    "recurrence --show trend --by model": lambda shot: failure_trends(shot, by=("model",)),
    "recurrence --component egr_valve --by depot --show difference --between Osmere,Sandreth --at 50000": (
        lambda shot: recurrence_difference(shot, None, "depot", "Osmere", "Sandreth", at=(50_000.0,), filters=EGR)
    ),
    "recurrence --rows --component egr_valve": lambda shot: failure_rows(shot, filters=EGR),
    "causes P0404 P0401 --model Fell": lambda shot: cause_split(shot, ["P0404", "P0401"], "causes", FELL),
    "causes p0401 --show checks": lambda shot: cause_split(shot, ["P0401"], "checks"),
    "causes P0401 --show remedies": lambda shot: cause_split(shot, ["P0401"], "remedies"),
    "causes P0401 --rows": lambda shot: cause_rows(shot, ["P0401"]),
    "measurements": measuring.measurements,
    "measurements --component egr_valve --rows": lambda shot: measuring.check_rows(shot, filters=EGR),
    "measurements --show drift --within 30000": lambda shot: drifting.drift(shot, within_km=30_000.0),
    "measurements --show drift --rows": drifting.drift_rows,
    "measurements --show distance": drifting.drift_by_distance,
}


@pytest.mark.parametrize("line", ANSWERS)
def test_json_is_what_the_python_call_says(run, store, snapshot, line):
    told = run(*shlex.split(line), "--store", store, "--json")
    assert (told.code, told.err) == (0, "")
    said = json.loads(told.out, parse_constant=pytest.fail)
    assert said["rows"]
    assert said == json.loads(as_text(record(ANSWERS[line](snapshot))))


@pytest.mark.parametrize("line", ANSWERS)
def test_people_get_tables_that_fit_with_their_evidence(run, store, line):
    told = run(*shlex.split(line), "--store", store)
    assert (told.code, told.err) == (0, "")
    assert "Method" in told.out
    assert "Period" in told.out
    assert max(len(row) for row in told.out.splitlines()) <= 100


def test_causes_carry_the_cautions_and_never_skip_a_test(run, store):
    told = run("causes", "P0401", "--store", store)
    words = " ".join(told.out.split())
    assert NEVER_SKIP in words
    assert all(caution in words for caution in CAUTIONS)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("lives --show nonsense", "there is nothing to show as 'nonsense'"),
        ("lives --show b-lives --share ten", "these aren't shares: 'ten'"),
        ("lives --show b-lives --shape-from Fell", "this names no group: 'Fell'"),
        ("lives --show difference --by model", "a difference is between two groups of one key"),
        ("recurrence --show rate", "there is nothing to show as 'rate'"),
        ("causes egr", "'egr' is no fault code"),
        ("causes P0401 --show guesses", "there is no part 'guesses'"),
        ("measurements --show slope", "there is nothing to show as 'slope'"),
        ("measurements --show drift --within 0", "a distance of 0 km holds no measurement"),
    ],
)
def test_what_cannot_be_shown_is_said_with_what_can(run, store, line, words):
    told = run(*line.split(), "--store", store)
    assert told.code == 2
    assert words in told.err
    assert "try:" in told.err
    assert "Traceback" not in told.err
