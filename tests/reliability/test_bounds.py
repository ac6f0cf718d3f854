"""Lower limits with none or few failures: chances added up, edges, what must not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson

from fleetlens.errors import FleetlensError
from fleetlens.reliability.bounds import lives_needed, zero_failure
from fleetlens.reliability.weibull import fit

CALM = settings(max_examples=60, deadline=None)
LIVES = st.lists(st.tuples(st.floats(0, 50), st.floats(1, 90), st.booleans()), min_size=1, max_size=25)


@CALM
@given(LIVES, st.floats(0.5, 4), st.floats(0.01, 0.5), st.floats(0.5, 0.99))
def test_so_few_failures_are_just_as_unlikely_as_said(lives, shape, share, level) -> None:
    """At the lower limit, as few failures as were seen have the chance 1 - level."""
    entry, length, failed = (np.array(column) for column in zip(*lives, strict=True))
    end = entry + length
    row = zero_failure(end, failed, entry, shape=shape, share=share, level=level).row(0, named=True)
    hazard = ((end / row["scale_low"]) ** shape - (entry / row["scale_low"]) ** shape).sum()
    assert poisson.cdf(failed.sum(), hazard) == pytest.approx(1 - level, rel=1e-6)
    assert 1 - np.exp(-((row["life_low"] / row["scale_low"]) ** shape)) == pytest.approx(share)
    if failed.any():
        given_shape = fit(end, failed, entry, shape=shape).rows.row(0, named=True)
        assert row["scale"] == pytest.approx(given_shape["scale"], rel=1e-9)
        assert row["life"] / row["scale"] == pytest.approx(row["life_low"] / row["scale_low"])
        assert row["scale_low"] < row["scale"] or level < 0.7
    else:
        assert (row["scale"], row["life"]) == (None, None)


def test_more_failures_lower_the_limit_and_the_unit_does_not_matter() -> None:
    """0, 1, 2 and 5 failures among twenty lives of the same ages."""
    end, failures = np.tile(np.arange(1.0, 21), 4), [0, 1, 2, 5]
    failed = np.concatenate([np.arange(20) < count for count in failures])
    group = np.repeat(np.arange(4), 20)
    rows = zero_failure(end, failed, group=group, shape=2.0)
    assert rows["failures"].to_list() == failures
    assert rows["life_low"].is_sorted(descending=True)
    miles = zero_failure(end / 1.609344, failed, group=group, shape=2.0)
    assert (miles["life_low"] * 1.609344).to_numpy() == pytest.approx(rows["life_low"].to_numpy())


def test_groups_have_their_own_shapes_and_a_group_without_lives_has_nothing() -> None:
    rows = zero_failure([5.0, 9.0, 5.0, 9.0], [0, 0, 0, 0], group=[0, 0, 2, 2], shape=[1.0, 1.0, 3.0])
    assert rows.select("lives", "failures").rows() == [(2, 0), (0, 0), (2, 0)]
    assert rows["scale_low"].to_list() == [
        pytest.approx(14 / -np.log(0.05)),
        None,
        pytest.approx((854 / -np.log(0.05)) ** (1 / 3)),
    ]
    # A greater shape says more of early ages and less of the characteristic life.
    assert rows["life_low"][2] > rows["life_low"][0]


@CALM
@given(st.floats(1, 100), st.floats(1, 100), st.floats(0.5, 4))
def test_lives_needed_show_it_and_one_fewer_would_not(life, age, shape) -> None:
    number = int(lives_needed(life, age, shape))

    def shown(count: int) -> float:
        return zero_failure(np.full(count, age), np.zeros(count), shape=shape)["life_low"].item()

    if number <= 2000:
        assert shown(number) >= life * (1 - 1e-6)
        assert number == 1 or shown(number - 1) < life * (1 + 1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: zero_failure([5.0], [0], shape=0), "a shape must be a number above 0"),
        (lambda: zero_failure([0.0], [0], shape=1), "a life has an age of 0 or less"),
        (lambda: zero_failure([5.0], [0], shape=1, share=1.0), "a share or level lies between 0 and 1"),
        (lambda: lives_needed(1, 0, 1), "must be numbers above 0"),
    ],
)
def test_refusals(call, message) -> None:
    with pytest.raises(FleetlensError, match=message):
        call()
