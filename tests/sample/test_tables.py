"""The sample keeps every rule of the input tables, and holds every kind of thing that the product must meet."""

import json
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest
from frictionless import Package

from fleetlens.sample import make_sample, scenario
from fleetlens.sample.parts import COMPONENTS, PARTS
from fleetlens.sample.symptoms import CODES
from fleetlens.sample.words import CAUSES, COMPLAINTS
from fleetlens.vocabulary import codes, components, vin
from fleetlens.vocabulary.actions import LIFE_STARTING
from fleetlens.vocabulary.tables import Column, tables

PARSERS = {
    "string": str,
    "integer": int,
    "number": float,
    "boolean": {"true": True, "false": False}.__getitem__,
    "date": date.fromisoformat,
    "datetime": datetime.fromisoformat,
}


def read(folder: Path, name: str) -> pl.DataFrame:
    """A table as text, blanks as null."""
    return pl.read_csv(folder / f"{name}.csv", infer_schema=False)


def check_column(values: pl.Series, column: Column) -> None:
    assert not column.required or values.null_count() == 0
    said = [PARSERS[column.type](value) for value in values.drop_nulls()]
    assert column.minimum is None or all(value >= column.minimum for value in said)
    assert column.maximum is None or all(value <= column.maximum for value in said)
    assert not column.allowed or set(said) <= set(column.allowed)


@pytest.mark.parametrize("vehicles", [1, 2, 50])
def test_every_table_keeps_the_published_rules(tmp_path: Path, vehicles: int) -> None:
    folder = make_sample(tmp_path, vehicles=vehicles, seed=8).folder
    frames = {name: read(folder, name) for name in tables()}
    for name, table in tables().items():
        frame = frames[name]
        written = [column for column in table.columns if column.name != "from_text"]  # nothing of it is
        assert frame.columns == [column.name for column in written]
        for column in written:
            check_column(frame[column.name], column)
        if table.key:
            assert not frame.select(table.key).is_duplicated().any()
        for reference in table.references:
            assert frame[reference.column].is_in(frames[reference.table][reference.there].implode()).all()
    assert frames["vehicles"].height == vehicles
    assert not frames["job_actions"].select("job_id", "line").is_duplicated().any()


def test_another_program_finds_the_package_valid(sample: Path) -> None:
    # Outside check: the reference validator of the Data Package and Table Schema standards, Frictionless Framework.
    report = Package(str(sample / "datapackage.json")).validate()
    assert report.valid, report.flatten(["title", "rowNumber", "fieldName", "note"])
    assert {task.name for task in report.tasks} == set(tables())


def test_times_stand_in_order_and_inside_the_record(sample: Path) -> None:
    vehicles = pl.read_csv(sample / "vehicles.csv", try_parse_dates=True)
    jobs = pl.read_csv(sample / "jobs.csv", try_parse_dates=True).join(vehicles, on="vehicle_id")
    day = pl.col("opened_at").dt.date()
    assert jobs.filter(pl.col("closed_at") < pl.col("opened_at")).is_empty()
    assert jobs.filter(day < pl.coalesce("history_from", "in_service_on")).is_empty()
    assert jobs.filter(day >= pl.col("left_service_on")).is_empty()
    readings = pl.read_csv(sample / "odometer.csv", try_parse_dates=True)
    last = readings.group_by("vehicle_id").agg(pl.col("read_at").max().dt.date()).join(vehicles, on="vehicle_id")
    ends = pl.col("left_service_on").fill_null(scenario.RECORD_TO)
    assert last.filter(pl.col("read_at") != ends).is_empty()
    assert vehicles.filter(pl.col("left_service_on") > scenario.RECORD_TO).is_empty()
    assert date.today() > scenario.RECORD_TO


def test_odometers_run_forward_but_for_a_handful_of_typos(tmp_path: Path) -> None:
    folder = make_sample(tmp_path, vehicles=400, seed=1).folder
    jobs = pl.read_csv(folder / "jobs.csv", try_parse_dates=True)
    km = pl.when(pl.col("odometer_unit") == "mi").then(1.609344 * (pl.col("odometer") + 0.5)).otherwise("odometer")
    readings = pl.read_csv(folder / "odometer.csv", try_parse_dates=True)
    both = pl.concat(
        [
            jobs.drop_nulls("odometer").select("vehicle_id", at="opened_at", km=km.cast(pl.Float64)),
            readings.select("vehicle_id", at="read_at", km=pl.col("odometer").cast(pl.Float64)),
        ]
    ).sort("vehicle_id", "at")
    step = pl.col("km").diff().over("vehicle_id")
    # A typo is a digit too many or too few; it shows as a fall by more than the rounding of miles.
    falls = both.with_columns(step=step).filter(pl.col("step") < -1.7).height
    assert 4 <= falls <= 0.003 * readings.height
    longer = readings.filter(pl.col("odometer") > 800_000).height
    assert 1 <= longer < falls
    assert jobs["odometer"].null_count() / jobs.height == pytest.approx(scenario.ODOMETER_MISSING, abs=0.01)


