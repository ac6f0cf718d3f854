"""Weibull fits: the likelihood written a second time, the edges, what must not matter, and other libraries."""

import numpy as np
import polars as pl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import WeibullFitter
from scipy.optimize import minimize_scalar
from scipy.stats import CensoredData, chi2, weibull_min

from fleetlens.errors import FleetlensError
from fleetlens.reliability.weibull import (
    CONSTANT,
    EARLY,
    FITTED,
    GIVEN,
    NO_FAILURES,
    NO_MAXIMUM,
    TOO_FEW,
    WEAR_OUT,
    fit,
)

CALM = settings(max_examples=40, deadline=None)
LIVES = st.lists(
    st.tuples(st.integers(0, 20), st.integers(1, 40), st.sampled_from([True, True, False])), min_size=3, max_size=30
)
DROP = chi2.ppf(0.95, 1) / 2


def arrays(rows):
    """Entry, end and failed of drawn lives; half of them are seen from the beginning."""
    entry, length, failed = (np.array(column) for column in zip(*rows, strict=True))
    entry = np.where(entry > 10, entry - 10.0, 0.0)
    return entry, entry + length, failed


def loglik(shape, scale, *lives):
    """The definition, one life at a time."""
    total = 0.0
    for x, fails, e, low in zip(*lives, strict=True):
        total += (max(e, 0.0) / scale) ** shape
        if not fails:
            total -= (x / scale) ** shape
        elif low < x:
            inside = np.exp(-((low / scale) ** shape)) - np.exp(-((x / scale) ** shape))
            total += np.log(inside) if inside > 0 else -np.inf
        else:
            total += np.log(shape / scale) + (shape - 1) * np.log(x / scale) - (x / scale) ** shape
    return total


def draw(seed, lives, shape=1.7, scale=60.0, intervals=0.0):
    """Lives with late entry and censoring, some failures known to an interval only."""
    chance = np.random.default_rng(seed)
    life, entry = scale * chance.weibull(shape, lives), np.maximum(chance.uniform(-20, 30, lives), 0)
    kept = life > entry
    life, entry = life[kept], entry[kept]
    end = np.minimum(life, entry + chance.uniform(5, 90, len(life)))
    failed = end == life
    between = failed & (chance.random(len(end)) < intervals)
    lower = np.where(between, entry + 0.6 * (end - entry), end)
    return end, failed, entry, lower


@CALM
@given(LIVES, st.floats(0, 0.99), st.booleans())
def test_it_is_the_maximum_of_the_definition(rows, share, some) -> None:
    entry, end, failed = arrays(rows)
    lower = np.where(failed & (np.arange(len(end)) % 3 == 0) & some, entry + share * (end - entry), end)
    row = fit(end, failed, entry, lower).rows.row(0, named=True)
    assume(row["outcome"] == FITTED)
    lives = (end, failed, entry, lower)
    assume(0.05 < row["shape"] < 50)  # beyond, the slow definition itself runs out of digits
    best = loglik(row["shape"], row["scale"], *lives)
    assert row["loglik"] == pytest.approx(best, rel=1e-9, abs=1e-9)
    assert row["score"] < 1e-7
    for away in (0.999, 1.001):
        assert loglik(row["shape"] * away, row["scale"], *lives) < best
        assert loglik(row["shape"], row["scale"] * away, *lives) < best


@pytest.mark.parametrize("intervals", [0.0, 0.5])
@pytest.mark.parametrize("lives", [12, 60])
def test_limits_are_where_the_profile_has_dropped(lives, intervals) -> None:
    """Shape, scale and B10: the likelihood, maximised over the other parameter by scipy, is lower by half of 3.84."""
    data = draw(3, lives, intervals=intervals)
    fitted = fit(data[0], data[1], data[2], data[3])
    row, b10 = fitted.rows.row(0, named=True), fitted.life(0.10).row(0, named=True)

    def best(at) -> float:
        return -minimize_scalar(lambda free: -at(np.exp(free)), (-1.0, 1.0), tol=1e-12).fun

    for side in ("low", "high"):
        shape, scale, life = row[f"shape_{side}"], row[f"scale_{side}"], b10[side]
        drops = [
            best(lambda eta, beta=shape: loglik(beta, eta * row["scale"], *data)),
            best(lambda beta, eta=scale: loglik(beta * row["shape"], eta, *data)),
            best(
                lambda beta, t=life: loglik(
                    beta * row["shape"], t / (-np.log(0.9)) ** (1 / (beta * row["shape"])), *data
                )
            ),
        ]
        assert [row["loglik"] - drop for drop in drops] == pytest.approx([DROP] * 3, abs=1e-6)


