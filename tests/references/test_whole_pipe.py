"""Published lives written as job histories, loaded and asked by command: the printed figures are the published ones.

Sources and basis of every figure stand in values/*.toml. Hours and days stand in for km where the source has them.
"""

import json
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from fleetlens.cli import main

START = date(2015, 1, 1)


def day(place: float, *, end: float) -> str:
    """A date in proportion to the distance, within four years, so that no step is too fast to be true."""
    return (START + timedelta(round(1400 * place / end))).isoformat()


def write_fleet(folder: Path, units: list[dict[str, Any]], component: str, end: float) -> Path:
    """Input tables of units that each ran from 0 to `ran`, with events of (km, reason, cause) on the way."""
    folder.mkdir()
    vehicles, jobs, actions, readings = [], [], [], []
    for number, unit in enumerate(units):
        name = f"U{number:03}"
        last = day(unit["ran"], end=end)
        vehicles.append([name, "Reference", START.isoformat(), 0, START.isoformat(), last])
        readings.append([name, last, unit["ran"], "end of test"])
        for place, (km, reason, cause) in enumerate(unit["events"]):
            job = f"{name}-{place}"
            jobs.append([job, name, day(km, end=end), km, reason])
            actions.append([job, 1, component, "replace", cause])
    for table, columns, rows in (
        (
            "vehicles",
            ["vehicle_id", "model", "in_service_on", "in_service_km", "history_from", "left_service_on"],
            vehicles,
        ),
        ("jobs", ["job_id", "vehicle_id", "opened_at", "odometer", "reason"], jobs),
        ("job_actions", ["job_id", "line", "component", "action", "cause"], actions),
        ("odometer", ["vehicle_id", "read_at", "odometer", "source"], readings),
    ):
        pl.DataFrame(rows, schema=columns, orient="row").write_csv(folder / f"{table}.csv")
    return folder