def test_the_scenario_holds_what_the_product_must_meet(sample: Path) -> None:
    vehicles = pl.read_csv(sample / "vehicles.csv", try_parse_dates=True)
    for column, least in (("model", 5), ("duty", 4), ("depot", 5)):
        assert vehicles[column].n_unique() == least
    late = vehicles.filter(pl.col("history_from") > pl.col("in_service_on"))
    assert late.height > 20
    assert vehicles["left_service_on"].count() > 10
    assert vehicles["history_from"].null_count() > 10
    assert vehicles.filter(pl.col("in_service_km") > 10_000).height > 5
    assert vehicles["in_service_on"].max() > date(2024, 1, 1)

    jobs = read(sample, "jobs")
    assert set(jobs["reason"]) == {"breakdown", "defect", "scheduled", "inspection", "campaign", "warranty"}
    assert set(jobs["odometer_unit"].drop_nulls()) == {"km", "mi"}
    miles = jobs.filter(pl.col("odometer_unit") == "mi")
    assert miles["workshop"].unique().to_list() == ["Sandreth Motor Works"]
    assert jobs["workshop"].n_unique() == 5
    assert jobs["complaint"].str.contains(",").any()

    actions = read(sample, "job_actions").join(jobs.select("job_id", "reason"), on="job_id")
    assert {"clean", "replace", "repair", "software", "regenerate", "relearn", "clear_codes", "road_test"} <= set(
        actions["action"]
    )
    assert {"advise", "decline", "defer", "no_fault_found", "inspect", "diagnose", "charge"} <= set(actions["action"])
    found = actions.filter(pl.col("cause").is_not_null() & (pl.col("reason") == "inspection"))
    assert found["component"].n_unique() >= 3
    assert found.filter(pl.col("action") == "inspect").is_empty()
    planned = actions.filter(pl.col("reason").is_in(["scheduled", "campaign"]) & pl.col("component").is_in(COMPONENTS))
    planned = planned.filter(pl.col("action").is_in(LIFE_STARTING))
    assert set(planned["component"]) == {"egr_valve", "dpf", "glow_plug"}
    assert planned["cause"].null_count() == planned.height
    assert set(actions["part_grade"].drop_nulls()) == {"original", "equivalent", "reconditioned"}
    assert set(actions["position"].drop_nulls()) == {f"cylinder {number}" for number in range(1, 5)}

    checks = read(sample, "job_checks")
    after = checks.filter(pl.col("value").is_null())
    assert set(after["check"]) == {"codes_reread", "road_test", "relearn"}
    assert set(after["passed"]) == {"true", "false", None}
    assert after.filter(pl.col("passed").is_null()).height < 0.1 * after.height
    measured = checks.filter(pl.col("value").is_not_null())
    assert measured.select("unit", "low", "high", "passed").null_count().sum_horizontal().item() == 0
    assert {"reference_voltage", "closed_signal", "pressure_difference_idle"} <= set(measured["check"])
    inside = pl.col("value").cast(float).is_between(pl.col("low").cast(float), pl.col("high").cast(float))
    assert measured.filter(inside != (pl.col("passed") == "true")).is_empty()


def test_an_inspection_shows_one_line_for_each_component_it_looked_at(sample: Path) -> None:
    jobs = read(sample, "jobs").filter(pl.col("reason") == "inspection")
    lines = read(sample, "job_actions").join(jobs.select("job_id"), on="job_id", how="semi")
    looked = [part.component for part in PARTS if part.hidden]
    counts = lines.filter(pl.col("component").is_in(looked)).group_by("job_id", "component").len()
    assert (counts["len"] == 1).all()
    assert counts.height == jobs.height * len(looked)


def test_codes_and_components_are_in_our_lists(sample: Path) -> None:
    known = components.components()
    assert set(read(sample, "job_actions")["component"]) <= known.keys()
    assert set(read(sample, "fitted")["component"]) == set(COMPONENTS)
    for code in read(sample, "job_codes")["code"].unique():
        spelt = codes.normalise(code)
        assert spelt is not None
        assert spelt.code == code
        assert codes.description(code) is not None
    possible = [*CODES]
    assert [code for code in possible if codes.description(code) is None] == []
    assert CAUSES.keys() == COMPLAINTS.keys() == set(COMPONENTS)


def test_vehicle_numbers_are_well_formed(sample: Path) -> None:
    for number in read(sample, "vehicles")["vin"]:
        assert vin.problems(number) == ()
        assert vin.check_digit(number) == number[8]


def test_a_model_without_the_component_never_has_it_treated(sample: Path) -> None:
    fitted = read(sample, "fitted")
    assert fitted.filter((pl.col("model") == "Skiff") & (pl.col("component") == "turbo_vanes")).is_empty()
    jobs = read(sample, "jobs").join(read(sample, "vehicles").select("vehicle_id", "model"), on="vehicle_id")
    treated = read(sample, "job_actions").join(jobs.select("job_id", "model"), on="job_id")
    treated = treated.filter(pl.col("component").is_in(COMPONENTS) & (pl.col("action") != "inspect"))
    assert treated.join(fitted, on=["model", "component"], how="anti").is_empty()


def test_the_descriptor_and_the_truth_say_that_it_is_invented(sample: Path) -> None:
    package = json.loads((sample / "datapackage.json").read_text(encoding="utf-8"))
    assert package["title"] == "Invented job histories of an invented fleet"
    assert [resource["path"] for resource in package["resources"]] == [f"{name}.csv" for name in tables()]
    truth = json.loads((sample / "truth.json").read_text(encoding="utf-8"))
    assert "made up" in truth["invented"]
    assert (truth["seed"], truth["vehicles"]) == (5, 150)
    assert (truth["record_from"], truth["record_to"]) == ("2020-07-01", "2026-06-30")
