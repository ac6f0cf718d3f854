"""What the estimates stand on: sums of powers, roots, running sums and clocks."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetlens.reliability.counting import clock, running, segment_starts
from fleetlens.reliability.lives import unusable
from fleetlens.reliability.power_sums import PowerSums
from fleetlens.reliability.roots import falling_root
from fleetlens.reliability.sorting import sort_grouped

CALM = settings(max_examples=60, deadline=None)


@CALM
@given(st.integers(0, 10_000), st.lists(st.floats(0.01, 200), min_size=3, max_size=3))
def test_sums_of_powers_are_those_of_the_definition(seed, exponents) -> None:
    """At any exponent, with and without entries, whichever cells were expanded before."""
    chance = np.random.default_rng(seed)
    group = np.sort(chance.integers(0, 3, 40))
    end = chance.uniform(0, 1, 40)
    end /= np.array([end[group == number].max(initial=0.0) for number in range(3)])[group]
    entry = end * chance.uniform(-1, 1, 40)
    parts = [(5.0 * x[x > 0], np.bincount(group[x > 0], minlength=3)) for x in (end, entry)]
    ids, b = np.arange(3), np.array(exponents)
    sums = PowerSums(*parts, np.full(3, np.log(5.0)), np.array([1.0, 0.02, 7.0]))
    for wanted in (b, b * 1.1, b / 1.3):
        for k, found in enumerate(sums.at(ids, wanted)):
            for number in range(3):
                x, e = end[group == number], entry[group == number]
                e, p = e[e > 0], wanted[number]
                expected = np.sum(x**p * np.log(x) ** k) - np.sum(e**p * np.log(e) ** k)
                assert found[number] == pytest.approx(expected, abs=1e-12 * np.sum(x**p) / min(p, 1.0) ** k)


def test_sums_of_long_and_unlike_groups() -> None:
    """Groups longer than a block, of one life, and of none among them, each as if it were alone."""
    lengths = np.array([40_000, 0, 1, 300, 299, 16_384, 1])
    group = np.repeat(np.arange(7), lengths)
    ages = np.random.default_rng(2).random(len(group))
    entries = ages[group < 4] / 2
    parts = [(ages, lengths), (entries, np.bincount(group[group < 4], minlength=7))]
    b, ids = np.linspace(0.5, 3, 6), np.array([0, 2, 3, 4, 5, 6])
    found = PowerSums(*parts, np.zeros(7), np.ones(7)).at(ids, b)
    for place, number in enumerate(ids):
        x, e = ages[group == number], entries[group[group < 4] == number]
        for k in range(3):
            expected = (x ** b[place] * np.log(x) ** k).sum() - (e ** b[place] * np.log(e) ** k).sum()
            assert found[k][place] == pytest.approx(expected, rel=1e-10, abs=1e-10)


def test_roots_are_found_or_said_to_be_missing() -> None:
    """A line, a steep curve, a curve flat at first, one that never falls through 0, and one that has already."""
    functions = [
        lambda x: (1 - x, -1.0),
        lambda x: (2 - np.exp(x), -np.exp(x)),
        lambda x: (8 - x**3, -3 * x**2),
        lambda x: (1 + np.exp(-x), -np.exp(-x)),
        lambda x: (-1 - x / 100, -0.01),
    ]

    def all_of_them(at, x):
        values = [functions[place](point) for place, point in zip(at, x, strict=True)]
        return np.array([value for value, _ in values]), np.array([slope for _, slope in values])

    low, high = np.full(5, -5.0), np.full(5, 20.0)
    x, found = falling_root(all_of_them, np.array([0.0, 9.0, 0.001, 0.0, 0.0]), low, high)
    assert found.tolist() == [True, True, True, False, False]
    assert x == pytest.approx([1, np.log(2), 2, 20, -5])


def test_a_root_is_found_where_the_slope_misleads() -> None:
    """The sign is right, the slope nonsense: the bracket alone must do."""
    x, found = falling_root(
        lambda _, x: (3.25 - x, np.full(len(x), 7.0)), np.array([0.0]), np.array([-1.0]), np.array([9.0])
    )
    assert found.all()
    assert x == pytest.approx([3.25])


@CALM
@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 1e6)), min_size=1, max_size=50))
def test_running_sums_begin_anew(rows) -> None:
    groups = np.array(sorted(number for number, _ in rows))
    values = np.array([value for _, value in rows])
    found = running(values, segment_starts(groups))
    for number in set(groups):
        assert found[groups == number] == pytest.approx(np.cumsum(values[groups == number]), abs=1e-7)


def test_clocks_keep_order_and_give_times_back() -> None:
    for times in ([3.0, -2.0, 3.0, 1e9], [0.1, 0.30000000000000004, 0.3], [5.0, -np.inf, 7.5]):
        ticks, (codes,) = clock(np.array(times))
        keys = ticks.key(np.zeros(len(times), dtype=np.int64), codes, 1)
        assert np.argsort(codes, kind="stable").tolist() == np.argsort(times, kind="stable").tolist()
        finite = np.isfinite(times)
        assert ticks.split(keys)[1][finite].tolist() == np.array(times)[finite].tolist()
        assert (codes[~finite] == 0).all()


def test_unusable_lives() -> None:
    assert unusable([5, 5, 5], [4, 5, 6]).tolist() == [False, True, True]
    assert unusable([5, 5]).tolist() == [False, False]


@CALM
@given(st.lists(st.integers(0, 300), min_size=1, max_size=40), st.booleans(), st.integers(0, 2**32 - 1))
def test_groups_are_sorted_as_the_whole_is(sizes, even, seed) -> None:
    """Of like and unlike lengths, empty ones and those of one."""
    lengths = np.full(len(sizes), sizes[0]) if even else np.array(sizes)
    keys = np.repeat(np.arange(len(lengths)) * 1000, lengths)
    keys += np.random.default_rng(seed).integers(0, 1000, len(keys))
    for kind in (np.int32, np.int64):
        mine = keys.astype(kind)
        found = sort_grouped(mine, lengths)
        assert found.dtype == kind
        assert found.tolist() == sorted(keys.tolist())
        assert mine.tolist() == keys.tolist()


def test_many_short_and_few_long_groups_are_sorted() -> None:
    lengths = np.array([3, 2000, 0, 1, 70_000, 2000, 5])
    keys = np.repeat(np.arange(7) * 10**6, lengths) + np.random.default_rng(1).integers(0, 10**6, lengths.sum())
    assert (sort_grouped(keys, lengths) == np.sort(keys)).all()
