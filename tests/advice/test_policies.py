"""Policies of cleanings on fleets whose lives are known, through the whole path from tables to advice."""

from collections.abc import Iterator
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from advice.known_fleet import BESIDE, CLEAN, REPLACE, Law, Truth, write_fleet

from fleetlens import Filters, FleetlensError, cleaning_intervals, load, open_store
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.policies import Policies, policies
from fleetlens.reliability.cleaning_policy import Policy, Prices, life, policy_rate
from fleetlens.store.preferences import ComponentPrices, Money, Preferences, Service
from fleetlens.store.reader import Snapshot

WEARING = Truth(Law(2.8, 110_000.0), Law(2.2, 70_000.0))
MODELS = {
    "constant": Truth(Law(1.0, 90_000.0), Law(1.0, 60_000.0)),
    "never cleaned": Truth(Law(2.8, 110_000.0), Law(2.2, 70_000.0), mended=0.0, planned=0.0),
    "wearing": WEARING,
}
Row = dict[str, Any]


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    folder, store = tmp_path_factory.mktemp("known"), tmp_path_factory.mktemp("store") / "s"
    write_fleet(folder, MODELS, vehicles=80)
    assert load([folder], store).refused == 0
    with open_store(store) as snapshot:
        yield snapshot


@pytest.fixture(scope="module")
def found(known: Snapshot) -> Policies:
    return policies(known, "egr_valve")


def row_of(found: Policies, model: str) -> Row:
    return found.strata.row(by_predicate=pl.col("model") == model, named=True)


def prices_of(row: Row) -> Prices:
    return Prices(row["clean"], row["replace"], row["failure"], row["last_failure"])


def lives_of(row: Row) -> tuple[Any, Any]:
    return tuple(life([row[f"{kind}_shape"]], [row[f"{kind}_scale"]]) for kind in ("new", "cleaned"))


def policy_of(row: Row) -> Policy:
    """The advised policy; never and no limit stand as null."""
    first, after = (np.array([row[name] or inf]) for name in ("first_km", "after_km"))
    return Policy(first, after, inf if row["cleanings"] is None else row["cleanings"])


def test_lives_after_a_cleaning_and_others_are_fitted_apart(found: Policies) -> None:
    row = row_of(found, "wearing")
    for kind, law in (("new", WEARING.new), ("cleaned", WEARING.cleaned)):
        for name, true in (("shape", law.shape), ("scale", law.scale)):
            error = np.sqrt(row[f"{kind}_var_log_{name}"])
            assert np.log(row[f"{kind}_{name}"]) == pytest.approx(np.log(true), abs=4 * error)
            assert error < 0.1
    assert row["lives"] == row["new_lives"] + row["cleaned_lives"]
    assert row["failures"] == row["new_failures"] + row["cleaned_failures"]


def test_prices_hours_and_remedies_are_learned(found: Policies) -> None:
    row = row_of(found, "wearing")
    assert (row["clean"], row["replace"], row["clean_hours"], row["replace_hours"]) == (CLEAN, REPLACE, 1.0, 4.0)
    assert row["last_failure"] == BESIDE + REPLACE
    share = row["mended"]  # of all models' failures: one third has none cleaned
    assert 0.25 < share < 0.45
    assert row["failure"] == pytest.approx(BESIDE + share * CLEAN + (1 - share) * REPLACE)


def test_the_cost_is_what_a_simulation_of_the_advised_policy_pays(found: Policies) -> None:
    """Part by part, remedy by remedy, from the fitted lives: the renewal-reward value, reached without it."""
    row = row_of(found, "wearing")
    chance = np.random.default_rng(3)
    parts = 40_000
    done, cost, km = np.zeros(parts), np.zeros(parts), np.zeros(parts)
    first, after = row["first_km"] or inf, row["after_km"] or inf
    limit = inf if row["cleanings"] is None else row["cleanings"]
    for number in range(100):
        fresh = done == 0
        lives = np.where(
            fresh,
            row["new_scale"] * chance.weibull(row["new_shape"], parts),
            row["cleaned_scale"] * chance.weibull(row["cleaned_shape"], parts),
        )
        planned = np.where(fresh, first, after)
        failed, last = lives < planned, done == limit
        cleaned = np.where(failed, (chance.random(parts) < row["mended"]) & ~last, ~last)
        if number >= 50:  # how often a part has been cleaned no longer depends on its start
            km += np.minimum(lives, planned)
            cost += np.where(failed, BESIDE, 0) + np.where(cleaned, CLEAN, REPLACE)
        done = np.where(cleaned, done + 1, 0)
    paid = cost.mean() / km.mean() * 1_000
    error = np.std(cost - paid / 1_000 * km) / np.sqrt(parts) / km.mean() * 1_000
    assert error < 0.002 * paid
    assert row["cost_per_1000km"] == pytest.approx(paid, abs=4 * error)


