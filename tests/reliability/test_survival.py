"""Survival curves: a second, slow definition, the edges, what must not matter, and another library."""

import itertools

import numpy as np
import polars as pl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from polars.testing import assert_frame_equal

from fleetlens.errors import FleetlensError
from fleetlens.reliability.survival import kaplan_meier

CALM = settings(max_examples=60, deadline=None)
LIVES = st.lists(
    st.tuples(st.integers(0, 30), st.integers(1, 30), st.booleans(), st.integers(0, 2)), min_size=1, max_size=40
)


def arrays(rows):
    """Entry, end, failed and group of drawn lives."""
    entry, length, failed, group = (np.array(column) for column in zip(*rows, strict=True))
    return entry.astype(float), (entry + length).astype(float), failed, group


def by_hand(entry, end, failed):
    """The definition, one life at a time: time, at risk, failures, share, Greenwood's sum."""
    share, spread, rows = 1.0, 0.0, []
    for time in sorted({e for e, fails in zip(end, failed, strict=True) if fails}):
        at_risk = sum(s < time <= e for s, e in zip(entry, end, strict=True))
        failures = sum(fails and e == time for e, fails in zip(end, failed, strict=True))
        share *= 1 - failures / at_risk
        spread += failures / (at_risk * (at_risk - failures)) if failures < at_risk else 0.0
        rows.append((time, at_risk, failures, share, spread))
    return rows


@CALM
@given(LIVES, st.sampled_from([1.0, 1e6, 1 / 3]))
def test_it_is_the_definition(rows, unit) -> None:
    """On all three clocks: few whole ages, whole ages far apart, and broken ones."""
    entry, end, failed, group = arrays(rows)
    curve = kaplan_meier(end * unit, failed, entry * unit, group, n_groups=3)
    for number in range(3):
        mine = group == number
        steps = curve.steps.filter(pl.col("group") == number)
        slow = by_hand(entry[mine] * unit, end[mine] * unit, failed[mine])
        assert steps.height == len(slow)
        for row, (time, at_risk, failures, share, spread) in zip(steps.iter_rows(named=True), slow, strict=True):
            assert (row["time"], row["at_risk"], row["failures"]) == (time, at_risk, failures)
            assert row["survival"] == pytest.approx(share, abs=1e-12)
            if share > 0:
                assert row["se"] == pytest.approx(share * spread**0.5, abs=1e-12)
                theta = np.exp(1.959963984540054 * spread**0.5 / np.log(share))
                assert (row["high"], row["low"]) == pytest.approx((share**theta, share ** (1 / theta)), abs=1e-12)
            else:
                assert (row["se"], row["low"], row["high"]) == (None, None, None)


@CALM
@given(LIVES)
def test_every_life_is_accounted_for(rows) -> None:
    entry, end, failed, group = arrays(rows)
    steps = kaplan_meier(end, failed, entry, group, n_groups=3).steps
    for number in range(3):
        mine = steps.filter(pl.col("group") == number)
        for now, then in itertools.pairwise(mine.iter_rows(named=True)):
            assert then["at_risk"] == now["at_risk"] - now["failures"] - now["censored"] + then["entered"]
        if mine.height:
            late = entry[group == number] >= mine["time"][-1]
            assert mine["entered"].sum() == int((~late).sum())


# end, failed, entry -> steps as (time, at risk, failures, survival)
EDGES = {
    "no lives": ([], [], None, []),
    "no failure": ([5, 6], [0, 0], None, []),
    "one life that failed": ([5], [1], None, [(5, 1, 1, 0.0)]),
    "one life that lasted": ([5], [0], None, []),
    "all failed at once": ([5, 5, 5], [1, 1, 1], None, [(5, 3, 3, 0.0)]),
    "failures at age 0 count where all were seen from the beginning": (
        [0, 0, 4],
        [1, 0, 1],
        None,
        [(0, 3, 1, 2 / 3), (4, 1, 1, 0.0)],
    ),
    "a life that enters at the moment of a failure enters after it": (
        [5, 9],
        [1, 1],
        [0, 5],
        [(5, 1, 1, 0.0), (9, 1, 1, 0.0)],
    ),
    "a failure and a censoring at one age: the failure is first": (
        [5, 5, 8],
        [1, 0, 1],
        None,
        [(5, 3, 1, 2 / 3), (8, 1, 1, 0.0)],
    ),
    "the risk set empties by censoring and fills again": (
        [3, 4, 9, 9],
        [1, 0, 1, 0],
        [0, 0, 6, 6],
        [(3, 2, 1, 0.5), (9, 2, 1, 0.25)],
    ),
}


