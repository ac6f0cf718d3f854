"""What a part costs up to a horizon: against simulation, against closed forms, and its edges."""

from dataclasses import replace

import numpy as np
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.reliability.cleaning_policy import life
from fleetlens.reliability.horizon import Follow, outlook, outlooks

NEW, CLEANED = life([2.6], [90_000.0]), life([1.9], [60_000.0])


def simulated(follow: Follow, age: float, parts: int = 60_000) -> tuple[float, float, float]:
    """Mean failures and planned cleanings up to the horizon, and the standard error of the failures."""
    chance = np.random.default_rng(4)
    at = np.zeros(parts)
    # The present part: new, already at `age`, so its life is drawn beyond it.
    rest = 90_000 * ((age / 90_000) ** 2.6 + chance.exponential(size=parts)) ** (1 / 2.6) - age
    planned = np.full(parts, np.inf)
    failures, cleanings = np.zeros(parts), np.zeros(parts)
    for _ in range(60):
        failed = rest <= planned
        at += np.minimum(rest, planned)
        inside = at <= follow.horizon
        failures += inside & failed
        cleanings += inside & ~failed
        cleaned = np.where(failed, chance.random(parts) < follow.mended, True)
        rest = np.where(cleaned, 60_000 * chance.weibull(1.9, parts), 90_000 * chance.weibull(2.6, parts))
        planned = np.where(cleaned, follow.after, follow.first)
    assert (at > follow.horizon).all()
    return failures.mean(), cleanings.mean(), failures.std() / np.sqrt(parts)


@pytest.mark.parametrize(
    ("follow", "age"),
    [
        (Follow(200_000, 1_100, 180, mended=0.0), 0.0),
        (Follow(200_000, 1_100, 180, mended=0.4), 55_000.0),
        (Follow(200_000, 1_100, 180, mended=0.4, first=60_000, after=35_000), 20_000.0),
    ],
)
def test_it_is_what_a_simulation_counts(follow: Follow, age: float) -> None:
    failures, cleanings, error = simulated(follow, age, 200_000)
    ours = outlook(NEW, age, NEW, CLEANED, follow)
    assert ours.failures[0] == pytest.approx(failures, abs=4 * error + 0.002)
    assert ours.cleanings[0] == pytest.approx(cleanings, abs=0.01)
    assert ours.cost[0] == pytest.approx(1_100 * ours.failures[0] + 180 * ours.cleanings[0], rel=1e-12)


def test_a_constant_hazard_fails_in_proportion_to_distance() -> None:
    """Poisson process: expected failures are distance over mean life (exponential lives, any textbook of renewal)."""
    constant = life([1.0, 1.0], [30_000.0, 80_000.0])
    ours = outlook(constant, 12_345.0, constant, constant, Follow(120_000, 500, 100, mended=0.3))
    assert ours.failures == pytest.approx([4.0, 1.5], rel=1e-4)


def test_wearing_parts_keep_within_the_bounds_of_their_renewals() -> None:
    """t / mean - 1 <= m(t) <= t / mean, and m(t) <= -ln R(t), for parts that wear out and are renewed as new.

    Barlow & Proschan 1965, Mathematical Theory of Reliability, chapter 3 (from memory).
    """
    for shape in (1.2, 2.0, 4.0):
        wearing = life([shape], [50_000.0])
        mean = float(wearing.mean_age(np.array([np.inf]))[0])
        for horizon in (10_000.0, 60_000.0, 250_000.0):
            m = float(outlook(wearing, 0.0, wearing, wearing, Follow(horizon, 1, 1)).failures[0])
            assert horizon / mean - 1 <= m <= (horizon / 50_000) ** shape * (1 + 1e-6)
            assert m <= horizon / mean


def test_an_older_part_fails_sooner_and_a_longer_way_costs_more() -> None:
    follow = Follow(80_000, 1_100, 180, mended=0.2)
    costs = [float(outlook(NEW, age, NEW, CLEANED, follow).cost[0]) for age in (0, 30_000, 60_000, 90_000)]
    assert costs == sorted(costs)
    ways = [
        float(outlook(NEW, 0, NEW, CLEANED, replace(follow, horizon=way)).cost[0]) for way in (20_000, 50_000, 100_000)
    ]
    assert ways == sorted(ways)


def test_the_unit_of_distance_does_not_matter() -> None:
    ours = outlook(NEW, 20_000, NEW, CLEANED, Follow(150_000, 900, 200, 0.3, 60_000, 40_000))
    short = (life(each.shape, each.scale / 1_000) for each in (NEW, NEW, CLEANED))
    present, new, cleaned = short
    theirs = outlook(present, 20, new, cleaned, Follow(150, 900, 200, 0.3, 60, 40))
    assert theirs.cost == pytest.approx(ours.cost, rel=1e-9)


@pytest.mark.parametrize(
    ("age", "horizon", "mended"), [(-1, 1, 0), (float("inf"), 1, 0), (0, 0, 0), (0, float("inf"), 0), (0, 1, 1.5)]
)
def test_what_can_not_be_is_refused(age: float, horizon: float, mended: float) -> None:
    with pytest.raises(FleetlensError):
        outlook(NEW, age, NEW, CLEANED, Follow(horizon, 1, 1, mended))


def test_several_parts_at_once_are_what_each_is_alone() -> None:
    follow = Follow(150_000, 900, 200, 0.3, 60_000, 40_000)
    parts = [(NEW, 0.0), (NEW, 70_000.0), (CLEANED, 15_000.0)]
    for (present, age), ours in zip(parts, outlooks(parts, NEW, CLEANED, follow), strict=True):
        alone = outlook(present, age, NEW, CLEANED, follow)
        assert (ours.failures[0], ours.cleanings[0], ours.cost[0]) == (
            alone.failures[0],
            alone.cleanings[0],
            alone.cost[0],
        )


def test_a_part_far_beyond_its_life_fails_at_once() -> None:
    follow = Follow(30_000, 1_000, 100)
    old, fresh = outlook(NEW, 5_000_000.0, NEW, CLEANED, follow), outlook(NEW, 0.0, NEW, CLEANED, follow)
    assert old.failures[0] == pytest.approx(1 + fresh.failures[0], rel=2e-2)
