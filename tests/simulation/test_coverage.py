"""How often a 95 % interval holds the truth, and how far off an estimate is: thousands of fleets, seeded.

Each line printed is a row of the table in DEVELOPERS.md. With 5,000 fleets chance alone moves a coverage by 0.6 points
(twice its standard error), with 20,000 by 0.3.
"""

import numpy as np
import polars as pl
import pytest
from simulation.fleets import SCALE, SHAPE, lives, repairs

from fleetlens.reliability.association import lift
from fleetlens.reliability.bounds import zero_failure
from fleetlens.reliability.comparison import difference_at
from fleetlens.reliability.competing import cumulative_incidence
from fleetlens.reliability.fit_check import fit_check
from fleetlens.reliability.hazard import nelson_aalen
from fleetlens.reliability.power_law import power_law
from fleetlens.reliability.rates import (
    poisson_interval,
    proportion_exact,
    proportion_wilson,
    rate_ratio,
    ratio_of_ratios,
)
from fleetlens.reliability.recurrence import difference, mean_cumulative
from fleetlens.reliability.shrinkage import gamma_poisson
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.reliability.trend_tests import trend_tests
from fleetlens.reliability.weibull import FITTED, fit

pytestmark = pytest.mark.simulation
AIM = (0.94, 0.96)
B10 = SCALE * (-np.log(0.9)) ** (1 / SHAPE)


def covered(name: str, rows: pl.DataFrame, truth: float, within: tuple[float, float] = AIM) -> None:
    """Print how often low <= truth <= high (an absent limit holds everything), and hold it to `within`."""
    holds = (rows["low"].fill_null(-np.inf) <= truth) & (rows["high"].fill_null(np.inf) >= truth)
    say(name, len(rows), float(holds.mean()))
    assert within[0] <= holds.mean() <= within[1], name


def say(name: str, count: int, share: float) -> None:
    print(f"\n| {name} | {count:,} | {100 * share:.1f} % |")  # noqa: T201


def bias(name: str, estimates: pl.Series, truth: float) -> float:
    """Print the median's and the mean's distance from the truth, as shares of it."""
    middle, mean = estimates.median() / truth - 1, estimates.mean() / truth - 1
    print(f"\n| {name}, bias | {len(estimates):,} | median {100 * middle:+.1f} %, mean {100 * mean:+.1f} % |")  # noqa: T201
    return float(middle)


@pytest.mark.parametrize(("each", "fleets"), [(25, 20_000), (50, 20_000), (200, 5_000), (1_000, 1_000)])
def test_weibull(each, fleets) -> None:
    """Lives 60 % censored, 40 % entered late: shape, scale and B10 by profile likelihood."""
    drawn = lives(each, fleets, each)
    assert 0.57 < 1 - drawn.failed.mean() < 0.63
    fitted = fit(drawn.end, drawn.failed, drawn.entry, group=drawn.group, n_groups=fleets)
    rows = fitted.rows.with_columns(fitted.life(0.10).select(b10="value", b10_low="low", b10_high="high"))
    able = rows.filter(pl.col("outcome") == FITTED)
    assert len(able) > 0.99 * fleets
    failures = round(able["failures"].mean())
    for name, truth in (("shape", SHAPE), ("scale", SCALE), ("b10", B10)):
        label = f"Weibull {name}, {each} lives, about {failures} failures"
        # Ten failures are few for a chi-squared limit.
        covered(label, able.select(low=f"{name}_low", high=f"{name}_high"), truth, (0.93, 0.96) if each == 25 else AIM)
        assert abs(bias(label, able[name], truth)) < (0.10 if each < 100 else 0.02)
    check = fit_check(fitted).rows["p"].drop_nulls()
    if len(check) > 0.5 * fleets:
        false = float((check < 0.05).mean())
        say(f"warning that one Weibull doesn't do, false, {each} lives", len(check), false)
        assert 0.03 <= false <= 0.07


@pytest.mark.parametrize("expected", [3.2, 5.0, 12.0])
def test_lower_limit_with_few_failures(expected) -> None:
    """Sixty lives watched to a set age: the limit is below the truth in 95 % or, as failures are whole, in more."""
    chance, fleets = np.random.default_rng(15), 20_000
    age = SCALE * (expected / 60) ** (1 / SHAPE)
    life = SCALE * chance.exponential(size=60 * fleets) ** (1 / SHAPE)
    group = np.repeat(np.arange(fleets), 60)
    rows = zero_failure(np.minimum(life, age), life <= age, group=group, shape=SHAPE)
    share = float((rows["life_low"] <= B10).mean())
    say(f"lower limit of B10, shape known, about {expected:g} failures", fleets, share)
    assert 0.945 <= share <= 0.98