@pytest.mark.parametrize("name", EDGES)
def test_edges(name) -> None:
    end, failed, entry, expected = EDGES[name]
    steps = kaplan_meier(end, failed, entry).steps
    found = steps.select("time", "at_risk", "failures", "survival").rows()
    assert found == [pytest.approx(row) for row in expected]


def test_warnings_of_a_thin_risk_set() -> None:
    """Emptied by censoring at 4; a lone failure at 9, though another follows."""
    curve = kaplan_meier([3, 4, 9, 20, 20], [1, 0, 1, 1, 0], [0, 0, 6, 10, 10])
    row = curve.risk.row(0, named=True)
    assert (row["zero_at"], row["emptied_at"], row["lone_at"]) == (9.0, 4.0, 9.0)
    sound = kaplan_meier([3, 4, 9, 20], [1, 0, 1, 1])
    assert sound.risk.select("zero_at", "emptied_at", "lone_at").row(0) == (None, None, None)


@CALM
@given(LIVES, st.sampled_from([1.0, 1e6, 1 / 3]))
def test_warnings_by_hand(rows, unit) -> None:
    """On all three clocks: who is left just after each end, and at each failure."""
    entry, end, failed, group = arrays(rows)
    risk = kaplan_meier(end * unit, failed, entry * unit, group, n_groups=3).risk
    for number in range(3):
        mine = group == number
        starts, ends, fails = entry[mine], end[mine], failed[mine]
        last_failure = max(ends[fails], default=-1)
        emptied = [t for t in ends if t < last_failure and not ((starts <= t) & (t < ends)).any()]
        steps = by_hand(starts, ends, fails)
        lone = [time for time, at_risk, *_ in steps if at_risk == 1 and time < last_failure]
        zero = [time for time, *_, share, _ in steps if share == 0 and time < max(ends)]
        expected = [min(times) * unit if times else None for times in (zero, emptied, lone)]
        assert list(risk.select("zero_at", "emptied_at", "lone_at").row(number)) == expected


def test_nothing_is_known_before_the_start() -> None:
    curve = kaplan_meier([5, 10, 8], [1, 1, 0], start=6)
    assert curve.at([5.9, 6, 10])["survival"].to_list() == [None, 1.0, 0.0]
    assert curve.risk.select("lives", "first_entry").row(0) == (2, 6.0)


def test_groups_without_lives_are_there_and_null() -> None:
    curve = kaplan_meier([5, 7], [1, 1], group=[0, 2], n_groups=4)
    assert curve.risk["lives"].to_list() == [1, 0, 1, 0]
    assert curve.quantile()["value"].to_list() == [5.0, None, 7.0, None]
    assert curve.at([6])["survival"].to_list() == [0.0, None, 1.0, None]


def test_what_is_not_known_is_null() -> None:
    """Nobody under observation before 2 or after 10; no limits before the first failure."""
    curve = kaplan_meier([5, 10, 8], [1, 0, 0], [2, 3, 4])
    points = curve.at([1, 2, 4.9, 5, 10, 10.1])
    assert points["survival"].to_list() == [None, 1.0, 1.0, pytest.approx(2 / 3), pytest.approx(2 / 3), None]
    assert points["low"].is_null().to_list() == [True, True, True, False, False, True]
    assert points["at_risk"].to_list() == [0, 0, 3, 3, 1, 0]
    gone = kaplan_meier([5, 6], [1, 1]).at([7])
    assert gone["survival"].to_list() == [0.0]  # all failed: 0 from there on is known


@CALM
@given(LIVES, st.floats(0, 32))
def test_at_reads_the_steps(rows, time) -> None:
    entry, end, failed, _ = arrays(rows)
    point = kaplan_meier(end, failed, entry).at([time]).row(0, named=True)
    before = [row for row in by_hand(entry, end, failed) if row[0] <= time]
    share = before[-1][3] if before else 1.0
    if time < entry.min() or (time > end.max() and share > 0):
        assert point["survival"] is None
    else:
        assert point["survival"] == pytest.approx(share, abs=1e-12)
    assert point["at_risk"] == int(((entry < time) & (time <= end)).sum())


