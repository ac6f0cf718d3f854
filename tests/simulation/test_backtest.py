"""Whether a back-test is right about lives that it could know: sixty fleets through tables, store and back-test."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from advice.known_fleet import Law, Truth, write_fleet

from fleetlens import load, open_store
from fleetlens.advice.backtesting.backtest import NO_SCHEDULE, backtest
from fleetlens.store.preferences import ComponentPrices, Preferences

pytestmark = pytest.mark.simulation
PRICES = Preferences(component={"egr_valve": ComponentPrices(clean=100.0, replace=400.0, failure=800.0)})
UNTIL = date(2022, 12, 31)


def test_calibration_is_one_and_its_limits_cover_it(tmp_path: Path) -> None:
    chance = np.random.default_rng(31)
    wearing = {
        f"W{number}": Truth(law := Law(chance.uniform(2, 4), chance.uniform(70_000, 130_000)), law, planned=0.1)
        for number in range(40)
    }
    constant = {f"C{number}": Truth(law := Law(1.0, chance.uniform(70_000, 130_000)), law) for number in range(20)}
    write_fleet(tmp_path, wearing | constant, vehicles=80, seed=32)
    assert load([tmp_path], tmp_path / "s").refused == 0
    with open_store(tmp_path / "s") as snapshot:
        made = backtest(snapshot, UNTIL, preferences=PRICES)
    rows = made.summary.rows
    observed = made.parts.rows["has_failed"].sum()
    expected = made.calibration.rows["foreseen"].sum()
    covered = rows.select((rows["calibration_low"] <= 1) & (rows["calibration_high"] >= 1)).to_series().mean()
    fell = rows.select(rows["failures"].is_between(rows["foreseen_low"], rows["foreseen_high"])).to_series().mean()
    wears = rows["model"].str.starts_with("W")
    paid = rows.filter(wears)["outcome"].value_counts(sort=True).rows()
    others = rows.filter(~wears)["outcome"].value_counts(sort=True).rows()
    print(  # noqa: T201
        f"\n| back-test, {rows.height} fleets of 80 vehicles | observed / expected {observed / expected:.3f}, its "
        f"limits hold 1 in {covered:.0%}; failures within the range foreseen in {fell:.0%}; outcomes of wearing parts "
        f"{paid}, of others {others} |"
    )
    assert 0.9 <= observed / expected <= 1.1
    assert covered >= 0.85
    assert fell >= 0.85
    assert (rows.filter(~wears)["outcome"] == NO_SCHEDULE).mean() >= 0.9
    assert rows.filter(wears)["money_saved"].drop_nulls().sum() > 0