def test_survival_curves() -> None:
    """Kaplan-Meier and the cumulative hazard at some ages, and the median."""
    fleets, each = 5_000, 200
    drawn = lives(7, fleets, each)
    curve = kaplan_meier(drawn.end, drawn.failed, drawn.entry, drawn.group)
    for share in (0.3, 0.6, 0.9):
        truth = float(np.exp(-(share**SHAPE)))
        at = curve.at([share * SCALE])
        covered(f"Kaplan-Meier at {share:g} of the scale, {each} lives", at, truth)
    hazards = nelson_aalen(drawn.end, drawn.failed, drawn.entry, drawn.group).steps
    last = hazards.filter(pl.col("time") <= 0.6 * SCALE).group_by("group").last()
    covered(f"cumulative hazard at 0.6 of the scale, {each} lives", last, 0.6**SHAPE)
    median = curve.quantile(0.5)
    covered(f"median life, {each} lives", median, SCALE * np.log(2) ** (1 / SHAPE))


def test_competing_ends() -> None:
    """A third of failures is another cause: its share by an age."""
    fleets, each = 10_000, 200
    drawn, chance = lives(8, fleets, each), np.random.default_rng(80)
    cause = np.where(drawn.failed, 1 + (chance.random(len(drawn.end)) < 1 / 3), 0)
    rows = cumulative_incidence(drawn.end, cause, drawn.entry, drawn.group).at([0.6 * SCALE])
    truth = (1 - float(np.exp(-(0.6**SHAPE)))) / 3
    covered(f"cumulative incidence of one cause, {each} lives", rows.filter(pl.col("cause") == 2), truth)


@pytest.mark.parametrize(("mine", "other"), [(0.10, 0.25), (0.03, 0.03)])
def test_comebacks(mine, other) -> None:
    """Share back within 90 days with censored follow-up, of two groups of 60: each, and their difference."""
    fleets, each, chance = 2_000, 60, np.random.default_rng(9)
    found = []
    for number in range(fleets):
        share = np.repeat([mine, other], each)
        back = np.where(chance.random(2 * each) < share, np.ceil(chance.uniform(0, 90, 2 * each)), np.inf)
        seen = np.where(chance.random(2 * each) < 0.3, np.ceil(chance.uniform(10, 90, 2 * each)), 91.0)
        curve = kaplan_meier(np.minimum(back, seen), back <= seen, group=np.repeat([0, 1], each))
        found.append(difference_at(curve, [90.0]).with_columns(fleet=number))
    rows = pl.concat(found)
    wide = (0.94, 0.999)  # few comebacks: exact limits and their sums are on the safe side
    covered(f"difference of comeback shares, {mine:g} and {other:g}", rows, mine - other, wide)


def test_counted_shares() -> None:
    """Comeback share of 60 repairs, all followed through: exact and Wilson."""
    chance = np.random.default_rng(10)
    count = chance.binomial(60, 0.12, 20_000)
    covered("share, exact, 12 % of 60", proportion_exact(count, 60), 0.12, (0.95, 0.99))
    covered("share, Wilson, 12 % of 60", proportion_wilson(count, 60), 0.12, (0.93, 0.97))


@pytest.mark.parametrize("expected", [3.0, 12.0, 60.0])
def test_rates(expected) -> None:
    """Exact by construction, so at least 95 %; discreteness makes it more."""
    chance, fleets = np.random.default_rng(11), 20_000
    here, there = chance.poisson(expected, fleets), chance.poisson(2 * expected, fleets)
    safe = (0.949, 0.99)
    covered(f"rate, {expected:g} expected", poisson_interval(here, 1.0), expected, safe)
    ratio = rate_ratio(here, 1.0, there, 4.0)
    covered(f"rate ratio, {expected:g} against {2 * expected:g}", ratio, 2.0, safe)


def test_campaign() -> None:
    """Ratio of rate ratios, exact given the margins: at least 95 %."""
    chance, fleets = np.random.default_rng(12), 5_000
    counts = [chance.poisson(mean, fleets) for mean in (12.0, 30.0, 40.0, 50.0)]
    rows = ratio_of_ratios(
        *counts,
        exposure_treated_after=1.0,
        exposure_treated_before=1.0,
        exposure_untreated_after=1.0,
        exposure_untreated_before=1.0,
    )
    covered("ratio of rate ratios, 12, 30, 40, 50", rows, (12 / 30) / (40 / 50), (0.949, 0.985))


def test_lift() -> None:
    """Two codes on 500 vehicles, twice as often together as by chance; and by chance."""
    chance, fleets = np.random.default_rng(13), 20_000
    for both, label in ((0.02, "2"), (0.01, "1")):
        cells = np.array([both, 0.10 - both, 0.10 - both, 0.80 + both])
        drawn = chance.multinomial(500, cells, fleets)
        rows = lift(drawn[:, 0], drawn[:, 0] + drawn[:, 1], drawn[:, 0] + drawn[:, 2], 500)
        covered(f"lift {label}, about {500 * both:g} together", rows, both / 0.01, (0.93, 0.98))


