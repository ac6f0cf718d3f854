"""Trend tests and the power law: written out unit by unit, scipy's search, edges, what must not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import chi2, norm

from fleetlens.errors import FleetlensError
from fleetlens.reliability.power_law import power_law
from fleetlens.reliability.power_law_grouped import power_law_grouped
from fleetlens.reliability.trend_tests import BETTER, NONE, WORSE, trend_tests

CALM = settings(max_examples=40, deadline=None)
UNITS = st.lists(
    st.tuples(st.integers(0, 40), st.integers(1, 60), st.lists(st.floats(0.01, 1), max_size=6), st.integers(0, 1)),
    min_size=1,
    max_size=8,
)


def arrays(units):
    """Unit and age of each event; start, end and group of each unit."""
    start, length, shares, group = zip(*units, strict=True)
    start, length = np.array(start, dtype=float), np.array(length, dtype=float)
    unit = np.repeat(np.arange(len(units)), [len(each) for each in shares])
    time = np.array([start[u] + share * length[u] for u, each in enumerate(shares) for share in each])
    return unit, time, start, start + length, np.array(group)


@CALM
@given(UNITS)
def test_the_tests_are_their_definitions(units) -> None:
    unit, time, start, end, group = arrays(units)
    rows = trend_tests(unit, time, start, end, group, n_groups=2)
    for number, row in enumerate(rows.iter_rows(named=True)):
        mine = group[unit] == number
        n = mine.sum()
        assert (row["units"], row["events"]) == ((group == number).sum(), n)
        if not n:
            assert (row["laplace"], row["p"], row["reading"]) == (None, None, None)
            continue
        a, b, t = start[unit[mine]], end[unit[mine]], time[mine]
        laplace = (t - (a + b) / 2).sum() / np.sqrt(((b - a) ** 2 / 12).sum())
        statistic = 2 * np.log((b - a) / (t - a)).sum()
        assert (row["laplace"], row["chi_squared"]) == (pytest.approx(laplace), pytest.approx(statistic, abs=1e-9))
        assert row["laplace_p"] == pytest.approx(2 * norm.sf(abs(laplace)))
        tails = chi2.cdf(statistic, 2 * n), chi2.sf(statistic, 2 * n)
        assert row["p"] == pytest.approx(min(1, 2 * min(tails)))
        told = WORSE if tails[0] < tails[1] else BETTER
        assert row["reading"] == (told if row["p"] < 0.05 else NONE)


@CALM
@given(UNITS, st.floats(0.01, 100))
def test_neither_unit_nor_order_matters(units, factor) -> None:
    unit, time, start, end, group = arrays(units)
    turn = np.arange(len(time))[::-1]
    here = trend_tests(unit, time, start, end, group, n_groups=2)
    there = trend_tests(unit[turn], time[turn] * factor, start * factor, end * factor, group, n_groups=2)
    for name in ("laplace", "chi_squared", "p"):
        assert there[name].to_list() == [None if x is None else pytest.approx(x, abs=1e-7) for x in here[name]]


def test_the_event_that_ends_a_record_says_nothing() -> None:
    """Ended by its last event at 10 is as good as five events before a record to 10."""
    times = [2.0, 3.0, 6.0, 9.0]
    ended = trend_tests([0] * 5, [*times, 10.0], None, [10.0], ended_by_event=True)
    assert ended.row(0) == trend_tests([0] * 4, times, None, [10.0]).row(0)
    mixed = trend_tests([0, 0, 1], [4.0, 5.0, 6.0], None, [5.0, 9.0], ended_by_event=[True, False])
    assert mixed["events"].item() == 2
    with pytest.raises(FleetlensError, match="1 units end by an event, but have none at their end"):
        trend_tests([0], [4.0], None, [5.0], ended_by_event=True)
    with pytest.raises(FleetlensError, match="outside their unit's time"):
        trend_tests([0], [6.0], None, [5.0])
    with pytest.raises(FleetlensError, match="below 0"):
        trend_tests([0], [4.0], [-1.0], [5.0])
    assert trend_tests([], [], None, [])["p"].to_list() == [None]


def loss(parameters, _, time, start, end) -> float:
    """Negative log-likelihood of the power law, written out."""
    shape, scale = np.exp(parameters)
    expected = ((end / scale) ** shape - (start / scale) ** shape).sum()
    return expected - (np.log(shape / scale) + (shape - 1) * np.log(time / scale)).sum()


def draw(seed, shape=1.6, scale=20.0, units=12, late=30.0):
    chance = np.random.default_rng(seed)
    start = np.maximum(chance.uniform(-late, late, units), 0.0)
    end = start + chance.uniform(10, 80, units)
    unit, time = [], []
    for number in range(units):
        low, high = (start[number] / scale) ** shape, (end[number] / scale) ** shape
        passed = np.sort(chance.uniform(low, high, chance.poisson(high - low)))
        time.extend(scale * passed ** (1 / shape))
        unit.extend([number] * len(passed))
    return np.array(unit), np.array(time), start, end


@pytest.mark.parametrize("seed", range(4))
def test_the_power_law_has_the_greatest_likelihood_and_its_limits_the_right_drop(seed) -> None:
    data = draw(seed)
    row = power_law(*data).rows.row(0, named=True)
    best = loss(np.log([row["shape"], row["scale"]]), *data)
    assert best <= minimize(loss, [0.0, 3.0], args=data, method="Nelder-Mead").fun + 1e-7
    assert row["limits"] == "likelihood"
    for side in ("low", "high"):
        fixed = np.log(row[f"shape_{side}"])
        found = minimize(lambda m, s=fixed: loss([s, m[0]], *data), [3.0], method="Nelder-Mead")
        assert found.fun - best == pytest.approx(chi2.ppf(0.95, 1) / 2, abs=1e-4)
    assert row["rate"] == pytest.approx(row["shape"] / row["until"] * (row["until"] / row["scale"]) ** row["shape"])
    assert row["rate_low"] < row["rate"] < row["rate_high"]
    curve = power_law(*data).expected([row["scale"], row["until"]])
    assert curve["expected"].to_list() == pytest.approx([1.0, (row["until"] / row["scale"]) ** row["shape"]])


def test_limits_of_the_rate_are_the_delta_method() -> None:
    """By numerical slopes of the log rate and a numerical curvature of the likelihood."""
    data = draw(5)
    row = power_law(*data).rows.row(0, named=True)
    at, step = np.log([row["shape"], row["scale"]]), 1e-4

    def log_rate(p) -> float:
        shape, scale = np.exp(p)
        return np.log(shape / row["until"]) + shape * np.log(row["until"] / scale)

    eye = step * np.eye(2)
    slopes = np.array([(log_rate(at + d) - log_rate(at - d)) / (2 * step) for d in eye])
    curve = np.array(
        [
            [
                loss(at + d + e, *data) - loss(at + d - e, *data) - loss(at - d + e, *data) + loss(at - d - e, *data)
                for e in eye
            ]
            for d in eye
        ]
    ) / (4 * step**2)
    spread = np.sqrt(slopes @ np.linalg.inv(curve) @ slopes)
    assert np.log(row["rate_high"] / row["rate"]) == pytest.approx(1.959963984540054 * spread, rel=1e-3)


def test_power_law_edges() -> None:
    """No event, one event, several at one age, groups without units."""
    rows = power_law([1, 1, 1, 2], [3.0, 5.0, 5.0, 4.0], None, [9.0, 9.0, 9.0], [0, 1, 2], n_groups=4).rows
    assert rows["outcome"].to_list() == ["no failures", "fitted", "too few failures", "no failures"]
    assert rows["events"].to_list() == [0, 3, 1, 0]
    assert rows["limits"].to_list() == [None, "exact", None, None]
    assert rows["until"].to_list() == [9.0, 9.0, 9.0, None]
    apart = power_law([0, 0, 0], [3.0, 5.0, 5.0 + 1e-6], None, [9.0]).rows
    assert rows["shape"][1] == pytest.approx(apart["shape"].item(), rel=1e-4)


@CALM
@given(st.lists(st.integers(0, 12), min_size=3, max_size=8).filter(lambda counts: sum(c > 0 for c in counts) > 1))
def test_grouped_counts_have_the_greatest_likelihood(counts) -> None:
    edges = np.cumsum([1.0, *range(1, len(counts) + 1)])
    since, until = edges[:-1], edges[1:]
    row = power_law_grouped(counts, since, until, units=3).row(0, named=True)

    def grouped_loss(p) -> float:
        shape, scale = np.exp(p)
        expected = 3 * ((until / scale) ** shape - (since / scale) ** shape)
        return expected.sum() - (np.array(counts) * np.log(np.maximum(expected, 1e-300))).sum()

    if row["shape"] is None or row["shape"] < 0.05:
        return
    best = grouped_loss(np.log([row["shape"], row["scale"]]))
    theirs = minimize(grouped_loss, np.log([row["shape"], row["scale"]]) + 0.05, method="Nelder-Mead")
    assert best <= theirs.fun + 1e-6
    for side in ("low", "high"):
        if row[f"shape_{side}"] is not None and row[f"shape_{side}"] > 0.05:  # below, the scale is past all numbers
            fixed = np.log(row[f"shape_{side}"])
            total = 3 * (until[-1] ** np.exp(fixed) - since[0] ** np.exp(fixed))
            scale = np.log((total / sum(counts)) ** (1 / np.exp(fixed)))
            assert grouped_loss([fixed, scale]) - best == pytest.approx(chi2.ppf(0.95, 1) / 2, abs=1e-4)


def test_fine_groups_are_the_ages_themselves() -> None:
    unit, time, _, _ = draw(9, units=1, late=0.0)
    end = 100.0
    edges = np.linspace(0, end, 40_001)
    counts = np.histogram(time, edges)[0]
    fine = power_law_grouped(counts, edges[:-1], edges[1:]).row(0, named=True)
    exact = power_law(unit, time, None, [end]).rows.row(0, named=True)
    assert (fine["shape"], fine["scale"], fine["rate"]) == pytest.approx(
        (exact["shape"], exact["scale"], exact["rate"]), rel=1e-3
    )


def test_grouped_edges_and_refusals() -> None:
    rows = power_law_grouped([3, 0, 2, 4], [0, 5, 0, 5], [5, 9, 5, 9], group=[0, 0, 1, 1], n_groups=3)
    assert rows["events"].to_list() == [3, 6, 0]
    assert [value is None for value in rows["shape"]] == [True, False, True]
    for wrong in (([1], [5], [5]), ([1], [-1], [5])):
        with pytest.raises(FleetlensError, match="a stretch of age ends before it begins"):
            power_law_grouped(*wrong)
