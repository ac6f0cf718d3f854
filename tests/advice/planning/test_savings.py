"""What acting in a week saves: 0 gain at the best age, equal to what a simulation pays, and honest draws."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from advice.planning.by_hand import CLEANED, NEW, PRICES, parts, rates, strata

from fleetlens.advice.planning.candidates import candidates
from fleetlens.advice.planning.savings import drawn_savings, savings
from fleetlens.advice.planning.weeks import Week, weeks
from fleetlens.advice.planning.worth import ahead, relative_values
from fleetlens.reliability.cleaning_policy import life
from fleetlens.store.preferences import Service, Workshop

FIRST = date(2026, 7, 6)


def rows_of(
    table: pl.DataFrame, over: tuple[Week, ...], cleanings: float = np.inf, mended: float = 0.3
) -> pl.DataFrame:
    return candidates(table, strata(cleanings, mended), rates(), over, Service()).rows


@pytest.mark.parametrize("cleanings", [0, np.inf])
def test_the_best_week_is_the_one_in_which_the_part_is_due(cleanings: float) -> None:
    over = weeks(FIRST, 52, Workshop())
    due = strata(cleanings).rows["first_km"][0]
    middle = over[20].monday + timedelta(days=3)
    start = due - (middle - date(2026, 6, 30)).days * 200.0
    rows = rows_of(parts({"now_km": start, "km_per_day": 200.0}), over, cleanings)
    assert savings(rows, over, 0.0)[0].argmax() == 20


def test_a_part_just_renewed_is_better_left() -> None:
    over = weeks(FIRST, 8, Workshop())
    rows = rows_of(parts({"now_km": 200.0}), over)
    assert (savings(rows, over, 0.0) < 0).all()


@pytest.mark.parametrize(
    ("cleanings", "mended", "began_as", "done"),
    [
        (0, 0.0, "new", 0),
        (np.inf, 0.3, "new", 0),
        (np.inf, 0.3, "cleaned", 1),
        (2, 0.3, "new", 0),
        (2, 0.3, "cleaned", 2),
    ],
)
def test_a_saving_is_what_two_simulated_fleets_pay_differently(
    cleanings: float, mended: float, began_as: str, done: int
) -> None:
    """One fleet acts in the fourth week, the other at the service after the plan; then both keep the policy."""
    over = weeks(FIRST, 8, Workshop())
    age = 70_000.0
    rows = rows_of(
        parts({"now_km": age, "km_per_day": 900.0, "began_as": began_as, "cleanings": done}), over, cleanings, mended
    )
    assert rows["action"][0] == ("replace" if done >= cleanings else "clean")
    told = savings(rows, over, 0.0)[0, 3]
    then = age + 900.0 * (over[3].monday + timedelta(days=3) - date(2026, 6, 30)).days
    later = rows["later_age"][0]
    assert rows["due_in_plan"][0]
    row = rows.row(0, named=True)
    paid = [simulated(row, at - age, cleanings, mended) for at in (then, later)]
    difference, error = paid[1] - paid[0], float(np.std(paid[1] - paid[0]) / np.sqrt(len(paid[0])))
    assert told == pytest.approx(difference.mean(), abs=4 * error)
    assert error < 6, "the simulation is sharp enough to see a wrong term"


def simulated(row: dict[str, object], first: float, cleanings: float, mended: float) -> np.ndarray:
    """Cost less g for each km of parts that act after `first` km, then keep the policy, until each is new again."""
    chance = np.random.default_rng(11)
    parts_ = 60_000
    g = float(row["cost_per_1000km"]) / 1_000  # type: ignore[arg-type]
    shape, scale, age = (float(row[name]) for name in ("shape", "scale", "age_km"))  # type: ignore[arg-type]
    rest = scale * ((age / scale) ** shape + chance.exponential(size=parts_)) ** (1 / shape) - age
    planned = np.full(parts_, first)
    done = np.full(parts_, int(row["cleanings"]))  # type: ignore[call-overload]
    total, going = np.zeros(parts_), np.full(parts_, True)
    for _ in range(400):
        failed, last = rest < planned, done >= cleanings
        failing = np.where(last, PRICES.at_last, PRICES.failure)
        cost = np.where(failed, failing, np.where(last, PRICES.replace, PRICES.clean))
        total += going * (cost - g * np.minimum(rest, planned))
        cleaned = np.where(failed, (chance.random(parts_) < mended) & ~last, ~last)
        going &= cleaned
        done = done + 1
        rest = CLEANED[1] * chance.weibull(CLEANED[0], parts_)
        planned = np.full(parts_, np.inf if row["after_km"] is None else float(row["after_km"]))  # type: ignore[arg-type]
    assert not going.any()
    return total


def test_a_cleaned_part_is_no_better_than_a_new_one_where_it_lives_shorter() -> None:
    over = weeks(FIRST, 8, Workshop())
    assert relative_values(rows_of(parts({}), over))[0] > 0


def test_draws_lie_around_the_estimate_and_are_shared_by_parts_of_one_fit() -> None:
    over = weeks(FIRST, 8, Workshop())
    rows = rows_of(parts({"now_km": 80_000.0}, {"now_km": 80_000.0}, {"now_km": 82_000.0}), over)
    told = savings(rows, over, 0.0)[:, 2]
    drawn = drawn_savings(rows, over, np.full(3, 2), 0.0)
    assert (drawn[:, 0] == drawn[:, 1]).all()
    low, high = np.quantile(drawn, [0.025, 0.975], axis=0)
    assert ((low < told) & (told < high)).all()
    assert np.corrcoef(drawn[:, 0], drawn[:, 2])[0, 1] > 0.99


def test_a_part_due_after_the_plan_may_wait_for_a_visit_of_its_own() -> None:
    """Riding along early spares that visit; where it is free, waiting until due is always as good or better."""
    over = weeks(FIRST, 8, Workshop())
    due = float(strata().rows["first_km"][0])
    rows = rows_of(parts({"now_km": due - 9_000.0}), over)
    assert not rows["due_in_plan"][0]
    free, dear = savings(rows, over, 0.0)[0], savings(rows, over, 100.0)[0]
    assert (free <= 0).all()
    new = life(*NEW)
    alive = float(new.survival(np.array(due)) / new.survival(np.array(due - 9_000.0)))
    assert (dear - free <= 100 * alive + 1e-9).all()
    assert (dear > free).all()


def test_a_part_due_within_the_plan_is_not_put_off_to_another_plan() -> None:
    over = weeks(FIRST, 8, Workshop())
    due = float(strata().rows["first_km"][0])
    rows = rows_of(parts({"now_km": due - 4_000.0}), over)
    assert rows["due_in_plan"][0]
    assert savings(rows, over, 0.0)[0].max() > 0


def test_nothing_lies_ahead_of_a_new_part_and_of_a_cleaned_one_what_a_cleaning_leaves() -> None:
    rows = rows_of(parts({}), weeks(FIRST, 8, Workshop()))
    assert ahead(rows, [0.0], [False])[0] == pytest.approx(0, abs=1e-4)
    assert ahead(rows, [0.0], [True])[0] == pytest.approx(relative_values(rows)[0], abs=1e-4)


def test_more_lies_ahead_of_an_older_part_up_to_the_age_of_its_policy() -> None:
    rows = rows_of(parts(*[{}] * 6), weeks(FIRST, 8, Workshop()))
    due = float(rows["due_age"][0])
    told = ahead(rows, [0.0, 0.3 * due, 0.6 * due, 0.9 * due, due, 2 * due], [False] * 6)
    assert (np.diff(told[:5]) > 0).all()
    assert told[5] == pytest.approx(told[4]), "past that age it is done now, whatever its age"
    assert told[4] == pytest.approx(PRICES.clean + relative_values(rows)[0])