def test_wald_errors_are_the_inverse_of_the_curvature() -> None:
    data = draw(5, 80, intervals=0.4)
    row = fit(*data).rows.row(0, named=True)
    h, centre = 1e-4, np.log([row["shape"], row["scale"]])

    def at(a, b):
        return loglik(*np.exp(centre + h * np.array([a, b])), *data)

    curvature = [
        [(at(1, 0) - 2 * at(0, 0) + at(-1, 0)) / h**2, (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * h**2)],
        [0.0, (at(0, 1) - 2 * at(0, 0) + at(0, -1)) / h**2],
    ]
    curvature[1][0] = curvature[0][1]
    covariance = np.linalg.inv(-np.array(curvature))
    found = [row["var_log_shape"], row["cov_log"], row["var_log_scale"]]
    assert found == pytest.approx([covariance[0, 0], covariance[0, 1], covariance[1, 1]], rel=1e-4)
    assert row["shape_se"] == pytest.approx(row["shape"] * row["var_log_shape"] ** 0.5)
    assert row["scale_se"] == pytest.approx(row["scale"] * row["var_log_scale"] ** 0.5)


# end, failed, entry, lower -> outcome
EDGES = {
    "no lives": ([], [], None, None, NO_FAILURES),
    "no failure": ([5, 6], [0, 0], None, None, NO_FAILURES),
    "one failure": ([5, 6], [1, 0], None, None, TOO_FEW),
    "one life": ([5], [1], None, None, TOO_FEW),
    "all failed at once": ([5, 5, 5], [1, 1, 1], None, None, TOO_FEW),
    "two failures at one age, others outlast them": ([5, 5, 9], [1, 1, 0], None, None, TOO_FEW),
    "two failures in one interval": ([5, 5, 9], [1, 1, 0], None, [2, 2, 9], TOO_FEW),
    "two distinct failure ages": ([5, 6], [1, 1], None, None, FITTED),
    "two distinct intervals": ([5, 9, 9], [1, 1, 0], None, [2, 5, 9], FITTED),
    "an interval and an age": ([5, 5, 9], [1, 1, 0], None, [2, 5, 9], FITTED),
    "nothing was seen to last": ([5, 9], [1, 1], None, [0, 0], NO_MAXIMUM),
    "two intervals that one age explains": ([5, 9], [1, 1], None, [1, 2], NO_MAXIMUM),
    "late entry where a hazard of 1 / age fits best: the shape runs off to 0": (
        [5, 6, 12],
        [1, 1, 0],
        [4.9, 5.5, 5],
        None,
        NO_MAXIMUM,
    ),
}


@pytest.mark.parametrize("name", EDGES)
def test_edges(name) -> None:
    end, failed, entry, lower, outcome = EDGES[name]
    fitted = fit(end, failed, entry, lower)
    row = fitted.rows.row(0, named=True)
    assert row["outcome"] == outcome
    assert (row["lives"], row["failures"]) == (len(end), sum(failed))
    numbers = set(row) - {"group", "lives", "failures", "outcome"}
    if outcome == FITTED:
        assert row["shape"] > 0
        assert row["shape_low"] is None or row["shape_low"] < row["shape"]
        assert row["shape_high"] is None or row["shape"] < row["shape_high"]
    else:
        assert {row[name] for name in numbers} == {None}
        assert fitted.life().drop("group").row(0) == (None, None, None)
        assert fitted.reading()["reading"].to_list() == [None]


