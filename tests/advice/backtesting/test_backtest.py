"""The back-test: it knows only what was known, counts what happened, and says whether the advice would have paid."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from fleetlens import FleetlensError, load, open_store
from fleetlens.advice.backtesting.backtest import CANT_TELL, NO_SCHEDULE, PAYS, Backtest, backtest
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.findings.filters import Filters
from fleetlens.findings.lives import life_rows
from fleetlens.intake.rewind import as_known_on
from fleetlens.store.preferences import ComponentPrices, Preferences
from fleetlens.store.reader import Snapshot

UNTIL, TO = date(2023, 6, 30), date(2024, 6, 30)
PRICES = Preferences(
    component={name: ComponentPrices(clean=100.0, failure=1_500.0) for name in ("egr_valve", "wiring")}
)


def write_fleet(folder: Path, vehicles: int = 220, seed: int = 5) -> None:
    """Vehicles of many ages at 40,000 km a year, their odometers read each quarter: a valve that wears (shape 4) and
    wiring that doesn't, each cleaned when it fails, as good as new.
    """
    chance = np.random.default_rng(seed)
    jobs, actions, readings, made = [], [], [], []
    end = np.datetime64("2024-12-31")
    for number in range(vehicles):
        start = np.datetime64("2018-01-01") + int(chance.integers(0, 3 * 365))
        made.append((f"V{number}", "A", str(start), 0))
        days = int((end - start).astype(int))
        readings += [(f"V{number}", str(start + day), round(day * 40_000 / 365)) for day in range(91, days, 91)]
        for component, shape, scale in (("egr_valve", 4.0, 90_000.0), ("wiring", 1.0, 90_000.0)):
            km = 0.0
            while (km := km + scale * chance.weibull(shape) + 1) < days * 40_000 / 365:
                job = f"{component}-{number}-{km:.0f}"
                jobs.append((job, f"V{number}", str(start + int(km * 365 / 40_000)), round(km), "defect"))
                actions.append((job, 1, component, "clean"))
    columns = ["vehicle_id", "model", "in_service_on", "in_service_km"]
    pl.DataFrame(made, schema=columns, orient="row").write_csv(folder / "vehicles.csv")
    columns = ["job_id", "vehicle_id", "opened_at", "odometer", "reason"]
    pl.DataFrame(jobs, schema=columns, orient="row").write_csv(folder / "jobs.csv")
    columns = ["job_id", "line", "component", "action"]
    pl.DataFrame(actions, schema=columns, orient="row").write_csv(folder / "job_actions.csv")
    columns = ["vehicle_id", "read_at", "odometer"]
    pl.DataFrame(readings, schema=columns, orient="row").write_csv(folder / "odometer.csv")


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    folder, store = tmp_path_factory.mktemp("tables"), tmp_path_factory.mktemp("tried") / "store"
    write_fleet(folder)
    assert load([folder], store).refused == 0
    with open_store(store) as snapshot:
        yield snapshot


@pytest.fixture(scope="module")
def tried(fleet: Snapshot) -> Backtest:
    return backtest(fleet, UNTIL, by=(), preferences=PRICES)


def row_of(made: Backtest, component: str) -> dict[str, object]:
    return made.summary.rows.row(by_predicate=pl.col("component") == component, named=True)


def test_the_rewound_store_holds_nothing_later(fleet: Snapshot) -> None:
    with as_known_on(fleet, UNTIL) as then:
        ended = life_rows(then, "egr_valve").rows
        assert life_rows(then, "egr_valve").period.end == UNTIL
        assert ended["end_km"].max() <= 40_000 * ((UNTIL - date(2018, 1, 1)).days / 365) * 1.01
    now = life_rows(fleet, "egr_valve")
    assert now.rows.height > ended.height, "the live snapshot is as it was"


def test_a_day_before_the_record_has_nothing_to_go_by(fleet: Snapshot) -> None:
    with pytest.raises(FleetlensError, match="no job up to"), as_known_on(fleet, date(2017, 1, 1)):
        pass


def test_every_running_part_is_followed_and_its_failures_are_those_of_the_record(
    fleet: Snapshot, tried: Backtest
) -> None:
    parts = tried.parts.rows.filter(pl.col("component") == "egr_valve")
    assert parts.height == parts["vehicle_id"].n_unique() == 220
    failed = parts.filter(pl.col("has_failed"))
    assert failed["ended_on"].is_between(UNTIL, TO, closed="right").all()
    assert parts.filter(~pl.col("has_failed"))["ended_on"].null_count() == 220 - failed.height
    assert row_of(tried, "egr_valve")["failures"] == failed.height
    # Told a second time from the lives: those that began by the day and failed in the window.
    lives = life_rows(fleet, "egr_valve").rows.filter(pl.col("ended") == "failed")
    first = lives.filter(pl.col("end_km") - pl.col("start_km") > 0).join(
        parts.select("vehicle_id", "exit_age"), left_on=["vehicle_id", "age_km"], right_on=["vehicle_id", "exit_age"]
    )
    assert first.height == failed.height


def test_what_was_foreseen_is_borne_out_where_the_life_is_what_it_was(tried: Backtest) -> None:
    for component in ("egr_valve", "wiring"):
        row = row_of(tried, component)
        assert row["calibration_low"] < 1 < row["calibration_high"], component  # type: ignore[operator]
        assert row["foreseen_low"] <= row["failures"] <= row["foreseen_high"], component  # type: ignore[operator]


def test_wear_out_can_be_ranked_and_chance_can_not(tried: Backtest) -> None:
    assert row_of(tried, "egr_valve")["concordance_low"] > 0.6  # type: ignore[operator]
    wiring = row_of(tried, "wiring")
    assert wiring["concordance_low"] < 0.5 < wiring["concordance_high"]  # type: ignore[operator]


def test_advice_that_pays_is_seen_to_pay_and_none_is_given_for_chance(tried: Backtest) -> None:
    valve, wiring = row_of(tried, "egr_valve"), row_of(tried, "wiring")
    assert valve["outcome"] == PAYS
    assert valve["money_saved_low"] > 0  # type: ignore[operator]
    assert (wiring["outcome"], wiring["acted"], wiring["money_saved"]) == (NO_SCHEDULE, 0, None)
    told = " ".join(tried.summary.notes)
    assert "following the advice would have saved" in told
    assert "no schedule was advised" in told
    assert tried.summary.cautions == CAUTIONS


def test_dear_cleanings_are_not_seen_to_pay(fleet: Snapshot) -> None:
    dear = Preferences(component={"egr_valve": ComponentPrices(clean=1_300.0, failure=1_500.0)})
    made = backtest(fleet, UNTIL, by=(), component="egr_valve", preferences=dear)
    assert row_of(made, "egr_valve")["outcome"] in (NO_SCHEDULE, CANT_TELL)


def test_fifths_add_up_to_the_whole(tried: Backtest) -> None:
    rows = tried.calibration.rows
    assert rows["fifth"].unique().sort().to_list() == [1, 2, 3, 4, 5]
    for component in ("egr_valve", "wiring"):
        own, row = rows.filter(pl.col("component") == component), row_of(tried, component)
        assert (own["parts"].sum(), own["failures"].sum()) == (row["parts"], row["failures"])
    valve = rows.filter(pl.col("component") == "egr_valve").sort("fifth")
    assert valve["foreseen"].to_list() == sorted(valve["foreseen"])
    assert valve["failures"][4] > valve["failures"][0]


def test_several_days_are_tried_each_on_its_own(fleet: Snapshot, tried: Backtest) -> None:
    both = backtest(fleet, [date(2022, 6, 30), UNTIL], by=(), preferences=PRICES)
    last = both.summary.rows.filter(pl.col("until") == UNTIL)
    assert last.equals(tried.summary.rows)
    assert both.summary.rows.height == 2 * last.height


def test_a_window_past_the_record_is_cut_and_that_is_said(fleet: Snapshot) -> None:
    made = backtest(fleet, date(2024, 6, 30), by=(), component="egr_valve", preferences=PRICES)
    end = made.summary.period.end
    assert made.summary.rows["window_to"].to_list() == [end]
    assert f"ends with the record on {end}" in made.summary.notes[0]


def test_filters_hold(fleet: Snapshot) -> None:
    with pytest.raises(FleetlensError, match="'B'"):
        backtest(fleet, UNTIL, filters=Filters(model=("B",)), preferences=PRICES)


@pytest.mark.parametrize(("day", "months"), [(date(2010, 1, 1), 12), (date(2030, 1, 1), 12), (UNTIL, 0), (UNTIL, 121)])
def test_what_can_not_be_tried_is_said(fleet: Snapshot, day: date, months: int) -> None:
    with pytest.raises(FleetlensError, match=r"outside the record|months"):
        backtest(fleet, day, months=months, preferences=PRICES)