def test_no_other_policy_costs_less(found: Policies) -> None:
    row = row_of(found, "wearing")
    first, after = np.meshgrid(np.geomspace(10_000, 500_000, 40), np.geomspace(10_000, 500_000, 40))
    new, cleaned = (each.column() for each in lives_of(row))
    for cleanings in (0, 1, 2, 3, 4, 5, 6, inf):
        rates = policy_rate(Policy(first, after, cleanings), new, cleaned, prices_of(row), row["mended"])
        assert row["cost_per_1000km"] <= rates.min() * 1_000 * (1 + 1e-6)
        if cleanings == 0:
            assert row["cost_per_1000km_replace_only"] <= rates.min() * 1_000 * (1 + 1e-6)
        if cleanings == inf:
            assert row["cost_per_1000km_clean_only"] <= rates.min() * 1_000 * (1 + 1e-6)


def test_the_policy_costs_what_the_engine_says_and_saves_against_running_to_failure(found: Policies) -> None:
    row = row_of(found, "wearing")
    assert row["verdict"] == "worth it"
    rate = policy_rate(policy_of(row), *lives_of(row), prices_of(row), row["mended"])
    assert row["cost_per_1000km"] == pytest.approx(rate.item() * 1_000)
    assert row["saved_share"] == pytest.approx(1 - row["cost_per_1000km"] / row["cost_per_1000km_run_to_failure"])
    assert 0 < row["saved_low"] < row["saved_share"] < row["saved_high"]
    assert row["first_low"] < row["first_km"] < row["first_high"]
    told = next(note for note in found.finding.notes if "wearing" in note)
    assert row["policy"] in told
    assert "the cost stays within 2% of the least" in told
    assert "at services every 30,000 km" in told


def test_its_true_cost_is_next_to_the_true_optimum(found: Policies) -> None:
    row = row_of(found, "wearing")
    true = tuple(life([law.shape], [law.scale]) for law in (WEARING.new, WEARING.cleaned))
    first, after = np.meshgrid(np.geomspace(10_000, 500_000, 200), np.geomspace(10_000, 500_000, 200))
    columns = tuple(each.column() for each in true)
    best = min(
        policy_rate(Policy(first, after, number), *columns, prices_of(row), row["mended"]).min()
        for number in (0, 1, 2, 3, 4, 5, 6, inf)
    )
    ours = policy_rate(policy_of(row), *true, prices_of(row), row["mended"]).item()
    assert ours <= best * 1.01


def test_a_constant_hazard_gets_no_schedule_though_cleaned_parts_fail_sooner(found: Policies) -> None:
    row = row_of(found, "constant")
    assert row["verdict"] in ("not worth it", "not enough evidence")
    assert row["policy"] is row["cleanings"] is row["first_km"] is row["after_km"] is row["cost_per_1000km"] is None
    assert row["cost_per_1000km_run_to_failure"] > 0


def test_parts_that_were_never_cleaned_get_planned_replacements_and_it_says_why(found: Policies) -> None:
    row = row_of(found, "never cleaned")
    assert row["cleaned_lives"] == 0
    assert row["cleaned_shape"] is row["cleaned_scale"] is row["cost_per_1000km_clean_only"] is None
    assert (row["verdict"], row["cleanings"], row["after_km"]) == ("worth it", 0, None)
    assert row["policy"].startswith("replace at ")
    assert "only planned replacements are priced" in next(n for n in found.finding.notes if "never cleaned" in n)