def test_shrunken_rates() -> None:
    """Forty depots of unlike rates: over depots the limits hold nearly as promised, the prior being estimated."""
    chance, held = np.random.default_rng(14), []
    for _ in range(1_000):
        true, base = chance.gamma(3.0, 1 / 3, 40), chance.uniform(1, 20, 40)
        rows = gamma_poisson(chance.poisson(true * base), base).rows
        held.append(((rows["low"] <= true) & (rows["high"] >= true)).mean())
    say("shrunken rate, 40 depots", 40 * len(held), np.mean(held))
    assert 0.93 <= np.mean(held) <= 0.96


def curve_at(drawn, fleets: int, age: float) -> pl.DataFrame:
    return mean_cumulative(drawn.unit, drawn.time, drawn.start, drawn.end, drawn.group, n_groups=fleets).at([age])


@pytest.mark.parametrize(("each", "within"), [(30, (0.92, 0.96)), (100, (0.935, 0.96)), (400, AIM)])
def test_recurrence(each, within) -> None:
    """Mean cumulative function with staggered entry, units unlike each other: robust limits."""
    fleets = 400_000 // each
    drawn = repairs(each, fleets, each)
    for age in (0.5, 0.9):
        covered(
            f"mean cumulative function at {age:g}, {each} vehicles",
            curve_at(drawn, fleets, age),
            2 * age**1.3,
            within,
        )


def test_difference_of_recurrence() -> None:
    fleets, each = 1_000, 100
    mine, theirs = repairs(21, fleets, each), repairs(22, fleets, each)
    found = []
    for number in range(fleets):
        parts = []
        for offset, drawn in ((0, mine), (each, theirs)):
            at = slice(number * each, (number + 1) * each)
            events = drawn.unit // each == number
            parts.append(
                (drawn.unit[events] - number * each + offset, drawn.time[events], drawn.start[at], drawn.end[at])
            )
        unit, time, start, end = (np.concatenate(column) for column in zip(*parts, strict=True))
        curve = mean_cumulative(unit, time, start, end, np.repeat([0, 1], each))
        found.append(difference(curve, [0.9]))
    covered(
        "difference of mean cumulative functions, 100 vehicles each",
        pl.concat(found),
        0.0,
        (0.93, 0.965),
    )


def test_power_law() -> None:
    """Ten vehicles a fleet, staggered; shape by profile likelihood. One vehicle from new: exact."""
    fleets = 4_000
    drawn = repairs(31, fleets, 10, spread=0.0)
    rows = power_law(drawn.unit, drawn.time, drawn.start, drawn.end, drawn.group, n_groups=fleets).rows
    able = rows.filter(pl.col("outcome") == FITTED)
    covered("power law, shape, 10 vehicles", able.select(low="shape_low", high="shape_high"), 1.3)
    truth = 2 * 1.3 * (able["until"] ** 0.3)
    holds = ((able["rate_low"] <= truth) & (truth <= able["rate_high"])).mean()
    say("power law, rate at the end, 10 vehicles", len(able), holds)
    assert 0.92 <= holds <= 0.96
    chance = np.random.default_rng(32)
    number = chance.poisson(12.0, fleets)
    unit = np.repeat(np.arange(fleets), number)
    time = chance.random(len(unit)) ** (1 / 1.3)
    one = power_law(unit, time, None, np.ones(fleets), np.arange(fleets)).rows.filter(pl.col("limits") == "exact")
    covered("power law, shape, one vehicle, about 12 events", one.select(low="shape_low", high="shape_high"), 1.3)


def test_trend_tests_under_no_trend() -> None:
    """How often each speaks of a trend where there is none, at 5 %."""
    fleets = 10_000
    drawn = repairs(41, fleets, 8, spread=0.0, power=1.0)
    rows = trend_tests(drawn.unit, drawn.time, drawn.start, drawn.end, drawn.group, n_groups=fleets)
    for name, column in (("Laplace", "laplace_p"), ("MIL-HDBK-189", "p")):
        false = float((rows[column] < 0.05).mean())
        say(f"{name}, false alarms", fleets, false)
        assert 0.04 <= false <= 0.06


def test_the_table_of_this_file_is_not_silent(capsys: pytest.CaptureFixture[str]) -> None:
    """The print that every row relies on does print, and the check does fail."""
    frame = pl.DataFrame({"low": [0.0, 2.0], "high": [1.0, 3.0]})
    with pytest.raises(AssertionError, match="half"):
        covered("half", frame, 0.5)
    assert "| half | 2 | 50.0 % |" in capsys.readouterr().out
