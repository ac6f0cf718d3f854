"""Clean or replace on fleets whose lives are known: against simulation, at its flip price, and where it can't tell."""

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from advice.known_fleet import CLEAN, HORIZON_KM, PART, REPLACE, Law, Truth, write_fleet
from findings.direct import snapshot_of

from fleetlens import FleetlensError, comebacks, load, open_store
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.policies import policies
from fleetlens.findings.finding import Finding
from fleetlens.store.preferences import ComponentPrices, Money, Planning, Preferences
from fleetlens.store.reader import Snapshot

TRUTHS = {"A": Truth(Law(2.8, 110_000.0), Law(2.2, 70_000.0)), "B": Truth(Law(2.8, 110_000.0), Law(2.2, 70_000.0))}
Row = dict[str, Any]


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    folder = tmp_path_factory.mktemp("choose")
    write_fleet(folder, {"A": TRUTHS["A"]}, vehicles=60)
    load([folder], folder / "s")
    with open_store(folder / "s") as snapshot:
        yield snapshot


def asked(snapshot: Snapshot, vehicle: str = "A-0", **choices: Any) -> Finding:
    return choose(snapshot, vehicle, "egr_valve", **choices)


def of(told: Finding, option: str) -> Row:
    return told.rows.row(by_predicate=pl.col("option") == option, named=True)


def began(snapshot: Snapshot, kind: str) -> tuple[str, float]:
    """The vehicle whose running part began so longest ago, and the age of the part."""
    kept: dict[str, Any] = {"components": ["egr_valve"], "models": None, "duties": None, "depots": None}
    rows = snapshot.frame("findings/running_parts", **kept).with_columns(age=pl.col("now_km") - pl.col("start_km"))
    row = rows.filter(pl.col("began_as") == kind).sort("age").row(-1, named=True)
    return row["vehicle_id"], row["age"]


@pytest.mark.parametrize("kind", ["cleaned", "replaced"])
def test_failures_and_cost_are_what_a_simulation_counts(kind: str, known: Snapshot) -> None:
    """From the fitted lives, part by part, with the remedy drawn at each failure."""
    vehicle, age = began(known, kind)
    (fit,) = policies(known, "egr_valve").strata.rows(named=True)
    told = asked(known, vehicle, horizon_km=150_000)
    laws = {name: (fit[f"{name}_shape"], fit[f"{name}_scale"]) for name in ("new", "cleaned")}
    starts = {
        "leave": (laws["cleaned" if kind == "cleaned" else "new"], age),
        "clean": (laws["cleaned"], 0.0),
        "replace": (laws["new"], 0.0),
    }
    chance, parts = np.random.default_rng(1), 40_000
    for option, ((shape, scale), at) in starts.items():
        km = scale * ((at / scale) ** shape + chance.exponential(size=parts)) ** (1 / shape) - at
        failures = np.zeros(parts)
        soon = (km <= 10_000).mean()
        while (km <= 150_000).any():
            failures += km <= 150_000
            cleaned = chance.random(parts) < fit["mended"]
            km = km + np.where(
                cleaned,
                laws["cleaned"][1] * chance.weibull(laws["cleaned"][0], parts),
                laws["new"][1] * chance.weibull(laws["new"][0], parts),
            )
        error = failures.std() / np.sqrt(parts)
        row = of(told, option)
        assert row["expected_failures"] == pytest.approx(failures.mean(), abs=4 * error + 0.002)
        assert row["soon_share"] == pytest.approx(soon, abs=4 * np.sqrt(soon * (1 - soon) / parts) + 1e-4)
        assert row["expected_cost"] == pytest.approx(row["price_now"] + row["expected_failures"] * fit["failure"])
        for figure in ("expected_cost", "expected_failures"):
            assert row[f"{figure}_low"] < row[figure] < row[f"{figure}_high"]
        assert row["soon_low"] < row["soon_share"] < row["soon_high"]


def test_prices_and_hours_are_those_of_the_fleet(known: Snapshot) -> None:
    told = asked(known)
    assert told.rows.select("option", "price_now", "work_h").rows() == [
        *(("leave", 0.0, 0.0), ("clean", CLEAN, 1.0), ("replace", REPLACE, 4.0))
    ]
    back = {row["action"]: row for row in comebacks(known, "egr_valve").rows.iter_rows(named=True)}
    for option in ("clean", "replace"):
        names = zip(("comeback_share", "comeback_low", "comeback_high"), ("", "_low", "_high"), strict=True)
        for ours, theirs in names:
            assert of(told, option)[ours] == back[option][f"share_90d{theirs}"]
    assert of(told, "leave")["comeback_share"] is None


