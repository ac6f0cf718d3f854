"""Whether the advice is as good as it says: hundreds of fleets with known lives, through tables, store and advice.

Each fleet is a model of one store. Each line printed stands in DEVELOPERS.md. The prices are 100 for a cleaning, 400
for a replacement and 800 for a failure.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from advice.known_fleet import Law, Truth, write_fleet

from fleetlens import cleaning_intervals, load, open_store
from fleetlens.advice.costs import Given
from fleetlens.advice.policies import policies
from fleetlens.reliability.cleaning_policy import Policy, Prices, best_policy, life, policy_rate
from fleetlens.reliability.renewal import cost_rate, optimal_age, run_to_failure_rate
from fleetlens.store.reader import Snapshot

pytestmark = pytest.mark.simulation
GIVEN = Given(clean=100.0, replace=400.0, failure=800.0)
WORTH, NOT_WORTH, NOT_ENOUGH = "worth it", "not worth it", "not enough evidence"


@contextmanager
def fleets(folder: Path, truths: dict[str, Truth], vehicles: int, seed: int) -> Iterator[Snapshot]:
    """A store with a model for each fleet."""
    write_fleet(folder, truths, vehicles, seed)
    assert load([folder], folder / "s").refused == 0
    with open_store(folder / "s") as snapshot:
        yield snapshot


def told(line: str) -> None:
    print(f"\n| {line} |")  # noqa: T201


def alike(law: Law) -> Truth:
    """Cleaned parts live as new ones do, as one interval for all takes it."""
    return Truth(law, law, mended=0.5, planned=0.2)


def drawn_laws(count: int, seed: int, shapes: tuple[float, float]) -> list[Law]:
    chance = np.random.default_rng(seed)
    return [Law(chance.uniform(*shapes), chance.uniform(70_000, 130_000)) for _ in range(count)]


def intervals(snapshot: Snapshot) -> pl.DataFrame:
    return cleaning_intervals(snapshot, "egr_valve", given=GIVEN).rows


@pytest.mark.parametrize(("vehicles", "most"), [(18, 0.0), (6, 0.02), (3, 0.03)])
def test_a_constant_hazard_never_yields_an_interval(vehicles: int, most: float, tmp_path: Path) -> None:
    """Lives of shape 1 in 500 fleets: with some 70 failures each none, with fewer as seldom as `most` says."""
    laws = drawn_laws(500, 1, (1.0, 1.0))
    truths = {f"F{at:03}": alike(law) for at, law in enumerate(laws)}
    with fleets(tmp_path, truths, vehicles, seed=2) as snapshot:
        rows = intervals(snapshot)
    failures = rows["failures"]
    share = (rows["verdict"] == WORTH).mean()
    told(
        f"constant hazard, {rows.height} fleets of {failures.min()} to {failures.max()} failures (median "
        f"{failures.median():.0f}): an interval for {(rows['verdict'] == WORTH).sum()}"
    )
    assert rows.height == 500
    assert share <= most


def test_a_constant_hazard_never_yields_a_policy(tmp_path: Path) -> None:
    """Nor though cleaned parts fail half as late as new ones."""
    laws = drawn_laws(500, 3, (1.0, 1.0))
    truths = {f"F{at:03}": Truth(law, Law(1.0, law.scale / 2), 0.5, 0.2) for at, law in enumerate(laws)}
    with fleets(tmp_path, truths, 18, seed=4) as snapshot:
        rows = policies(snapshot, "egr_valve", given=GIVEN).strata
    worth = (rows["verdict"] == WORTH).sum()
    told(f"constant hazard, cleaned parts failing twice as soon, {rows.height} fleets: a policy for {worth}")
    assert (rows.height, worth) == (500, 0)


def test_an_advised_interval_costs_next_to_the_optimum(tmp_path: Path) -> None:
    """With 50 failures or more: what the advised interval truly costs, over what the best one does."""
    laws = drawn_laws(500, 5, (1.7, 4.0))
    truths = {f"F{at:03}": alike(law) for at, law in enumerate(laws)}
    with fleets(tmp_path, truths, 26, seed=6) as snapshot:
        rows = intervals(snapshot).filter(pl.col("failures") >= 50)
    true = [laws[int(model[1:])] for model in rows["model"]]
    shape, scale = np.array([law.shape for law in true]), np.array([law.scale for law in true])
    least = cost_rate(optimal_age(shape, scale, 100, 800), shape, scale, 100, 800)
    advised = rows["interval_km"].is_not_null().to_numpy()
    ours = cost_rate(rows["interval_km"].fill_null(1.0).to_numpy(), shape, scale, 100, 800)
    loss = (ours / least - 1)[advised]
    told(
        f"wear-out (shape 1.7 to 4.0), {rows.height} fleets of {rows['failures'].min()} to {rows['failures'].max()} "
        f"failures: {advised.sum()} advised; true cost above the optimum: median {np.median(loss):.2%}, "
        f"within 1 % for {(loss <= 0.01).mean():.0%}, within 2 % for {(loss <= 0.02).mean():.0%}, "
        f"worst {loss.max():.1%}"
    )
    assert advised.mean() > 0.85
    assert np.median(loss) <= 0.01
    assert (loss <= 0.01).mean() >= 0.9
    # The limits that stand beside the saving hold the saving that the advised interval truly brings.
    saving = 1 - ours / run_to_failure_rate(shape, scale, 800)
    low, high = (rows[name].fill_null(np.nan).to_numpy() for name in ("saved_low", "saved_high"))
    held = ((low <= saving) & (saving <= high))[advised].mean()
    told(f"the same: 95 % limits of the saving hold the true saving in {held:.1%}")
    assert held >= 0.92


def test_an_advised_policy_costs_next_to_the_optimum(tmp_path: Path) -> None:
    """With 50 failures or more of either kind of life."""
    laws = drawn_laws(200, 7, (1.7, 4.0))
    chance = np.random.default_rng(8)
    truths = {
        f"F{at:03}": Truth(law, Law(chance.uniform(1.7, 3.0), law.scale * chance.uniform(0.5, 0.9)), 0.5, 0.3)
        for at, law in enumerate(laws)
    }
    with fleets(tmp_path, truths, 50, seed=9) as snapshot:
        rows = policies(snapshot, "egr_valve", given=GIVEN).strata
    rows = rows.filter((pl.col("new_failures") >= 50) & (pl.col("cleaned_failures") >= 50))
    advised = rows.filter(pl.col("verdict") == WORTH)
    loss = np.array([_loss(row, truths[row["model"]]) for row in advised.iter_rows(named=True)])
    told(
        f"policies, {rows.height} fleets with 50 failures or more of either kind of life: {advised.height} advised; "
        f"true cost above the optimum: median {np.median(loss):.2%}, within 1 % for {(loss <= 0.01).mean():.0%}, "
        f"within 2 % for {(loss <= 0.02).mean():.0%}, worst {loss.max():.1%}"
    )
    assert rows.height >= 100
    assert advised.height >= 0.85 * rows.height
    assert np.median(loss) <= 0.01
    assert (loss <= 0.01).mean() >= 0.9


def _loss(row: dict[str, Any], truth: Truth) -> float:
    new, cleaned = (life([law.shape], [law.scale]) for law in (truth.new, truth.cleaned))
    prices = Prices(row["clean"], row["replace"], row["failure"], row["last_failure"])
    asked = new, cleaned, prices
    least = min(
        policy_rate(best_policy(*asked, number, row["mended"]), *asked, row["mended"]).item()
        for number in (0, 1, 2, 3, 4, 5, 6, inf)
    )
    ages = (np.array([row[name] or inf]) for name in ("first_km", "after_km"))
    ours = Policy(*ages, inf if row["cleanings"] is None else row["cleanings"])
    return float(policy_rate(ours, *asked, row["mended"]).item() / least - 1)


@pytest.mark.parametrize(("vehicles", "worth"), [(1, 0.0), (4, 0.9), (8, 0.98)])
def test_not_enough_evidence_is_said_until_there_is(vehicles: int, worth: float, tmp_path: Path) -> None:
    """Wear-out (shape 2.5) that a schedule answers: with few failures undecided, never "not worth it" for want of data.

    `worth`: the least share of the fleets that is then advised.
    """
    truths = {f"F{at:03}": alike(law) for at, law in enumerate(drawn_laws(500, 10, (2.5, 2.5)))}
    with fleets(tmp_path, truths, vehicles, seed=11) as snapshot:
        rows = intervals(snapshot)
    words = {word: (rows["verdict"] == word).mean() for word in (WORTH, NOT_WORTH, NOT_ENOUGH)}
    failures = rows["failures"]
    told(
        f"wear-out (shape 2.5), {rows.height} fleets of {failures.min()} to {failures.max()} failures (median "
        f"{failures.median():.0f}): " + ", ".join(f"{word} {share:.1%}" for word, share in words.items())
    )
    few = rows.filter(pl.col("failures") < 6)
    assert (few["verdict"] == NOT_ENOUGH).all()
    assert words[NOT_WORTH] <= 0.02
    assert words[WORTH] >= worth
