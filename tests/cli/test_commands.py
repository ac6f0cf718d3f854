"""Every command: it explains itself, its examples run, and it says what the Python call says."""

import json
import shlex
import shutil

import polars as pl
import pytest
import typer

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.policies import policies
from fleetlens.cli import app
from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.findings.comebacks import comebacks, repair_rows
from fleetlens.findings.filters import Filters
from fleetlens.findings.lives import component_lives, life_rows
from fleetlens.findings.recurrence import recurrent_failures
from fleetlens.findings.vehicles import vehicle_history
from fleetlens.output.records import as_text, record

COMMANDS = typer.main.get_command(app).commands
EXAMPLES = [
    line.strip().removeprefix("Example: fleetlens ")
    for command in COMMANDS.values()
    for line in command.help.splitlines()
    if line.strip().startswith("Example: fleetlens ")
]
EGR = Filters(component=("egr_valve",))


def test_the_commands_are_those_promised():
    promised = (
        "load codes lives comebacks intervals policies choose settings loads undo rules rebuild vehicle recurrence "
        "sample demo dashboard"
    )
    assert set(promised.split()) <= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_explains_itself_with_an_example(run, name):
    told = run(name, "--help")
    assert told.code == 0
    assert f"Example: fleetlens {name}" in told.out
    options = [option for option in COMMANDS[name].params if option.name != "help"]
    assert [option.name for option in options if not option.help] == []


@pytest.mark.parametrize(
    "example", [example for example in EXAMPLES if example.split()[0] not in ("demo", "dashboard", "undo")]
)
def test_an_example_runs(used, example, fleet, tmp_path):
    shutil.copytree(fleet, tmp_path / "exports" / "march")
    shutil.copy(fleet / "jobs.csv", tmp_path / "exports" / "march.csv")
    told = used(*shlex.split(example))
    assert (told.code, "Traceback" in told.err) == (0, False), told.err


def test_version(run):
    assert run("--version").out.startswith("fleetlens 0.")


ANSWERS = {
    "codes": recurring_codes,
    "codes --rows --code P0401": lambda shot: code_rows(shot, "P0401"),
    "lives --component egr_valve --by model,duty --at 50000,100000": lambda shot: component_lives(
        shot, by=("model", "duty"), at=(50_000.0, 100_000.0), filters=EGR
    ),
    "lives --component egr_valve --unknown-start leave-out": lambda shot: component_lives(
        shot, filters=EGR, unknown_start="leave-out"
    ),
    "lives --rows --component egr_valve": lambda shot: life_rows(shot, filters=EGR),
    "comebacks --component egr_valve --by action --days 60 --km 3000": lambda shot: comebacks(
        shot, by=("action",), days=60, km=3000, filters=EGR
    ),
    "comebacks --by ''": lambda shot: comebacks(shot, by=()),
    "comebacks --rows": repair_rows,
    "intervals --component egr_valve --clean-price 100 --failure-price 900 --downtime-rate 5": lambda shot: (
        cleaning_intervals(shot, given=Given(clean=100, failure=900, downtime_rate=5), filters=EGR)
    ),
    "policies --component egr_valve --clean-price 100 --replace-price 400 --failure-price 900": lambda shot: (
        policies(shot, given=Given(clean=100, replace=400, failure=900), filters=EGR).finding
    ),
    "choose V000004 egr_valve --rule-out leave --replace-price 420 --horizon-km 80000": lambda shot: choose(
        shot, "V000004", "egr_valve", rule_out=("leave",), horizon_km=80_000.0, given=Given(replace=420)
    ),
    "choose V000004 egr_valve --rows": lambda shot: life_rows(shot, "egr_valve"),
    "policies --rows --component egr_valve": lambda shot: life_rows(shot, filters=EGR),
    "intervals --rows --component egr_valve": lambda shot: life_rows(shot, filters=EGR),
    "vehicle V000001": lambda shot: vehicle_history(shot, "V000001"),
    "recurrence": recurrent_failures,
    "recurrence --component egr_valve,dpf": lambda shot: recurrent_failures(
        shot, filters=Filters(component=("egr_valve", "dpf"))
    ),
}


