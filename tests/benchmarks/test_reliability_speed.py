"""How much faster than a loop over lifelines: ratios taken in one run, with their spread.

Seconds differ between machines and hours; ratios differ less. The loop is timed on some of the groups and scaled up.
Budgets are set well below what was measured, so that only a change of kind breaks them.
"""

import statistics
import time
import warnings
from collections.abc import Callable

import numpy as np
import pytest
from lifelines import KaplanMeierFitter, WeibullFitter

from fleetlens.reliability.comparison import log_rank
from fleetlens.reliability.competing import cumulative_incidence
from fleetlens.reliability.recurrence import mean_cumulative
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.reliability.weibull import fit

pytestmark = pytest.mark.benchmark
GROUPS, LIVES = 500, 2_000


def seconds(work: Callable[[], object], repeats: int = 5) -> list[float]:
    """Times of repeated runs, sorted."""
    found = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        found.append(time.perf_counter() - begun)
    return sorted(found)


def report(name: str, ours: list[float], theirs: list[float], scale: float = 1.0) -> float:
    """Print and hand back the ratio of the medians; the spread is that of the extremes."""
    ratio = scale * statistics.median(theirs) / statistics.median(ours)
    least, most = scale * theirs[0] / ours[-1], scale * theirs[-1] / ours[0]
    print(f"\n{name}: {statistics.median(ours):.3f} s, {ratio:.0f} times faster ({least:.0f} to {most:.0f})")  # noqa: T201
    return ratio


@pytest.fixture(scope="module")
def lives() -> dict[str, np.ndarray]:
    """A million lives in whole km, half of them with late entry, in 500 groups."""
    chance = np.random.default_rng(1)
    group = np.repeat(np.arange(GROUPS), LIVES)
    entry = np.floor(chance.uniform(0, 40_000, len(group))) * (chance.random(len(group)) < 0.5)
    # Survived to entry, as a life that was seen at all has.
    life = np.ceil(90_000 * ((entry / 90_000) ** 2 + chance.exponential(size=len(group))) ** 0.5) + 1
    end = np.minimum(life, entry + np.ceil(chance.uniform(1, 120_000, len(group))))
    return {"end": end, "failed": end == life, "entry": entry, "group": group}


def loop(work: Callable[..., object], lives: dict[str, np.ndarray], groups: int) -> list[float]:
    """lifelines on the first `groups` groups, one at a time."""

    def run() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its own advice on convergence is no matter of ours
            for number in range(groups):
                mine = slice(number * LIVES, (number + 1) * LIVES)
                work(lives["end"][mine], lives["failed"][mine], entry=lives["entry"][mine])

    return seconds(run, repeats=2)


def test_one_survival_curve(lives) -> None:
    ours = seconds(lambda: kaplan_meier(lives["end"], lives["failed"], lives["entry"]))
    theirs = seconds(lambda: KaplanMeierFitter().fit(lives["end"], lives["failed"], entry=lives["entry"]), repeats=2)
    assert report("Kaplan-Meier, late entry, one curve of 1,000,000 lives", ours, theirs) > 3


def test_many_survival_curves(lives) -> None:
    ours = seconds(lambda: kaplan_meier(lives["end"], lives["failed"], lives["entry"], lives["group"]))
    theirs = loop(lambda *a, **k: KaplanMeierFitter().fit(*a, **k).confidence_interval_, lives, 50)
    assert report("Kaplan-Meier with limits, 500 x 2,000", ours, theirs, GROUPS / 50) > 15


def test_weibull_fits(lives) -> None:
    ours = seconds(lambda: fit(lives["end"], lives["failed"], lives["entry"], group=lives["group"]))
    theirs = loop(WeibullFitter().fit, lives, 10)
    assert report("Weibull with profile limits, late entry, 500 x 2,000", ours, theirs, GROUPS / 10) > 150


def test_weibull_fits_right_censored(lives) -> None:
    ours = seconds(lambda: fit(lives["end"], lives["failed"], group=lives["group"]))
    theirs = loop(lambda end, failed, **_: WeibullFitter().fit(end, failed), lives, 10)
    assert report("Weibull with profile limits, right-censored, 500 x 2,000", ours, theirs, GROUPS / 10) > 150


def test_the_others_grow_no_faster_than_sorting(lives) -> None:
    """Ten times the rows take at most fifteen times as long, give or take a noisy machine."""
    few, chance = slice(0, 100_000), np.random.default_rng(2)
    cause = np.where(lives["failed"], chance.integers(1, 3, len(lives["end"])), 0)
    ten = lives["group"] % 10
    counts = chance.poisson(1.0, len(lives["end"]))
    unit = np.repeat(np.arange(len(counts)), counts)
    when = lives["end"][unit] - (lives["end"] - lives["entry"])[unit] * chance.random(len(unit))

    def recur(size: int) -> object:
        seen = unit < size
        return mean_cumulative(unit[seen], when[seen], lives["entry"][:size], lives["end"][:size])

    work = {
        "Aalen-Johansen": lambda part: cumulative_incidence(lives["end"][part], cause[part], lives["entry"][part]),
        "log-rank, ten groups": lambda part: log_rank(lives["end"][part], lives["failed"][part], ten[part]),
        "mean cumulative function": lambda part: recur(part.stop),
    }
    for name, run in work.items():
        small, large = (
            statistics.median(seconds(lambda part=part, run=run: run(part), repeats=3))
            for part in (few, slice(0, len(counts)))
        )
        print(f"\n{name}: {large:.3f} s for a million, {large / small:.0f} times 100,000")  # noqa: T201
        assert large / small < 30
