"""Log-rank tests: a second, slow definition, the edges, what must not matter, and other libraries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test, survival_difference_at_fixed_point_in_time_test
from polars.testing import assert_frame_equal
from scipy.stats import CensoredData, logrank, norm

from fleetlens.reliability.comparison import difference_at, log_rank
from fleetlens.reliability.survival import kaplan_meier

CALM = settings(max_examples=60, deadline=None)
LIVES = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 12), st.booleans(), st.integers(0, 2), st.integers(0, 1)),
    min_size=1,
    max_size=40,
)


def arrays(rows):
    entry, length, failed, group, stratum = (np.array(column) for column in zip(*rows, strict=True))
    return (entry + length).astype(float), failed, group, entry.astype(float), stratum


def by_hand(end, failed, group, entry, stratum):
    """Observed and expected failures of three groups, and the covariance, one failure time at a time."""
    observed, expected, covariance = np.zeros(3), np.zeros(3), np.zeros((3, 3))
    for s in set(stratum):
        for time in sorted(set(end[failed & (stratum == s)])):
            here = (entry < time) & (time <= end) & (stratum == s)
            dies = here & failed & (end == time)
            n, d = here.sum(), dies.sum()
            shares = np.array([(here & (group == g)).sum() / n for g in range(3)])
            observed += [(dies & (group == g)).sum() for g in range(3)]
            expected += d * shares
            if n > 1:
                covariance += d * (n - d) / (n - 1) * (np.diag(shares) - np.outer(shares, shares))
    return observed, expected, covariance


@CALM
@given(LIVES)
def test_it_is_the_definition(rows) -> None:
    lives = arrays(rows)
    result = log_rank(*lives, n_groups=3)
    observed, expected, covariance = by_hand(*lives)
    assert result.rows["observed"].to_list() == observed.tolist()
    assert result.rows["expected"].to_numpy() == pytest.approx(expected, abs=1e-9)
    assert result.degrees == np.linalg.matrix_rank(covariance, tol=1e-9)
    excess = observed - expected
    assert result.chi_squared == pytest.approx(excess @ np.linalg.pinv(covariance, rcond=1e-9) @ excess, abs=1e-7)
    assert result.p is None if result.degrees == 0 else 0 <= result.p <= 1


@CALM
@given(LIVES)
def test_each_group_against_all_others_is_a_test_of_two(rows) -> None:
    end, failed, group, entry, stratum = arrays(rows)
    each = log_rank(end, failed, group, entry, stratum, n_groups=3).rows["p"].to_list()
    for number, p in enumerate(each):
        alone = log_rank(end, failed, (group == number).astype(int), entry, stratum, n_groups=2).p
        assert p == (None if alone is None else pytest.approx(alone, abs=1e-9))


@CALM
@given(LIVES, st.randoms(use_true_random=False), st.floats(0.01, 1000))
def test_neither_order_nor_unit_matters(rows, chance, factor) -> None:
    end, failed, group, entry, stratum = arrays(rows)
    turn = list(range(len(end)))
    chance.shuffle(turn)
    here = log_rank(end, failed, group, entry, stratum, n_groups=3)
    there = log_rank(end[turn] * factor, failed[turn], group[turn], entry[turn] * factor, stratum[turn], n_groups=3)
    assert_frame_equal(here.rows, there.rows, abs_tol=1e-9)
    assert here.chi_squared == pytest.approx(there.chi_squared, abs=1e-7)


def test_edges() -> None:
    """Nothing to compare: no lives, no failure, one group, groups that never meet."""
    nothing = [
        log_rank([], [], []),
        log_rank([3, 4], [0, 0], [0, 1]),
        log_rank([3, 4], [1, 1], [0, 0]),
        log_rank([3, 9], [1, 1], [0, 1], entry=[0, 5]),
        log_rank([3, 4], [1, 1], [0, 1], strata=[0, 1]),
        log_rank([3, 3], [1, 1], [0, 1]),  # all at risk fail at once: nothing left to chance
    ]
    assert [(each.degrees, each.p, each.chi_squared) for each in nothing] == [(0, None, 0.0)] * 6


def draw(seed):
    chance = np.random.default_rng(seed)
    group = chance.integers(0, 3, 300)
    life = (1 + 0.2 * group) * 50 * chance.weibull(1.5, 300)
    end = np.minimum(life, chance.uniform(10, 100, 300))
    return end, end == life, group


def test_lifelines_agrees() -> None:
    """lifelines 0.30, three groups, no late entry."""
    end, failed, group = draw(3)
    theirs, ours = multivariate_logrank_test(end, group, failed), log_rank(end, failed, group)
    assert (ours.chi_squared, ours.degrees) == (pytest.approx(theirs.test_statistic), 2)
    assert ours.p == pytest.approx(theirs.p_value)


def test_scipy_agrees() -> None:
    """scipy.stats.logrank, two groups: its statistic is the signed root of ours."""
    end, failed, group = draw(4)
    two = group < 2
    end, failed, group = end[two], failed[two], group[two]
    first, second = (
        CensoredData(uncensored=end[mine & failed], right=end[mine & ~failed]) for mine in (group == 0, group == 1)
    )
    theirs, ours = logrank(first, second), log_rank(end, failed, group)
    assert ours.chi_squared == pytest.approx(theirs.statistic**2)
    assert ours.p == pytest.approx(theirs.pvalue)


def test_difference_of_two_curves() -> None:
    """Estimates by counting; limits put together from the curves' own; p by the delta method, written out."""
    end, failed, group = draw(5)
    curve = kaplan_meier(end, failed, group=group)
    row = difference_at(curve, [30.0], group=2, other=1).row(0, named=True)
    at = {each["group"]: each for each in curve.at([30.0]).iter_rows(named=True)}
    a, b = at[2], at[1]
    assert row["difference"] == pytest.approx(b["survival"] - a["survival"])
    assert (row["risk"], row["risk_other"]) == (1 - a["survival"], 1 - b["survival"])
    down = np.hypot(a["high"] - a["survival"], b["survival"] - b["low"])
    up = np.hypot(a["survival"] - a["low"], b["high"] - b["survival"])
    assert (row["low"], row["high"]) == (pytest.approx(row["difference"] - down), pytest.approx(row["difference"] + up))
    z = [(np.log(-np.log(x["survival"])), x["se"] / (x["survival"] * np.log(x["survival"]))) for x in (a, b)]
    assert row["p"] == pytest.approx(2 * norm.sf(abs(z[0][0] - z[1][0]) / np.hypot(z[0][1], z[1][1])))
    turned = difference_at(curve, [30.0], group=1, other=2).row(0, named=True)
    assert (turned["low"], turned["high"]) == (pytest.approx(-row["high"]), pytest.approx(-row["low"]))


