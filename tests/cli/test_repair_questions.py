"""The commands about repairs and money say what the Python call says, and refuse what can't be read."""

import json
import shlex
import shutil
from datetime import date

import pytest

from fleetlens.findings.campaign import campaign, campaign_failures
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.cost import cost_rows, costs
from fleetlens.findings.filters import Filters
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.warranty import Term, Terms, warranty_claims, warranty_totals
from fleetlens.output.records import as_text, record

EGR = Filters(component=("egr_valve",))
NAMED = Terms(Term(12, 50_000.0), {"used": Term(km=20_000.0), "turbo": Term(36)})
ANSWERS = {
    "comebacks --show comparison --by checks_after": lambda shot: comeback_differences(shot, by=("checks_after",)),
    "comebacks --show funnel": comeback_funnel,
    "warranty": warranty_totals,
    "warranty --months 12 --km 50000 --term used=/20000,turbo=36": lambda shot: warranty_totals(shot, terms=NAMED),
    "warranty --rows --component egr_valve": lambda shot: warranty_claims(shot, filters=EGR),
    "cost": costs,
    "cost --by code --downtime-rate 20 --component egr_valve": lambda shot: costs(
        shot, "code", downtime_rate=20.0, filters=EGR
    ),
    "cost --by code --rows": lambda shot: cost_rows(shot, "code"),
    "campaign --component egr_valve": lambda shot: campaign(shot, "egr_valve"),
    "campaign --component egr_valve --treated-depot Osmere --from 2023-03-01 --days 200": lambda shot: campaign(
        shot, "egr_valve", Treatment(depot="Osmere", from_on=date(2023, 3, 1)), days=200
    ),
    "campaign --component dpf --treated-by egr_valve:clean --rows": lambda shot: campaign_failures(
        shot, "dpf", Treatment("egr_valve", "clean")
    ),
}


@pytest.mark.parametrize("line", ANSWERS)
def test_json_is_what_the_python_call_says(run, store, snapshot, line):
    told = run(*shlex.split(line), "--store", store, "--json")
    assert (told.code, told.err) == (0, "")
    assert json.loads(told.out) == json.loads(as_text(record(ANSWERS[line](snapshot))))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("comebacks --show league", "one of: figures, comparison, funnel"),
        ("comebacks --by technician", "name_technicians = true"),
        ("comebacks --show comparison --by ''", "a comparison needs groups"),
        ("warranty --term turbo", "a term needs months or km"),
        ("warranty --term turbo=long", "NAME=MONTHS/KM"),
        ("warranty --months 0", "a term can't be 0 months"),
        ("cost --by colour", "can't split cost by 'colour'"),
        ("cost --downtime-rate -1", "can't cost -1"),
        ("campaign --treated-by egr_valve", "COMPONENT:ACTION"),
        ("campaign --treated-depot Osmere", "name the day it began"),
        ("campaign --treated-depot Nowhere --from 2023-03-01", "no depot is called 'Nowhere'"),
        ("campaign --vehicles nosuch.txt --from 2023-03-01", "the list of vehicles can't be read"),
        ("campaign --days 0", "1 day or more"),
    ],
)
def test_what_cannot_be_asked_is_answered_with_what_to_write(run, store, line, said):
    told = run(*shlex.split(line), "--store", store)
    assert told.code == 2
    assert said in told.err
    assert "Traceback" not in told.err


def test_a_list_of_vehicles_is_read_and_strangers_are_counted(run, store, tmp_path):
    (tmp_path / "treated.txt").write_text("V000001\n\nV000002\nV000003\nNOSUCH\n")
    line = ("campaign", "--vehicles", tmp_path / "treated.txt", "--from", "2024-01-01", "--store", store, "--json")
    told = json.loads(run(*line).out)
    assert {"count": 1, "reason": "named as treated, but not among the vehicles kept", "what": "vehicles"} in told[
        "excluded"
    ]


def test_technicians_are_named_only_where_it_is_set(run, store, tmp_path):
    shutil.copytree(store, tmp_path / "s")
    (tmp_path / "s" / "fleetlens.toml").write_text("[people]\nname_technicians = true\n")
    rows = json.loads(run("comebacks", "--by", "technician", "--store", tmp_path / "s", "--json").out)["rows"]
    assert any(row["technician"] for row in rows)
    plain = json.loads(run("comebacks", "--rows", "--store", store, "--json").out)["rows"]
    assert "technician" not in plain[0]
