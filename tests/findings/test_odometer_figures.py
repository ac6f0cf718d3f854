"""What the odometers' contradictions do to the figures: told in each answer, listed one by one, and harmless."""

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import polars as pl
import pytest

from fleetlens.findings import fleet
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.filters import Filters
from fleetlens.findings.lives import component_lives, life_rows
from fleetlens.intake.load import load
from fleetlens.store.reader import open_store

START = date(2024, 1, 1)
MILE = 1.609344  # km, by definition (international yard and pound agreement, 1959)
Change = Callable[[str, int, float], float]


def store_of(folder: Path, change: Change, proposals: str | None = None) -> Path:
    """Two vans, A and B, that run 100 km a day, seen every 30 days for two years; the tenth job renews the valve."""
    folder.mkdir()
    vans = [("A", "Corvo 3", START, 0), ("B", "Pinta", START, 0)]
    jobs, actions, codes = [], [], []
    for van, *_ in vans:
        for number in range(1, 25):
            opened, km = START + timedelta(30 * number), change(van, number, 3000.0 * number)
            job = f"{van}{number:02}"
            jobs.append((job, van, opened, km, "defect" if number % 10 == 0 else "scheduled"))
            if number % 10 == 0:
                actions.append((job, 1, "egr_valve", "replace"))
                codes.append((job, 1, "P0401"))
    for name, columns, rows in (
        ("vehicles", ["vehicle_id", "model", "in_service_on", "in_service_km"], vans),
        ("jobs", ["job_id", "vehicle_id", "opened_at", "odometer", "reason"], jobs),
        ("job_actions", ["job_id", "line", "component", "action"], actions),
        ("job_codes", ["job_id", "line", "code"], codes),
    ):
        pl.DataFrame(rows, schema=columns, orient="row").write_csv(folder / f"{name}.csv")
    store = folder.parent / f"{folder.name}-store"
    report = load([folder], store, odometer_proposals=proposals)
    assert report.refused == 0
    return store


def new_cluster(van: str, number: int, km: float) -> float:
    """Van A's instrument is another one from the 13th job on: 36,000 km lower, and 40 km on it."""
    return km - 39_000 + 40 if van == "A" and number >= 13 else km


def spoilt(van: str, number: int, km: float) -> float:
    """A new cluster on A; on B a job read in miles and one with a filler."""
    wrong = {7: km / MILE, 12: 0.0}
    return wrong.get(number, km) if van == "B" else new_cluster(van, number, km)


def as_it_was(_: str, __: int, km: float) -> float:
    return km


def test_distances_and_lives_add_up_over_a_new_cluster(tmp_path: Path) -> None:
    with (
        open_store(store_of(tmp_path / "plain", as_it_was)) as plain,
        open_store(store_of(tmp_path / "new", new_cluster)) as new,
    ):
        assert fleet.overview(new).km == pytest.approx(fleet.overview(plain).km) == pytest.approx(2 * 72_000)
        ages = [life_rows(store, "egr_valve").rows.sort("vehicle_id", "start_km")["age_km"] for store in (plain, new)]
        assert ages[1].to_list() == pytest.approx(ages[0].to_list())
        assert sorted(ages[0].to_list()) == pytest.approx([12_000.0] * 2 + [30_000.0] * 4)
        rates = [recurring_codes(store).rows["rate_per_100k_km"] for store in (plain, new)]
        assert rates[1].to_list() == pytest.approx(rates[0].to_list())


def test_readings_set_aside_or_corrected_leave_the_distance(tmp_path: Path) -> None:
    for proposals in (None, "apply"):
        with open_store(store_of(tmp_path / f"spoilt-{proposals}", spoilt, proposals)) as store:
            assert fleet.overview(store).km == pytest.approx(2 * 72_000)


def test_each_answer_says_how_many_readings_are_used(tmp_path: Path) -> None:
    with open_store(store_of(tmp_path / "plain", as_it_was)) as store:
        for finding in (recurring_codes(store), component_lives(store, "egr_valve"), comebacks(store)):
            assert "All 50 odometer readings are used as read." in finding.assumed
    told = "2 of 50 odometer readings set aside; 1 vehicles run on after their odometer started anew."
    folder = store_of(tmp_path / "spoilt", spoilt)
    with open_store(folder) as store:
        for finding in (
            recurring_codes(store),
            component_lives(store, "egr_valve"),
            comebacks(store),
            fleet.failing_components(store),
        ):
            assert finding.assumed.count(told) == 1
        only_b = component_lives(store, "egr_valve", filters=Filters(model=("Pinta",)))
        assert "2 of 25 odometer readings set aside." in only_b.assumed
    load([tmp_path / "spoilt"], folder, odometer_proposals="apply")
    with open_store(folder) as store:
        assert (
            "1 of 50 odometer readings set aside; 1 of 50 used as corrected; "
            "1 vehicles run on after their odometer started anew."
        ) in recurring_codes(store).assumed


def test_each_contradiction_is_listed_with_its_neighbours(tmp_path: Path) -> None:
    with open_store(store_of(tmp_path / "spoilt", spoilt)) as store:
        finding = fleet.set_aside(store)
    day = {number: START + timedelta(30 * number) for number in range(25)}
    assert finding.rows.drop("why").with_columns(pl.col("proposed_km").round(3)).rows() == [
        ("A", day[13], 40.0, "runs on", None, 39_000.0, day[12], 36_000.0, day[14], 3040.0, "job", "A13"),
        ("B", day[7], 21_000 / MILE, "unit", 21_000.0, None, day[6], 18_000.0, day[8], 24_000.0, "job", "B07"),
        ("B", day[12], 0.0, "filler", None, None, day[11], 33_000.0, day[13], 39_000.0, "job", "B12"),
    ]
    assert finding.rows["why"].to_list() == [
        "another instrument, runs on from 36000 km on 2024-12-26: 40 km on 2025-01-25 used as 39000 km",
        "contradicts the readings around it: 13049 km on 2024-07-29, between 18000 km on 2024-06-29 and 24000 km on "
        "2024-08-28; would fit as 21000 km",
        "contradicts the readings around it: 0 km on 2024-12-26, between 33000 km on 2024-11-26 and 39000 km on "
        "2025-01-25",
    ]
    assert finding.method.startswith(
        "2 of 50 readings contradict those around them: unit 1 (2 %), filler 1 (2 %). 2 are set aside, on 1 vehicles."
    )
    assert "(1 vehicles)" in finding.method
    assert set(finding.rows.columns) <= set(COLUMNS)


def test_nothing_contradicts(tmp_path: Path) -> None:
    with open_store(store_of(tmp_path / "plain", as_it_was)) as store:
        finding = fleet.set_aside(store)
    assert finding.rows.is_empty()
    assert finding.method.startswith("0 of 50 readings contradict those around them. 0 are set aside, on 0 vehicles.")