@pytest.mark.parametrize("option", ["clean", "replace"])
def test_at_its_flip_price_an_option_costs_as_much_as_the_cheapest_other(option: str, known: Snapshot) -> None:
    vehicle, _ = began(known, "cleaned")
    prices = {"clean": 100.0, "replace": 4_000.0, "failure": 6_000.0}
    flip = of(asked(known, vehicle, given=Given(**prices)), option)["flip_price"]
    assert flip > 0
    told = asked(known, vehicle, given=Given(**prices | {option: flip})).rows
    costs = dict(told.select("option", "expected_cost").rows())
    mine = costs.pop(option)
    assert mine == pytest.approx(min(costs.values()))
    assert of(asked(known, vehicle), "leave")["flip_price"] is None


def test_what_is_ruled_out_is_no_option(known: Snapshot) -> None:
    told = asked(known, rule_out=("leave", "clean"))
    assert told.rows["option"].to_list() == ["replace"]
    assert told.notes[0] == "Nothing to choose between: only replace is left."
    assert not any("clean costs least" in note for note in told.notes)
    for wrong, words in ((("remove",), "can't be ruled out"), (("leave", "clean", "replace"), "every option")):
        with pytest.raises(FleetlensError, match=words):
            asked(known, rule_out=wrong)


def test_the_verdict_says_so_only_where_the_draws_agree(known: Snapshot) -> None:
    vehicle, _ = began(known, "cleaned")
    clear = asked(known, vehicle, rule_out=("leave",), given=Given(clean=10.0, replace=5_000.0))
    assert clear.notes[0].startswith("Verdict: clean; ")
    turns = of(clear, "replace")["flip_price"]
    close = asked(known, vehicle, rule_out=("leave",), given=Given(clean=10.0, replace=turns + 1))
    assert close.notes[0].startswith("Verdict: can't tell; ")
    dear = asked(known, vehicle, rule_out=("leave",), given=Given(clean=turns + 4_000, replace=10.0))
    assert dear.notes[0].startswith("Verdict: replace; ")


def test_the_warranty_gives_back_the_part(known: Snapshot) -> None:
    (fit,) = policies(known, "egr_valve").strata.rows(named=True)
    terms = Preferences(component={"egr_valve": ComponentPrices(warranty_km=60_000.0, warranty_months=240)})
    told = asked(known, preferences=terms)
    fails = 1 - np.exp(-((60_000 / fit["new_scale"]) ** fit["new_shape"]))
    assert of(told, "replace")["warranty_credit"] == pytest.approx(PART * fails)
    without = of(asked(known), "replace")
    assert without["warranty_credit"] is None
    assert of(told, "replace")["expected_cost"] == pytest.approx(without["expected_cost"] - PART * fails)
    assert any("fails within 60,000 km" in line and "300.00" in line for line in told.assumed)


def test_months_of_warranty_are_km_at_the_pace_of_the_vehicle(known: Snapshot) -> None:
    terms = Preferences(component={"egr_valve": ComponentPrices(warranty_months=12)})
    told = " ".join(asked(known, preferences=terms).assumed)
    reach = re.search(r"fails within ([\d,]+) km \(its warranty", told)
    assert reach is not None
    assert float(reach[1].replace(",", "")) == pytest.approx(50_000, rel=0.1)  # a year of this fleet


def test_the_horizon_is_the_preferred_one_unless_asked_and_longer_costs_more(known: Snapshot) -> None:
    preferred = Preferences(plan=Planning(horizon_km=50_000.0))
    short = asked(known, preferences=preferred)
    assert "The vehicle runs 50,000 km more (horizon_km of [plan])." in short.assumed
    long = asked(known, preferences=preferred, horizon_km=200_000)
    assert "The vehicle runs 200,000 km more, as asked." in long.assumed
    assert (long.rows["expected_cost"] > short.rows["expected_cost"]).all()
    with pytest.raises(FleetlensError, match="horizon"):
        asked(known, horizon_km=0)


def test_the_age_of_the_part_is_told(known: Snapshot) -> None:
    vehicle, age = began(known, "cleaned")
    told = next(note for note in asked(known, vehicle).notes if note.startswith("The part began as cleaned"))
    assert f"is {age:,.0f} km old at {HORIZON_KM:,.0f} km on " in told
    assert "since it was new" in told