@pytest.fixture
def ask(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Load the units, then put a question to the command line and read its JSON."""

    def asked(units: list[dict[str, Any]], component: str, end: float, *question: str) -> Any:
        folder = write_fleet(tmp_path / "tables", units, component, end)
        store = str(tmp_path / "store")
        with pytest.raises(SystemExit) as done:
            main(["load", str(folder), "--store", store, "--json"])
        assert not done.value.code
        loaded = json.loads(capsys.readouterr().out)
        assert loaded["rows_in"] == loaded["accepted"] > 0
        with pytest.raises(SystemExit) as done:
            main([*question, "--component", component, "--store", store, "--json"])
        assert not done.value.code
        return json.loads(capsys.readouterr().out)["rows"]

    return asked


def shock_absorbers(table: pl.DataFrame, failing: set[int]) -> list[dict[str, Any]]:
    """Each is a vehicle that leaves at its last distance; a failure of another mode is a planned replacement there."""
    units = []
    for km, mode in table.select("km", "mode").iter_rows():
        event = (
            [(km, "breakdown" if mode in failing else "scheduled", f"mode {mode}" if mode in failing else None)]
            if mode
            else []
        )
        units.append({"ran": km, "events": event})
    return units


@pytest.mark.parametrize(
    ("name", "failing"),
    [("shock_absorber_weibull", {1, 2}), ("shock_absorber_mode1_weibull", {1}), ("shock_absorber_mode2_weibull", {2})],
)
def test_shock_absorbers(name: str, failing: set[int], ask: Any, reference: Any, table: Any) -> None:
    """38 vehicle shock absorbers, km, two modes."""
    units = shock_absorbers(table("shock_absorber"), failing)
    (row,) = ask(units, "shock_absorber", 28_000, "lives", "--by", "component")
    check = reference(name)
    figures = {
        "n": row["lives"], "failures": row["failures"], "shape": row["shape"], "scale": row["characteristic_life_km"],
        "shape_lr_low": row["shape_low"], "shape_lr_high": row["shape_high"],
        "scale_lr_low": row["characteristic_life_low"], "scale_lr_high": row["characteristic_life_high"],
        "b10": row["b10_km"], "b10_lr_low": row["b10_low"], "b10_lr_high": row["b10_high"],
    }  # fmt: skip
    for key, value in figures.items():
        interval = key.endswith(("_low", "_high"))
        slack = check.tolerance["intervals_rel" if interval else "estimates_rel"]
        assert value == pytest.approx(check.values[key], rel=slack), key


def test_shock_absorbers_kaplan_meier(ask: Any, reference: Any, table: Any) -> None:
    """The curve at each published failure distance, its log–log limits, and the median."""
    check = reference("shock_absorber_km")
    distances = [int(key.removeprefix("S_")) for key in check.values if key.startswith("S_")]
    units = shock_absorbers(table("shock_absorber"), {1, 2})
    at = ",".join(str(km) for km in distances)
    (row,) = ask(units, "shock_absorber", 28_000, "lives", "--by", "began_as", "--at", at)
    assert row["began_as"] == "new"
    assert [point["km"] for point in row["survival"]] == distances
    for point in row["survival"]:
        for key, name in (("share", "S"), ("low", "low"), ("high", "high")):
            assert point[key] == pytest.approx(check.values[f"{name}_{point['km']:.0f}"], abs=check.tolerance["abs"])
    assert (row["median_km"], row["median_low"]) == (check.values["median"], check.values["median_low"])
    assert row["median_high"] is None


def test_generator_fans(ask: Any, reference: Any, table: Any) -> None:
    """70 diesel generator fans, hours: the shape's interval includes 1, so no wear-out and no interval is claimed."""
    rows = table("generator_fan")
    units = [
        {"ran": hours, "events": [(hours, "breakdown", None)] if failed else []}
        for hours, failed in rows.select("hours", "failed").iter_rows()
    ]
    (row,) = ask(units, "cooling_fan", 12_000, "lives", "--by", "component")
    check = reference("generator_fan_weibull")
    assert (row["lives"], row["failures"]) == (check.values["n"], check.values["failures"])
    assert row["shape"] == pytest.approx(check.values["shape"], rel=1e-5)
    assert row["characteristic_life_km"] == pytest.approx(check.values["scale"], rel=1e-5)
    assert row["shape_low"] == pytest.approx(check.values["shape_lr_low"], rel=1e-4)
    assert row["shape_high"] == pytest.approx(check.values["shape_lr_high"], rel=1e-4)
    assert row["b10_km"] == pytest.approx(check.values["b10"], rel=1e-5)
    assert row["shape_low"] < 1 < row["shape_high"]


def test_generator_fans_get_no_interval(ask: Any, table: Any) -> None:
    units = [
        {"ran": hours, "events": [(hours, "breakdown", None)] if failed else []}
        for hours, failed in table("generator_fan").select("hours", "failed").iter_rows()
    ]
    prices = ("--clean-price", "100", "--failure-price", "1000")
    (row,) = ask(units, "cooling_fan", 12_000, "intervals", "--by", "component", *prices)
    assert row["verdict"] == "not enough evidence"
    assert row["interval_km"] is None


def test_valve_seats(ask: Any, reference: Any, table: Any) -> None:
    """48 valve-seat replacements on 41 diesel engines, days; two engines have two on one day, two jobs here."""
    rows = table("valve_seat")
    units = [
        {
            "ran": engine["days"].max(),
            "events": [(days, "breakdown", None) for days in engine.filter(pl.col("replaced") == 1)["days"]],
        }
        for (_,), engine in rows.group_by("engine", maintain_order=True)
    ]
    steps = ask(units, "valve_seat", 800, "recurrence")
    check = reference("valve_seat_mcf")
    assert sum(step["events"] for step in steps) == check.values["replacements"]
    by_day = {f"{step['km']:.0f}": step for step in steps}
    days = [key.removeprefix("mcf_") for key in check.values if key.startswith("mcf_")]
    assert len(days) > 10
    for at in days:
        assert by_day[at]["mean_events"] == pytest.approx(check.values[f"mcf_{at}"], abs=check.tolerance["mcf_abs"])
        assert by_day[at]["low"] == pytest.approx(check.values[f"low_log_{at}"], abs=check.tolerance["se_abs"])
        assert by_day[at]["high"] == pytest.approx(check.values[f"high_log_{at}"], abs=check.tolerance["se_abs"])
        assert by_day[at]["vehicles_at_risk"] == check.values[f"atrisk_{at}"]