def test_lifelines_agrees_on_the_test_at_an_age() -> None:
    """lifelines 0.30: one statistic of log(-log) curves. It interpolates variances, so at an age that both have."""
    end, failed, group = draw(6)
    end = np.ceil(end)
    assert all(40.0 in end[group == number] for number in (0, 1))
    fitters = [KaplanMeierFitter().fit(end[group == number], failed[group == number]) for number in (0, 1)]
    theirs = survival_difference_at_fixed_point_in_time_test(40.0, *fitters)
    ours = difference_at(kaplan_meier(end, failed, group=group), [40.0])
    assert ours["p"].item() == pytest.approx(theirs.p_value)


def test_difference_edges() -> None:
    """None failed: exact for those at risk. All failed: up to 1. Nobody left: unknown."""
    curve = kaplan_meier([5, 6, 7, 8, 5, 6, 7, 8], [1, 1, 1, 1, 0, 0, 1, 0], group=[0] * 4 + [1] * 4)
    rows = difference_at(curve, [4, 6, 8, 9])
    none_yet = 1 - 0.025 ** (1 / 4)
    assert rows.row(0)[1:6] == (0.0, 0.0, 0.0, pytest.approx(-none_yet), pytest.approx(none_yet))
    assert rows["p"].to_list() == [None] * 4
    assert rows["risk"].to_list() == pytest.approx([0.0, 0.5, 1.0, 1.0])
    assert rows["risk_other"].to_list() == [0.0, 0.0, pytest.approx(0.5), None]
    assert rows["high"].to_list()[2] <= 1.0
    assert rows.row(3)[3:] == (None, None, None, None)