def test_cautions_and_deference_stand_with_it(known: Snapshot) -> None:
    told = asked(known)
    assert told.cautions == CAUTIONS
    assert any("the maker's procedure" in note for note in told.notes)


def test_amounts_have_their_currency(known: Snapshot) -> None:
    told = asked(known, preferences=Preferences(money=Money(currency="EUR")))
    assert "100.00 EUR" in " ".join(told.notes)


@pytest.mark.parametrize(
    ("vehicle", "component", "position", "words"),
    [
        ("A-999", "egr_valve", None, "no vehicle is called"),
        ("A-0", "turbo", None, "one of: egr_valve"),
        ("A-0", "egr_valve", "left", "name a position"),
    ],
)
def test_what_is_not_there_is_said_with_what_is(
    vehicle: str, component: str, position: str | None, words: str, known: Snapshot
) -> None:
    with pytest.raises(FleetlensError, match=words):
        choose(known, vehicle, component, position)


def test_a_group_with_few_failures_takes_the_lives_of_all_vehicles(tmp_path: Path) -> None:
    write_fleet(tmp_path, TRUTHS, vehicles=30)
    vehicles = pl.read_csv(tmp_path / "vehicles.csv")
    few = pl.when(pl.col("vehicle_id") == "B-0").then(pl.lit("B")).otherwise(pl.lit("A"))
    vehicles.with_columns(model=few).write_csv(tmp_path / "vehicles.csv")
    load([tmp_path], tmp_path / "s")
    with open_store(tmp_path / "s") as snapshot:
        told = asked(snapshot, "B-0")
        everyone = asked(snapshot, "B-0", by=())
        own = asked(snapshot, "A-1")
    assert told.rows.equals(everyone.rows)
    assert told.assumed[0].startswith("Lives of all vehicles are taken: fewer than 6 new")
    assert own.assumed[0] == "Lives of A are taken."


VAN = {"vehicle_id": "V1", "model": "A", "in_service_on": date(2024, 1, 1), "in_service_km": 0.0}


def one_van(component: str, positions: tuple[str, ...] = ("",), **more: Any) -> Snapshot:
    """A van on which each part was replaced once after a failure, and cleaned once since."""
    jobs, actions = [], []
    for number, (action, reason) in enumerate((("replace", "breakdown"), ("clean", "scheduled"))):
        job_id = f"J{number}"
        jobs.append(
            {
                "job_id": job_id,
                "vehicle_id": "V1",
                "opened_at": date(2024, 3 + number, 1),
                "odometer_km": 20_000.0 * (number + 1),
                "reason": reason,
            }
        )
        actions += [
            {"job_id": job_id, "component": component, "action": action, "position": place, "labour_cost": 90.0}
            for place in positions
        ]
    return snapshot_of([VAN | more], jobs, actions=actions)


def test_too_few_failures_can_not_tell_and_nothing_is_priced() -> None:
    with one_van("egr_cooler") as snapshot:
        told = choose(snapshot, "V1", "egr_cooler")
    assert told.notes[0].startswith("Can't tell: leave: ")
    assert "1 new parts have failed, too few to fit their life" in told.notes[0]
    assert told.rows["expected_cost"].to_list() == [None, None, None]
    assert told.rows["price_now"].to_list() == [0.0, 90.0, 90.0]


def test_a_leaking_cooler_is_never_cleaned_back_whatever_the_figures_say() -> None:
    with one_van("egr_cooler") as cooler, one_van("egr_valve") as valve:
        assert any(
            "leaks is replaced and never cleaned back" in note for note in choose(cooler, "V1", "egr_cooler").notes
        )
        assert not any("leaks" in note for note in choose(valve, "V1", "egr_valve").notes)
    assert any("fails again after a cleaning" in note for note in choose_notes("egr_valve"))


def choose_notes(component: str) -> tuple[str, ...]:
    with one_van(component) as snapshot:
        return choose(snapshot, "V1", component).notes


def test_one_of_several_parts_must_be_named() -> None:
    with one_van("injector", ("1", "2")) as snapshot:
        with pytest.raises(FleetlensError, match="'1', '2'"):
            choose(snapshot, "V1", "injector")
        assert choose(snapshot, "V1", "injector", " 2 ").question == "clean or replace: injector (2) on vehicle V1"


def test_no_option_is_ever_a_removal(known: Snapshot) -> None:
    told = asked(known)
    assert set(told.rows["option"]) == {"leave", "clean", "replace"}
    assert not any(word in " ".join(told.notes).lower() for word in ("remove", "blank", "map out", "disable"))
