"""Competing ends: a second definition with slopes by differences, the edges, and what must not matter."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from fleetlens.errors import FleetlensError
from fleetlens.reliability.competing import cumulative_incidence
from fleetlens.reliability.survival import kaplan_meier

CALM = settings(max_examples=40, deadline=None)
LIVES = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 12), st.integers(0, 2), st.integers(0, 1)), min_size=1, max_size=25
)


def arrays(rows):
    entry, length, cause, group = (np.array(column) for column in zip(*rows, strict=True))
    return entry.astype(float), (entry + length).astype(float), cause, group


def share(hazards, cause):
    """Share ended from `cause` after steps with the hazards of both causes."""
    left, total = 1.0, 0.0
    for step in hazards:
        total += left * step[cause - 1]
        left *= 1 - sum(step)
    return total


def by_hand(entry, end, cause, wanted, until):
    """Share of `wanted` and its variance up to `until`: hazards as multinomial shares, slopes by differences."""
    times = sorted({e for e, why in zip(end, cause, strict=True) if why and e <= until})
    hazards, at_risk = [], []
    for time in times:
        n = sum(s < time <= e for s, e in zip(entry, end, strict=True))
        hazards.append([sum((end == time) & (cause == why)) / n for why in (1, 2)])
        at_risk.append(n)
    variance = 0.0
    for place, n in enumerate(at_risk):
        slopes = []
        for why in (0, 1):
            up, down = ([list(step) for step in hazards] for _ in range(2))
            up[place][why] += 1e-6
            down[place][why] -= 1e-6
            slopes.append((share(up, wanted) - share(down, wanted)) / 2e-6)
        p = np.array(hazards[place])
        variance += np.array(slopes) @ (np.diag(p) - np.outer(p, p)) @ np.array(slopes) / n
    return share(hazards, wanted), variance


@CALM
@given(LIVES)
def test_it_is_the_definition(rows) -> None:
    entry, end, cause, group = arrays(rows)
    steps = cumulative_incidence(end, cause, entry, group, n_groups=2, n_causes=2).steps
    for row in steps.iter_rows(named=True):
        mine = group == row["group"]
        expected, variance = by_hand(entry[mine], end[mine], cause[mine], row["cause"], row["time"])
        assert row["incidence"] == pytest.approx(expected, abs=1e-12)
        assert row["se"] ** 2 == pytest.approx(variance, abs=1e-8)
        assert row["events"] == int((mine & (end == row["time"]) & (cause == row["cause"])).sum())
        assert row["at_risk"] == int((mine & (entry < row["time"]) & (row["time"] <= end)).sum())
        if row["low"] is not None:
            assert 0 <= row["low"] <= row["incidence"] <= row["high"] <= 1


@CALM
@given(LIVES, st.floats(0, 25))
def test_the_shares_and_the_survivors_make_the_whole(rows, time) -> None:
    entry, end, cause, _ = arrays(rows)
    survivors = kaplan_meier(end, cause > 0, entry).at([time])["survival"].item()
    shares = cumulative_incidence(end, cause, entry, n_causes=2).at([time])["incidence"].to_list()
    assert shares == [None, None] if survivors is None else sum(shares) + survivors == pytest.approx(1)


@CALM
@given(LIVES)
def test_one_cause_alone_is_one_less_survival(rows) -> None:
    entry, end, cause, _ = arrays(rows)
    curve = kaplan_meier(end, cause > 0, entry).steps
    steps = cumulative_incidence(end, (cause > 0).astype(int), entry).steps
    assert steps["incidence"].to_numpy() == pytest.approx(1 - curve["survival"].to_numpy(), abs=1e-12)
    known = curve["se"].is_not_null()
    assert steps.filter(known)["se"].to_numpy() == pytest.approx(curve.filter(known)["se"].to_numpy(), abs=1e-9)


@CALM
@given(LIVES, st.randoms(use_true_random=False), st.floats(0.01, 1000))
def test_neither_order_nor_unit_matters(rows, chance, factor) -> None:
    entry, end, cause, group = arrays(rows)
    turn = list(range(len(end)))
    chance.shuffle(turn)
    here = cumulative_incidence(end, cause, entry, group, n_groups=2, n_causes=2)
    there = cumulative_incidence(
        end[turn] * factor, cause[turn], entry[turn] * factor, group[turn], n_groups=2, n_causes=2
    )
    assert_frame_equal(here.steps.drop("time"), there.steps.drop("time"), abs_tol=1e-12)


# end, cause -> (cause, time, at risk, events, share)
EDGES = {
    "no lives": ([], [], []),
    "nothing happened": ([4, 5], [0, 0], []),
    "all end at once from two causes: they share": ([5, 5], [1, 2], [(1, 5, 2, 1, 0.5), (2, 5, 2, 1, 0.5)]),
    "an end and a censoring at one age: the end is first": ([5, 5], [2, 0], [(2, 5, 2, 1, 0.5)]),
    "all end from one cause": ([5, 6], [1, 1], [(1, 5, 2, 1, 0.5), (1, 6, 1, 1, 1.0)]),
}


@pytest.mark.parametrize("name", EDGES)
def test_edges(name) -> None:
    end, cause, expected = EDGES[name]
    steps = cumulative_incidence(np.array(end, dtype=float), np.array(cause, dtype=int), n_causes=2).steps
    assert steps.select("cause", "time", "at_risk", "events", "incidence").rows() == expected
    assert steps.filter(pl.col("incidence") == 1)["low"].to_list() in ([], [None])


def test_at_keeps_each_group_and_cause_apart() -> None:
    found = cumulative_incidence([3, 5, 9, 9], [1, 2, 0, 1], group=[0, 0, 0, 1]).at([9, 4, 10])
    assert found.select("group", "cause", "time", "incidence").rows() == [
        (0, 1, 4.0, pytest.approx(1 / 3)),
        (0, 1, 9.0, pytest.approx(1 / 3)),
        (0, 1, 10.0, None),
        (0, 2, 4.0, 0.0),
        (0, 2, 9.0, pytest.approx(1 / 3)),
        (0, 2, 10.0, None),
        (1, 1, 4.0, 0.0),
        (1, 1, 9.0, 1.0),
        (1, 1, 10.0, 1.0),  # all have ended: known for ever
        (1, 2, 4.0, 0.0),
        (1, 2, 9.0, 0.0),
        (1, 2, 10.0, 0.0),
    ]


@pytest.mark.parametrize("cause", [[0, 3], [-1, 0], [0.5, 1.0]])
def test_causes_must_be_numbered(cause) -> None:
    with pytest.raises(FleetlensError, match="'cause' must be whole numbers from 0 to 2"):
        cumulative_incidence([1, 2], cause, n_causes=2)