def test_a_group_without_a_fit_leaves_the_others_alone() -> None:
    """Side by side: nothing lasted, a sound group, no failure, the shape runs off."""
    end = [5, 9, 5, 6, 7, 8, 8, 5, 6, 12]
    failed = [1, 1, 1, 1, 1, 0, 0, 1, 1, 0]
    entry = [0, 0, 0, 0, 0, 0, 0, 4.9, 5.5, 5]
    lower = [0, 0, *end[2:]]
    rows = fit(end, failed, entry, lower, [0, 0, 1, 1, 1, 2, 2, 3, 3, 3]).rows
    assert rows["outcome"].to_list() == [NO_MAXIMUM, FITTED, NO_FAILURES, NO_MAXIMUM]
    assert rows["shape"][1] == pytest.approx(fit([5, 6, 7], [1, 1, 1]).rows["shape"].item())


def test_no_limit_is_null() -> None:
    """Two failures, far outlasted: the characteristic life has no upper limit within a millionfold."""
    row = fit([1, 2, *[50] * 40], [1, 1, *[0] * 40]).rows.row(0, named=True)
    assert row["outcome"] == FITTED
    assert row["scale_high"] is None
    assert row["scale_low"] < row["scale"]


def near(value, factor=1.0):
    """About `value` x `factor`; None is None."""
    return None if value is None else pytest.approx(value * factor, rel=1e-6)


@CALM
@given(LIVES, st.floats(0.001, 1000))
def test_the_unit_does_not_matter(rows, factor) -> None:
    entry, end, failed = arrays(rows)
    here = fit(end, failed, entry)
    there = fit(end * factor, failed, entry * factor)
    a, b = here.rows.row(0, named=True), there.rows.row(0, named=True)
    assert a["outcome"] == b["outcome"]
    assume(a["outcome"] == FITTED)
    for name in ("shape", "shape_low", "shape_high", "var_log_scale"):
        assert b[name] == near(a[name])
    for name in ("scale", "scale_low", "scale_high"):
        assert b[name] == near(a[name], factor)


@CALM
@given(LIVES, st.randoms(use_true_random=False))
def test_neither_order_nor_company_matters(rows, chance) -> None:
    """A group is fitted as if it were alone, wherever its rows stand."""
    entry, end, failed = arrays(rows)
    others = draw(1, 50)
    ends, fails, entries = (np.concatenate(both) for both in zip((end, failed, entry), others[:3], strict=True))
    group = np.repeat([1, 0], [len(end), len(others[0])])
    turn = list(range(len(ends)))
    chance.shuffle(turn)
    alone = fit(end, failed, entry).rows.drop("group")
    among = fit(ends[turn], fails[turn], entries[turn], group=group[turn], n_groups=3).rows
    assert among["outcome"].to_list() == [FITTED, alone["outcome"].item(), NO_FAILURES]
    for name in ("shape", "shape_low", "scale", "scale_high", "loglik"):
        assert among[name][1] == near(alone[name].item())


def test_a_life_split_in_two_changes_nothing() -> None:
    end, failed, entry, lower = draw(11, 60, intervals=0.3)
    cut = np.where(lower > entry + 1, (entry + lower) / 2, np.nan)
    halves = ~np.isnan(cut)
    whole = fit(end, failed, entry, lower).rows
    split = fit(
        np.concatenate((end, cut[halves])),
        np.concatenate((failed, np.zeros(halves.sum(), dtype=bool))),
        np.concatenate((np.where(halves, cut, entry), entry[halves])),
        np.concatenate((lower, cut[halves])),
    ).rows
    for name in ("shape", "shape_high", "scale", "scale_low", "loglik"):
        assert split[name].item() == pytest.approx(whole[name].item(), rel=1e-8)


def test_a_missing_or_equal_lower_means_a_known_age_and_lower_never_precedes_entry() -> None:
    end, failed, entry, _ = draw(2, 40)
    plain = fit(end, failed, entry).rows
    for lower in (np.full(len(end), np.nan), end, np.where(failed, end, 1.0)):
        assert fit(end, failed, entry, lower).rows.equals(plain)
    early = fit(end, failed, entry, np.where(failed, entry, end)).rows
    assert fit(end, failed, entry, np.where(failed, entry - 5, end)).rows.equals(early)