@CALM
@given(LIVES, st.sampled_from([0.1, 0.25, 0.5, 0.75]))
def test_quantile_by_hand(rows, share) -> None:
    entry, end, failed, _ = arrays(rows)
    found = kaplan_meier(end, failed, entry).quantile(share).row(0, named=True)
    steps = by_hand(entry, end, failed)
    below = [time for time, *_, left, _ in steps if left <= 1 - share + 1e-9]
    level = [left for *_, left, _ in steps if left <= 1 - share + 1e-9][:1]
    if not below:
        assert found["value"] is None
    elif abs(level[0] - (1 - share)) < 1e-9:  # the curve runs level there: the middle of the stretch
        later = [time for time, *_, left, _ in steps if left < 1 - share - 1e-9]
        assert found["value"] == (below[0] + (later[0] if later else end.max())) / 2
    else:
        assert found["value"] == below[0]
    if found["value"] is not None:
        assert found["low"] is None or found["low"] <= found["value"]
        assert found["high"] is None or found["high"] >= found["value"]


def test_median_where_the_curve_runs_level_at_one_half() -> None:
    """R's survfit gives 2.5 for failures at 1, 2, 3, 4, and (1 + 2) / 2 with one failure and a censoring after it."""
    assert kaplan_meier([1, 2, 3, 4], [1, 1, 1, 1]).quantile()["value"].item() == 2.5
    assert kaplan_meier([1, 2], [1, 0]).quantile()["value"].item() == 1.5


@CALM
@given(LIVES, st.floats(0.01, 1000))
def test_the_unit_does_not_matter(rows, factor) -> None:
    entry, end, failed, group = arrays(rows)
    here = kaplan_meier(end, failed, entry, group)
    there = kaplan_meier(end * factor, failed, entry * factor, group)
    assert_frame_equal(here.steps.drop("time"), there.steps.drop("time"))
    assert_frame_equal(here.quantile().drop("group") * factor, there.quantile().drop("group"))


