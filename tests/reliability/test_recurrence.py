"""Recurrent failures: a second, slow definition, the edges, and what must not matter."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from scipy.stats import norm

from fleetlens.errors import FleetlensError
from fleetlens.reliability.recurrence import difference, mean_cumulative

CALM = settings(max_examples=60, deadline=None)
# A unit: start, length, group, and events by how far into the unit's time they fall.
UNITS = st.lists(
    st.tuples(st.integers(0, 8), st.integers(1, 12), st.integers(0, 1), st.lists(st.integers(1, 12), max_size=4)),
    min_size=1,
    max_size=15,
)


def arrays(rows):
    start, length, group, ages = zip(*rows, strict=True)
    start, end = np.array(start, dtype=float), np.array(start, dtype=float) + length
    unit = [u for u, each in enumerate(ages) for age in each if age <= length[u]]
    time = [start[u] + age for u, each in enumerate(ages) for age in each if age <= length[u]]
    return np.array(unit, dtype=np.int64), np.array(time, dtype=float), start, end, np.array(group)


def by_hand(number, *arrays):
    """Time, at risk, mean and sum of squared influences, one unit and one time at a time."""
    unit, time, start, end, group = arrays
    mean, influence, rows = 0.0, np.zeros(len(start)), []
    for t in sorted(set(time[group[unit] == number])):
        here = np.flatnonzero((start < t) & (t <= end) & (group == number))
        own = np.array([((unit == u) & (time == t)).sum() for u in here])
        step = own.sum() / len(here)
        mean += step
        influence[here] += (own - step) / len(here)
        rows.append((t, len(here), own.sum(), mean, np.sum(influence**2)))
    return rows


@CALM
@given(UNITS, st.sampled_from([1.0, 1e6, 1 / 3]))
def test_it_is_the_definition(rows, factor) -> None:
    unit, time, start, end, group = arrays(rows)
    curve = mean_cumulative(unit, time * factor, start * factor, end * factor, group, n_groups=2)
    for number in (0, 1):
        slow = by_hand(number, unit, time * factor, start * factor, end * factor, group)
        steps = curve.steps.filter(pl.col("group") == number)
        assert steps.height == len(slow)
        for row, (t, at_risk, events, mean, variance) in zip(steps.iter_rows(named=True), slow, strict=True):
            assert (row["time"], row["at_risk"], row["events"]) == (t, at_risk, events)
            assert row["mean"] == pytest.approx(mean)
            if variance > 1e-12 * mean**2:
                assert row["se"] ** 2 == pytest.approx(variance, rel=1e-6, abs=1e-12)
                assert row["low"] < row["mean"] < row["high"]
            else:
                assert (row["se"], row["low"], row["high"]) == (None, None, None)


@CALM
@given(UNITS, st.randoms(use_true_random=False))
def test_the_order_of_units_and_events_does_not_matter(rows, chance) -> None:
    unit, time, start, end, group = arrays(rows)
    units, events = list(range(len(start))), list(range(len(unit)))
    chance.shuffle(units)
    chance.shuffle(events)
    place = np.argsort(units)
    here = mean_cumulative(unit, time, start, end, group, n_groups=2)
    there = mean_cumulative(place[unit][events], time[events], start[units], end[units], group[units], n_groups=2)
    assert_frame_equal(here.steps.drop("se", "low", "high"), there.steps.drop("se", "low", "high"))
    assert_frame_equal(here.steps.select("se"), there.steps.select("se"), abs_tol=1e-7)


def test_with_the_same_units_throughout_it_is_the_plain_average() -> None:
    """All ten units seen from 0 to 100: events per unit, and the standard error of that average."""
    chance = np.random.default_rng(3)
    counts = chance.poisson(2, 10)
    unit = np.repeat(np.arange(10), counts)
    time = chance.uniform(0.1, 100, len(unit))
    point = mean_cumulative(unit, time, None, np.full(10, 100.0)).at([100]).row(0, named=True)
    assert point["mean"] == pytest.approx(counts.mean())
    assert point["se"] == pytest.approx(counts.std() / 10**0.5)


def test_edges() -> None:
    assert mean_cumulative([], [], None, [5.0, 6.0]).steps.is_empty()
    assert mean_cumulative([], [], None, []).steps.is_empty()
    alone = mean_cumulative([0, 0], [2, 3], None, [5.0])
    assert alone.steps.select("mean", "se", "low").rows() == [(1.0, None, None), (2.0, None, None)]
    # A unit is at risk on the day its history ends; one that starts that day isn't.
    steps = mean_cumulative([0], [5], [0, 5], [5, 9]).steps
    assert steps.select("at_risk", "mean").rows() == [(1, 1.0)]
    # Nobody is seen before 2 or after 9.
    points = mean_cumulative([0], [5], [2, 3], [9, 8]).at([1, 2, 4, 5, 9, 10])
    assert points["mean"].to_list() == [None, 0.0, 0.0, 0.5, 0.5, None]


@pytest.mark.parametrize(
    ("unit", "time", "message"),
    [
        ([0], [2.0], "1 events lie outside their unit's time under observation\n  at: event 0: time 2, unit 0\n"
         "  try: leave them out and list them, or correct start and end"),
        ([0], [9.5], "1 events lie outside their unit's time under observation\n  at: event 0: time 9.5, unit 0\n"
         "  try: leave them out and list them, or correct start and end"),
        ([2], [5.0], "'unit' must be one index of a unit for each event\n  try: number the units from 0"),
        ([0, 1], [5.0], "'unit' must be one index of a unit for each event\n  try: number the units from 0"),
    ],
)  # fmt: skip
def test_refusals(unit, time, message) -> None:
    with pytest.raises(FleetlensError) as caught:
        mean_cumulative(unit, time, [2, 3], [9, 8])
    assert str(caught.value) == message


def test_difference_of_two_curves() -> None:
    """Limits put together from the curves' own, p from their variances; it turns over."""
    chance = np.random.default_rng(11)
    counts = chance.poisson(np.repeat([1.0, 2.0], 40))
    unit, group = np.repeat(np.arange(80), counts), np.repeat([0, 1], 40)
    curve = mean_cumulative(unit, chance.uniform(0, 10, len(unit)), None, np.full(80, 10.0), group)
    row = difference(curve, [7.0]).row(0, named=True)
    a, b = curve.at([7.0]).iter_rows(named=True)
    assert row["difference"] == pytest.approx(a["mean"] - b["mean"])
    assert row["low"] == pytest.approx(row["difference"] - np.hypot(a["mean"] - a["low"], b["high"] - b["mean"]))
    assert row["high"] == pytest.approx(row["difference"] + np.hypot(a["high"] - a["mean"], b["mean"] - b["low"]))
    z = row["difference"] / np.hypot(a["se"], b["se"])
    assert row["p"] == pytest.approx(2 * norm.sf(abs(z)))
    turned = difference(curve, [7.0], group=1, other=0).row(0, named=True)
    assert (turned["low"], turned["high"]) == (pytest.approx(-row["high"]), pytest.approx(-row["low"]))


def test_difference_edges() -> None:
    """No event yet: the exact limit of none among the units watched. Nobody watched: unknown."""
    curve = mean_cumulative([0, 0, 1, 3], [1.0, 3.0, 2.0, 4.0], None, [5.0] * 6, [0, 0, 0, 1, 1, 1])
    rows = difference(curve, [0.5, 3.5, 6.0])
    none = -np.log(0.025) / 3
    assert rows.row(0)[1:] == (0.0, 0.0, 0.0, pytest.approx(-none), pytest.approx(none), None)
    assert (rows["mean"][1], rows["mean_other"][1], rows["p"][1]) == (pytest.approx(1.0), 0.0, None)
    assert rows["low"][1] < 1 < rows["high"][1]
    assert rows.row(2)[1:] == (None,) * 6