def test_narrow_intervals_are_known_ages() -> None:
    end, failed, entry, _ = draw(2, 40)
    known, narrow = fit(end, failed, entry).rows, fit(end, failed, entry, end - 1e-5).rows
    assert narrow["shape"].item() == pytest.approx(known["shape"].item(), rel=1e-5)
    assert narrow["scale_low"].item() == pytest.approx(known["scale_low"].item(), rel=1e-5)


def test_lives_follow_from_shape_and_scale() -> None:
    fitted = fit(*draw(4, 50))
    row = fitted.rows.row(0, named=True)
    half = fitted.life(0.5).row(0, named=True)
    assert half["value"] == pytest.approx(row["scale"] * np.log(2) ** (1 / row["shape"]))
    assert half["low"] < half["value"] < half["high"]
    characteristic = fitted.life(1 - np.exp(-1)).row(0, named=True)
    assert (characteristic["low"], characteristic["high"]) == pytest.approx((row["scale_low"], row["scale_high"]))
    wide, narrow = fitted.life(0.1, 0.99).row(0, named=True), fitted.life(0.1, 0.5).row(0, named=True)
    assert wide["low"] < narrow["low"] < narrow["high"] < wide["high"]


def test_limits_shrink_with_more_lives() -> None:
    end, failed, entry, _ = draw(6, 20)
    widths = []
    for times in (1, 4, 16):
        row = fit(np.tile(end, times), np.tile(failed, times), np.tile(entry, times)).rows.row(0, named=True)
        widths.append((row["shape_high"] - row["shape_low"], row["scale_high"] - row["scale_low"]))
    assert widths == sorted(widths, reverse=True)


@pytest.mark.parametrize(("shape", "reading"), [(3.0, WEAR_OUT), (0.4, EARLY), (1.0, CONSTANT)])
def test_reading(shape, reading) -> None:
    end, failed, entry, lower = draw(9, 150, shape=shape)
    assert fit(end, failed, entry, lower).reading()["reading"].to_list() == [reading]


def test_five_hundred_groups_of_all_shapes_satisfy_their_own_score() -> None:
    """Each group's slope by the log shape, from sums written out plainly, is 0 at its own fit."""
    chance = np.random.default_rng(12)
    shapes = np.exp(chance.uniform(np.log(0.2), np.log(20), 500))
    group = np.repeat(np.arange(500), 30)
    life = chance.uniform(1, 1e6, 500)[group] * chance.weibull(shapes[group])
    entry = life * chance.uniform(-1, 0.9, len(life)).clip(0)
    end = np.minimum(life, entry + life * chance.uniform(0.05, 4, len(life)))
    failed = end == life
    rows = fit(end, failed, entry, group=group).rows
    assert rows["outcome"].unique().to_list() == [FITTED]
    for row in rows.iter_rows(named=True):
        mine = group == row["group"]
        x, e, f, b = end[mine] / row["scale"], entry[mine] / row["scale"], failed[mine], row["shape"]
        logs = np.log(np.where(e > 0, e, 1.0))
        assert np.sum(x**b - e**b) == pytest.approx(f.sum(), rel=1e-8)
        slope = f.sum() + b * np.sum(f * np.log(x)) - b * np.sum(x**b * np.log(x) - e**b * logs)
        assert slope == pytest.approx(0, abs=1e-6)


def test_lifelines_agrees() -> None:
    """lifelines 0.30, late entry; its own optimum is good to some 1e-6 only."""
    end, failed, entry, _ = draw(21, 400, shape=2.2, scale=50.0)
    theirs = WeibullFitter().fit(end, failed, entry=entry)
    row = fit(end, failed, entry).rows.row(0, named=True)
    assert (row["shape"], row["scale"]) == pytest.approx((theirs.rho_, theirs.lambda_), rel=1e-4)
    assert row["loglik"] >= theirs.log_likelihood_ - 1e-6
    assert row["shape_se"] == pytest.approx(theirs.summary.loc["rho_", "se(coef)"], rel=1e-3)