@pytest.mark.parametrize("line", ANSWERS)
def test_json_is_what_the_python_call_says(run, store, snapshot, line):
    told = run(*shlex.split(line), "--store", store, "--json")
    assert (told.code, told.err) == (0, "")
    said = json.loads(told.out, parse_constant=pytest.fail)
    assert said == json.loads(as_text(record(ANSWERS[line](snapshot))))
    assert {"rows", "method", "period", "excluded"} <= set(said)


@pytest.mark.parametrize("line", ANSWERS)
def test_people_get_tables_with_their_evidence(run, store, line):
    told = run(*shlex.split(line), "--store", store)
    assert (told.code, told.err) == (0, "")
    assert "Method" in told.out
    assert "Period" in told.out
    assert max(len(row) for row in told.out.splitlines()) <= 100


@pytest.mark.parametrize(
    ("line", "keys"),
    [
        (
            "codes",
            "code description events episodes vehicles km rate_per_100k_km rate_low rate_high shrunken_rate "
            "shrunken_rate_low shrunken_rate_high latest earlier change change_low change_high change_q",
        ),
        (
            "lives --component egr_valve --by model,duty",
            "component model duty lives failures median_km median_low median_high shape shape_low shape_high "
            "characteristic_life_km characteristic_life_low characteristic_life_high b10_km b10_low b10_high survival",
        ),
        (
            "comebacks --by action,workshop",
            "component action workshop repairs comebacks share_30d share_30d_low share_30d_high share_60d "
            "share_60d_low share_60d_high share_90d share_90d_low share_90d_high first_visit_fix first_visit_fix_low "
            "first_visit_fix_high kinds",
        ),
        (
            "intervals --component egr_valve --by model",
            "component model interval_km interval_low interval_high rounded_km rounding_cost cost_per_1000km "
            "saved_share saved_low saved_high saved_now_share saved_now_low saved_now_high cost_per_1000km_now verdict "
            "failures",
        ),
    ],
)
def test_rows_have_the_keys_promised(run, store, line, keys):
    rows = json.loads(run(*line.split(), "--store", store, "--json").out)["rows"]
    assert rows
    assert {tuple(row) for row in rows} == {tuple(keys.split())}


def test_filters_may_be_repeated_or_hold_commas(run, store):
    once = run("lives", "--component", "egr_valve,dpf", "--store", store, "--json").out
    twice = run("lives", "--component", "egr_valve", "--component", "dpf", "--store", store, "--json").out
    assert once == twice
    assert {row["component"] for row in json.loads(once)["rows"]} == {"egr_valve", "dpf"}


@pytest.mark.parametrize("ending", ["csv", "parquet", "xlsx", "json"])
def test_out_writes_a_file_and_says_so_on_stderr(run, store, tmp_path, ending):
    told = run("codes", "--store", store, "--out", tmp_path / f"codes.{ending}")
    assert (told.code, told.out) == (0, "")
    assert f"rows written to {tmp_path / f'codes.{ending}'}" in told.err
    assert (tmp_path / f"codes.{ending}").stat().st_size > 0


def test_out_and_json_go_together(run, store, tmp_path):
    told = run("codes", "--store", store, "--out", tmp_path / "codes.parquet", "--json")
    rows = json.loads(told.out)["rows"]
    assert pl.read_parquet(tmp_path / "codes.parquet").to_dicts() == rows


def test_advice_never_comes_without_the_cautions(run, store, tmp_path):
    line = ("intervals", "--component", "egr_valve", "--store", store)
    assert json.loads(run(*line, "--json").out)["cautions"] == list(CAUTIONS)
    assert "Follow the vehicle maker's instructions" in run(*line).out
    run(*line, "--out", tmp_path / "plan.xlsx")
    about = pl.read_excel(tmp_path / "plan.xlsx", sheet_name="About", has_header=False)
    assert set(CAUTIONS) <= set(about.get_columns()[1].to_list())


def test_the_store_may_come_from_the_environment_or_the_folder(run, store, tmp_path, monkeypatch):
    named = run("codes", "--store", store, "--json").out
    monkeypatch.setenv("FLEETLENS_STORE", str(store))
    assert run("codes", "--json").out == named
    monkeypatch.delenv("FLEETLENS_STORE")
    shutil.copytree(store, tmp_path / "fleet-store")
    assert run("codes", "--json").out == named
