"""The cleaning interval of a fleet whose lives are known."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from advice.known_fleet import Law, Truth, write_fleet

from fleetlens import FleetlensError, cleaning_intervals, component_lives, load, open_store
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.cost_curves import cost_curves
from fleetlens.advice.costs import Given
from fleetlens.reliability.renewal import cost_rate, optimal_age, run_to_failure_rate
from fleetlens.store.preferences import Preferences, Service
from fleetlens.store.reader import Snapshot

COSTS: Any = {"given": Given(clean=100.0, failure=800.0)}
COMPONENTS = {"egr_valve": (3.0, 100_000.0), "wiring": (1.0, 100_000.0), "sensor": (0.6, 100_000.0)}


def write_known_fleet(folder: Path, vehicles: int) -> None:
    """Vehicles that each run 250,000 km in five years; every component is replaced when its drawn life is over."""
    random = np.random.default_rng(11)
    jobs, actions = [], []
    for component, (shape, scale) in COMPONENTS.items():
        for number in range(vehicles):
            km = 0.0
            while (km := km + scale * random.weibull(shape) + 1) < 250_000:
                day = np.datetime64("2020-01-01") + int(km / 250_000 * 1825)
                job_id = f"{component}-{number}-{km:.0f}"
                jobs.append((job_id, f"V{number}", str(day), km, "defect"))
                actions.append((job_id, 1, component, "replace"))
    names = [f"V{number}" for number in range(vehicles)]
    pl.DataFrame({"vehicle_id": names, "model": "A", "in_service_on": "2020-01-01", "in_service_km": 0}).write_csv(
        folder / "vehicles.csv"
    )
    columns = ["job_id", "vehicle_id", "opened_at", "odometer", "reason"]
    pl.DataFrame(jobs, schema=columns, orient="row").write_csv(folder / "jobs.csv")
    pl.DataFrame(actions, schema=["job_id", "line", "component", "action"], orient="row").write_csv(
        folder / "job_actions.csv"
    )
    pl.DataFrame({"vehicle_id": names, "read_at": "2024-12-30", "odometer": 250_000}).write_csv(folder / "odometer.csv")


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder, store = tmp_path_factory.mktemp("known"), tmp_path_factory.mktemp("store") / "s"
    write_known_fleet(folder, 150)
    assert load([folder], store).refused == 0
    with open_store(store) as snapshot:
        yield snapshot


def test_the_interval_minimises_the_cost_rate_of_the_fitted_life(known: Snapshot) -> None:
    (row,) = cleaning_intervals(known, "egr_valve", **COSTS).rows.rows(named=True)
    (life,) = component_lives(known, "egr_valve").rows.rows(named=True)
    shape, scale = life["shape"], life["characteristic_life_km"]
    assert row["interval_km"] == pytest.approx(optimal_age(shape, scale, 100, 800).item())
    ages = np.linspace(0.1, 2, 500) * row["interval_km"]
    assert row["cost_per_1000km"] <= cost_rate(ages, shape, scale, 100, 800).min() * 1000 * (1 + 1e-9)
    assert row["interval_low"] < row["interval_km"] < row["interval_high"]
    assert row["cost_per_1000km_now"] == pytest.approx(run_to_failure_rate(shape, scale, 800).item() * 1000)
    assert (row["verdict"], row["failures"]) == ("worth it", life["failures"])


def test_its_true_cost_is_next_to_the_true_optimum(known: Snapshot) -> None:
    (row,) = cleaning_intervals(known, "egr_valve", **COSTS).rows.rows(named=True)
    assert row["failures"] >= 50
    best = optimal_age(3.0, 100_000, 100, 800)
    ours = cost_rate(row["interval_km"], 3.0, 100_000, 100, 800)
    assert ours.item() <= cost_rate(best, 3.0, 100_000, 100, 800).item() * 1.01


@pytest.mark.parametrize("component", ["wiring", "sensor"])
def test_a_hazard_that_does_not_rise_gets_no_interval(component: str, known: Snapshot) -> None:
    (row,) = cleaning_intervals(known, component, **COSTS).rows.rows(named=True)
    assert row["interval_km"] is row["interval_low"] is row["interval_high"] is row["cost_per_1000km"] is None
    assert row["verdict"] in ("not worth it", "not enough evidence")
    assert row["cost_per_1000km_now"] > 0


def test_without_costs_nothing_is_advised_and_it_says_why(known: Snapshot) -> None:
    told = cleaning_intervals(known, "egr_valve")
    assert told.rows["verdict"].to_list() == ["not enough evidence"]
    assert told.rows["cost_per_1000km_now"].to_list() == [None]
    assert "set clean in [component.egr_valve] of fleetlens.toml" in " ".join(told.assumed)


def test_the_same_record_gives_the_same_limits(known: Snapshot) -> None:
    first, second = (cleaning_intervals(known, "egr_valve", **COSTS).rows for _ in range(2))
    assert first.equals(second)


def test_cautions_stand_with_the_advice(known: Snapshot) -> None:
    assert cleaning_intervals(known, "egr_valve", **COSTS).cautions == CAUTIONS
    assert cost_curves(known, "egr_valve", **COSTS).cautions == CAUTIONS


def test_the_curve_is_lowest_at_the_interval(known: Snapshot) -> None:
    curve = cost_curves(known, "egr_valve", **COSTS).rows
    (row,) = cleaning_intervals(known, "egr_valve", **COSTS).rows.rows(named=True)
    lowest = curve.sort("cost_per_1000km").row(0, named=True)
    step = curve["km"][1] - curve["km"][0]
    assert abs(lowest["km"] - row["interval_km"]) <= step
    assert lowest["cost_per_1000km"] == pytest.approx(row["cost_per_1000km"], rel=1e-3)


def test_an_unknown_component_is_answered_with_those_there_are(known: Snapshot) -> None:
    with pytest.raises(FleetlensError, match="egr_valve, sensor, wiring"):
        cleaning_intervals(known, "turbo", **COSTS)


def test_the_curve_leaves_out_intervals_of_absurd_cost(known: Snapshot) -> None:
    curve = cost_curves(known, "egr_valve", **COSTS).rows["cost_per_1000km"]
    assert 2 < curve.max() / curve.min() <= 4


def test_what_it_saves_stands_with_its_limits(known: Snapshot) -> None:
    (row,) = cleaning_intervals(known, "egr_valve", **COSTS).rows.rows(named=True)
    assert row["saved_share"] == pytest.approx(1 - row["cost_per_1000km"] / row["cost_per_1000km_now"])
    assert 0 < row["saved_low"] < row["saved_share"] < row["saved_high"] < 1
    assert row["saved_now_low"] < row["saved_now_share"] < row["saved_now_high"]  # nothing was planned: the same saving
    assert row["saved_now_share"] == pytest.approx(row["saved_share"])


def test_the_limits_cover_the_true_saving_as_often_as_they_say(tmp_path: Path) -> None:
    """Of the saving that the advised interval truly brings, over the 40 sub-fleets of one simulated fleet."""
    write_known_fleet(tmp_path, 400)
    vehicles = pl.read_csv(tmp_path / "vehicles.csv")
    vehicles.with_columns(model=pl.Series([f"M{number % 40}" for number in range(400)])).write_csv(
        tmp_path / "vehicles.csv"
    )
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        rows = cleaning_intervals(snapshot, "egr_valve", **COSTS).rows.filter(pl.col("interval_km").is_not_null())
    true = 1 - cost_rate(rows["interval_km"], 3.0, 100_000, 100, 800) / run_to_failure_rate(3.0, 100_000, 800)
    covered = (rows["saved_low"].to_numpy() <= true) & (true <= rows["saved_high"].to_numpy())
    assert rows.height >= 30
    assert covered.mean() > 0.85


def test_the_rounded_interval_is_the_cheaper_multiple_of_the_service_interval(known: Snapshot) -> None:
    preferences = Preferences(service=Service(every_km=40_000))
    (row,) = cleaning_intervals(known, "egr_valve", preferences=preferences, **COSTS).rows.rows(named=True)
    (life,) = component_lives(known, "egr_valve").rows.rows(named=True)
    costs = {
        km: cost_rate(km, life["shape"], life["characteristic_life_km"], 100, 800).item() for km in (40_000, 80_000)
    }
    assert row["rounded_km"] == min(costs, key=lambda km: costs[km])
    assert row["rounding_cost"] == pytest.approx(min(costs.values()) * 1_000 / row["cost_per_1000km"] - 1)


def test_how_flat_the_optimum_is_is_said_in_words(known: Snapshot) -> None:
    told = cleaning_intervals(known, "egr_valve", **COSTS)
    (row,) = told.rows.rows(named=True)
    found = re.search(r"between ([\d,]+) and ([\d,]+) km the cost stays within 2% of the least", " ".join(told.notes))
    assert found is not None
    (life,) = component_lives(known, "egr_valve").rows.rows(named=True)
    for km in (float(each.replace(",", "")) for each in found.groups()):
        rate = cost_rate(km, life["shape"], life["characteristic_life_km"], 100, 800).item() * 1_000
        assert rate == pytest.approx(1.02 * row["cost_per_1000km"], rel=2e-3)


def test_prices_come_from_the_file_of_the_store(tmp_path: Path) -> None:
    write_known_fleet(tmp_path, 20)
    store = tmp_path / "s"
    load([tmp_path], store)
    (store / "fleetlens.toml").write_text(
        "[money]\ncurrency = 'EUR'\n[component.egr_valve]\nclean = 100\nfailure = 800\n", encoding="utf-8"
    )
    with open_store(store) as snapshot:
        told = cleaning_intervals(snapshot, "egr_valve")
        assert told.rows.equals(cleaning_intervals(snapshot, "egr_valve", **COSTS).rows)
    assert "Amounts are in EUR." in told.assumed
    assert any("100.00 EUR as clean in [component.egr_valve] of fleetlens.toml" in line for line in told.assumed)


def test_the_limits_against_today_count_the_renewals_that_are_planned_today(tmp_path: Path) -> None:
    """A third of the lives is renewed early at random ages, which costs: today is dearer than running to failure."""
    law = Law(3.0, 100_000.0)
    write_fleet(tmp_path, {"A": Truth(law, law, planned=0.6)}, vehicles=60)
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        (row,) = cleaning_intervals(snapshot, "egr_valve", given=Given(clean=400.0, failure=1_600.0)).rows.rows(
            named=True
        )
    middle = (row["saved_now_low"] + row["saved_now_high"]) / 2
    assert row["saved_now_low"] < row["saved_now_share"] < row["saved_now_high"]
    assert abs(row["saved_now_share"] - row["saved_share"]) > 0.01
    assert abs(middle - row["saved_now_share"]) < abs(middle - row["saved_share"])