def test_scipy_agrees() -> None:
    """scipy.stats.weibull_min on known, right-censored and interval-censored ages (it knows no late entry)."""
    end, failed, _, _ = draw(22, 200)
    lower = np.where(failed & (np.arange(len(end)) % 2 == 0), 0.7 * end, end)
    known, between = failed & (lower == end), failed & (lower < end)
    data = CensoredData(uncensored=end[known], right=end[~failed], interval=np.column_stack((lower, end))[between])
    shape, _, scale = weibull_min.fit(data, floc=0)
    row = fit(end, failed, lower=lower).rows.row(0, named=True)
    assert (row["shape"], row["scale"]) == pytest.approx((shape, scale), rel=1e-3)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([0, 2], [1, 1]), "1 of 2 lives have an age of 0 or less\n  try: leave them out"),
        (([1, 2], [1, 1], None, [1]), "'lower' has the shape (1,), not (2,)\n  try: give one value a row"),
        (
            ([1, 2], [1, 1], None, [0, 3]),
            "1 failures were last seen sound after they were found\n  at: row 1: lower 3, end 2\n"
            "  try: leave them out, or correct the age of the inspection",
        ),
    ],
)
def test_refusals(arguments, message) -> None:
    with pytest.raises(FleetlensError) as caught:
        fit(*arguments)
    assert str(caught.value) == message


def test_a_share_outside_0_to_1_is_refused() -> None:
    with pytest.raises(FleetlensError, match="a share lies between 0 and 1, not 0"):
        fit([1, 2], [1, 1]).life(0)


def test_frames_hold_no_nan() -> None:
    fitted = fit([5, 6, 7, 8], [1, 1, 0, 1], group=[0, 0, 1, 2], n_groups=4)
    for frame in (fitted.rows, fitted.life()):
        assert not frame.select(pl.col(pl.Float64).is_nan().any()).to_series().any()


def test_a_given_shape_leaves_only_the_scale() -> None:
    """Closed form of the scale, limits by the likelihood ratio written out; the shape itself has no limits."""
    end, failed, entry, _ = draw(8, 30)
    fitted = fit(end, failed, entry, shape=2.0)
    row, b10 = fitted.rows.row(0, named=True), fitted.life(0.10).row(0, named=True)
    r, total = failed.sum(), (end**2 - np.maximum(entry, 0) ** 2).sum()
    assert (row["outcome"], row["shape"], row["shape_low"], row["shape_se"]) == (GIVEN, 2.0, None, None)
    assert row["scale"] == pytest.approx((total / r) ** 0.5)
    assert row["scale_se"] == pytest.approx(row["scale"] / (2 * r**0.5))
    for side in ("low", "high"):
        h = total / row[f"scale_{side}"] ** 2
        assert 2 * (h - r - r * np.log(h / r)) == pytest.approx(2 * DROP, abs=1e-6)
        assert b10[side] == pytest.approx(row[f"scale_{side}"] * (-np.log(0.9)) ** 0.5)
    assert fitted.reading()["reading"].to_list() == [None]


def test_one_failure_is_enough_for_a_given_shape_and_groups_can_differ() -> None:
    end, failed, group = [5.0, 7.0, 9.0, 3.0, 4.0, 5.0, 6.0], [1, 0, 0, 1, 1, 0, 0], [0, 0, 0, 1, 1, 1, 2]
    rows = fit(end, failed, group=group, shape=[2.0, np.nan, 2.0]).rows
    assert rows["outcome"].to_list() == [GIVEN, "fitted", "no failures"]
    alone = fit([3.0, 4.0, 5.0], [1, 1, 0]).rows
    assert rows["shape"].to_list()[1] == pytest.approx(alone["shape"].item())
    # With the shape that fits best, the scale is the one that fits best.
    again = fit([3.0, 4.0, 5.0], [1, 1, 0], shape=alone["shape"].item()).rows
    assert again["scale"].item() == pytest.approx(alone["scale"].item())
    assert again["loglik"].item() == pytest.approx(alone["loglik"].item())
    for wrong in (0.0, -1.0, [1.0, 2.0], np.inf):
        with pytest.raises(FleetlensError, match="a shape must be a number above 0"):
            fit(end, failed, group=group, shape=wrong)