@pytest.mark.parametrize(
    ("prices", "words"),
    [
        (ComponentPrices(clean=5_000.0, replace=6_000.0), "not worth it"),  # as dear as the failure
        (ComponentPrices(clean=60.0, replace=100.0), "worth it"),
    ],
)
def test_prices_decide(prices: ComponentPrices, words: str, known: Snapshot) -> None:
    preferences = Preferences(component={"egr_valve": prices})
    assert row_of(policies(known, "egr_valve", preferences=preferences), "wearing")["verdict"] == words


def test_given_prices_and_the_service_interval_are_named(known: Snapshot) -> None:
    preferences = Preferences(money=Money(currency="EUR"), service=Service(every_km=20_000.0))
    told = policies(known, "egr_valve", preferences=preferences, given=Given(replace=420.0)).finding
    assert "planned replacement 420.00 EUR as asked" in " ".join(told.assumed)
    assert "Services are taken every 20,000 km (every_km of [service])." in told.assumed
    found = next(note for note in told.notes if "wearing" in note)
    assert "at services every 20,000 km: clean at " in found


def test_the_same_record_gives_the_same_limits(known: Snapshot, found: Policies) -> None:
    assert policies(known, "egr_valve").strata.equals(found.strata)
    alone = policies(known, "egr_valve", filters=Filters(model=("wearing",))).strata
    names = ["new_shape", "cleaned_scale"]
    assert alone.select(names).row(0) == pytest.approx(found.strata.filter(model="wearing").select(names).row(0))


def test_cautions_stand_with_it(found: Policies) -> None:
    assert found.finding.cautions == CAUTIONS


def test_by_what_it_can_not_be_split(known: Snapshot) -> None:
    with pytest.raises(FleetlensError, match="began_as"):
        policies(known, "egr_valve", by=("began_as",))


def test_few_failures_are_not_enough(tmp_path: Path) -> None:
    write_fleet(tmp_path, {"wearing": WEARING}, vehicles=3)
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        (row,) = policies(snapshot, "egr_valve").strata.rows(named=True)
    assert row["verdict"] == "not enough evidence"
    assert "failures" in row["why"]
    assert row["policy"] is None


def test_parts_begun_by_a_repair_count_with_new_ones(tmp_path: Path) -> None:
    write_fleet(tmp_path, {"wearing": WEARING}, vehicles=20)
    actions = pl.read_csv(tmp_path / "job_actions.csv")
    actions.with_columns(action=pl.col("action").replace("replace", "repair")).write_csv(tmp_path / "job_actions.csv")
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        told = policies(snapshot, "egr_valve", given=Given(replace=400.0))
    (row,) = told.strata.rows(named=True)
    assert row["new_lives"] > 20
    repaired = row["new_lives"] - 20
    assert (
        f"{repaired:,} of {row['lives']:,} lives began with a repair and count with new parts." in told.finding.assumed
    )


def test_lives_that_one_weibull_does_not_describe_are_said(known: Snapshot, found: Policies, tmp_path: Path) -> None:
    """Half the vehicles foul within 40,000 km and half run 200,000: together they are no Weibull."""
    early, late = (Law(4.0, scale) for scale in (40_000.0, 200_000.0))
    write_fleet(tmp_path, {"early": Truth(early, early), "late": Truth(late, late)}, vehicles=60)
    vehicles = pl.read_csv(tmp_path / "vehicles.csv")
    vehicles.with_columns(model=pl.lit("mixed")).write_csv(tmp_path / "vehicles.csv")
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        (note,) = policies(snapshot, "egr_valve").finding.notes
        (of_one,) = cleaning_intervals(snapshot, "egr_valve").notes
        chosen = choose(snapshot, "early-0", "egr_valve").notes
    for told in (note, of_one, *(line for line in chosen if line.startswith("Of the lives"))):
        assert "one Weibull doesn't describe these lives (p = " in told
    assert sum(line.startswith("Of the lives") for line in chosen) == 1
    assert not any("describe" in told for told in found.finding.notes)
    assert not any("describe" in told for told in cleaning_intervals(known, "egr_valve").notes if "constant" in told)