@CALM
@given(LIVES, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(rows, chance) -> None:
    entry, end, failed, group = arrays(rows)
    turn = list(range(len(end)))
    chance.shuffle(turn)
    here = kaplan_meier(end, failed, entry, group, n_groups=3)
    there = kaplan_meier(end[turn], failed[turn], entry[turn], group[turn], n_groups=3)
    assert_frame_equal(here.steps, there.steps, check_exact=True)
    assert_frame_equal(here.risk, there.risk, check_exact=True)


@CALM
@given(LIVES, st.integers(1, 60))
def test_a_life_split_in_two_changes_nothing(rows, cut) -> None:
    entry, end, failed, group = arrays(rows)
    halves = (entry < cut) & (cut < end)
    assume(halves.any())
    ends = np.concatenate((np.where(halves, cut, end), end[halves]))
    fails = np.concatenate((failed & ~halves, failed[halves]))
    entries = np.concatenate((entry, np.full(halves.sum(), float(cut))))
    whole = kaplan_meier(end, failed, entry, group, n_groups=3).steps
    split = kaplan_meier(ends, fails, entries, np.concatenate((group, group[halves])), n_groups=3).steps
    assert_frame_equal(whole.drop("censored", "entered"), split.drop("censored", "entered"), check_exact=True)


@CALM
@given(LIVES)
def test_lives_that_end_before_the_first_failure_change_nothing(rows) -> None:
    entry, end, failed, _ = arrays(rows)
    assume(failed.any())
    first = end[failed].min()
    more = np.array([first / 2, first / 3])
    here = kaplan_meier(end, failed, entry).steps
    there = kaplan_meier(np.append(end, more), np.append(failed, [False, False]), np.append(entry, [0, 0])).steps
    assert_frame_equal(here.drop("entered"), there.drop("entered"), check_exact=True)


@CALM
@given(LIVES)
def test_shares_fall_and_lie_within_their_limits(rows) -> None:
    entry, end, failed, _ = arrays(rows)
    steps = kaplan_meier(end, failed, entry).steps
    survival = steps["survival"].to_numpy()
    assert ((survival >= 0) & (survival <= 1)).all()
    assert (np.diff(survival) <= 1e-15).all()
    inside = steps.drop_nulls()
    assert inside.filter((pl.col("low") > pl.col("survival")) | (pl.col("high") < pl.col("survival"))).is_empty()
    assert inside.filter((pl.col("low") < 0) | (pl.col("high") > 1)).is_empty()


def test_limits_shrink_with_more_lives() -> None:
    end, failed = np.array([3.0, 5, 7, 9, 11]), np.array([1, 0, 1, 1, 0])
    widths = []
    for times in (1, 4, 16):
        steps = kaplan_meier(np.tile(end, times), np.tile(failed, times)).steps
        widths.append((steps["high"] - steps["low"]).to_numpy())
    assert (widths[0] > widths[1]).all()
    assert (widths[1] > widths[2]).all()


@CALM
@given(LIVES, st.integers(0, 30))
def test_starting_later_is_dividing_by_the_share_there(rows, start) -> None:
    entry, end, failed, _ = arrays(rows)
    whole, later = kaplan_meier(end, failed, entry), kaplan_meier(end, failed, entry, start=float(start))
    passed = whole.steps.filter(pl.col("time") <= start)["survival"]
    share = passed[-1] if passed.len() else 1.0
    assume(share > 0)
    rest = whole.steps.filter(pl.col("time") > start)
    assert later.steps["survival"].to_numpy() * share == pytest.approx(rest["survival"].to_numpy(), abs=1e-12)
    assert later.steps["at_risk"].to_list() == rest["at_risk"].to_list()


def test_lifelines_agrees() -> None:
    """lifelines 0.30, one curve at a time, late entry; broken ages, so that no tie can divide the two."""
    chance = np.random.default_rng(7)
    life, entry = 80_000 * chance.weibull(1.8, 900), chance.uniform(0, 40_000, 900)
    kept = life > entry
    life, entry = life[kept], entry[kept]
    end = np.minimum(life, entry + chance.uniform(1_000, 90_000, len(life)))
    failed, group = end == life, chance.integers(0, 3, len(life))
    ages = [20_000, 50_000, 80_000]
    # Very early risk sets of two or three lives make any curve worthless; start where there are more.
    curve = kaplan_meier(end, failed, entry, group, start=5_000)
    for number in range(3):
        mine = (group == number) & (end > 5_000)
        theirs = KaplanMeierFitter().fit(end[mine], failed[mine], entry=np.maximum(entry[mine], 5_000))
        ours = curve.at(ages).filter(pl.col("group") == number)
        assert ours["survival"].to_numpy() == pytest.approx(theirs.predict(ages).to_numpy(), abs=1e-9)
        limits = theirs.confidence_interval_.reindex(ages, method="ffill").to_numpy()
        assert ours.select("low", "high").to_numpy() == pytest.approx(limits, abs=1e-9)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([1, 2], [1]), "'failed' has the shape (1,), not (2,)\n  try: give one value a row"),
        (([1, np.nan], [1, 1]), "'end' holds a missing or infinite value\n  try: leave those rows out and list them"),
        (
            ([1, 2], [1, 1], [0, np.nan]),
            "'entry' holds a missing or infinite value\n  try: leave those rows out and list them",
        ),
        (
            ([1, 2], [1, 1], [0, 2]),
            "1 of 2 lives end at or before their entry\n  at: row 1: entry 2, end 2\n"
            "  try: leave out what fleetlens.reliability.lives.unusable marks, and list it",
        ),
        (([1, 2], [1, 1], None, [0, -1]), "'group' runs from -1 to 0, outside 0 to 0\n  try: number from 0"),
        (([1, 2], [1, 1], None, [0.5, 1]), "'group' must be one whole number a row\n  try: number the groups from 0"),
    ],
)
def test_refusals(arguments, message) -> None:
    with pytest.raises(FleetlensError) as caught:
        kaplan_meier(*arguments)
    assert str(caught.value) == message


def test_a_share_outside_0_to_1_is_refused() -> None:
    with pytest.raises(FleetlensError, match="a share lies between 0 and 1, not 1"):
        kaplan_meier([1], [1]).quantile(1)
