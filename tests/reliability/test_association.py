"""Lift and tables with fixed margins: scipy, chances added up, edges, what must not matter."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import hypergeom, nchypergeom_fisher
from scipy.stats.contingency import odds_ratio

from fleetlens.errors import FleetlensError
from fleetlens.reliability.association import lift
from fleetlens.reliability.hypergeometric import Tables
from fleetlens.reliability.rates import rate_ratio, ratio_of_ratios

CALM = settings(max_examples=60, deadline=None)
CELLS = st.tuples(*[st.integers(0, 25)] * 4)


def table(cells) -> tuple[float, ...]:
    """both, first, second and total of a table."""
    a, b, c, d = cells
    return a, a + b, a + c, a + b + c + d


def ratio(cells, bases=(1.0, 1.0, 1.0, 1.0)) -> dict[str, float | None]:
    names = ("treated_after", "treated_before", "untreated_after", "untreated_before")
    over = {f"exposure_{name}": base for name, base in zip(names, bases, strict=True)}
    return ratio_of_ratios(*cells, **over).row(0, named=True)


@CALM
@given(CELLS, st.floats(0.05, 20))
def test_tails_are_scipys(cells, odds) -> None:
    """scipy.stats.nchypergeom_fisher."""
    both, first, second, total = table(cells)
    small, large = Tables(*(np.array([float(x)]) for x in table(cells))).tails(np.log([odds]))
    if 0 in (first, second) or total in (first, second):
        assert (small[0], large[0]) == (pytest.approx(1), pytest.approx(1))
        return
    theirs = nchypergeom_fisher(total, first, second, odds)
    assert small[0] == pytest.approx(theirs.cdf(both), abs=1e-9)
    assert large[0] == pytest.approx(theirs.sf(both - 1), abs=1e-9)


@CALM
@given(CELLS)
def test_lift_is_its_definition(cells) -> None:
    both, first, second, total = table(cells)
    row = lift(both, first, second, total).row(0, named=True)
    if not first or not second:
        assert set(row.values()) == {None}
        return
    assert row["lift"] == pytest.approx(both * total / (first * second))
    assert 0 <= row["low"] <= row["lift"] * (1 + 1e-12)
    assert row["lift"] <= row["high"] * (1 + 1e-12)
    tails = hypergeom.cdf(both, total, first, second), hypergeom.sf(both - 1, total, first, second)
    assert row["p"] == pytest.approx(min(1, 2 * min(tails)))
    assert row == pytest.approx(lift(both, second, first, total).row(0, named=True))


def test_lift_edges_and_refusals() -> None:
    none = lift(0, 10, 20, 100).row(0, named=True)
    assert (none["lift"], none["low"]) == (0.0, 0.0)
    assert none["high"] == pytest.approx((1 - 0.025 ** (1 / 10)) * 100 / 20)  # 0 of 10, exact
    always = lift(20, 20, 20, 100).row(0, named=True)
    assert (always["lift"], always["high"]) == (5.0, 5.0)  # can't be more than always
    assert lift([], [], [], []).is_empty()
    for wrong in ((11, 10, 20, 100), (1, 60, 60, 100)):
        with pytest.raises(FleetlensError, match="doesn't fit its margins"):
            lift(*wrong)


@CALM
@given(CELLS)
def test_ratio_of_ratios_is_the_exact_odds_ratio(cells) -> None:
    """scipy.stats.contingency.odds_ratio, conditional, where no exposure differs."""
    row, (a, b, c, d) = ratio(cells), cells
    if not (a + b and c + d and a + c and b + d):
        assert set(row.values()) == {None}
        return
    low, high = odds_ratio([[a, b], [c, d]]).confidence_interval(0.95)
    assert row["low"] == pytest.approx(low, rel=1e-6)
    assert row["high"] == (None if np.isinf(high) else pytest.approx(high, rel=1e-6))
    assert row["ratio"] == (pytest.approx(a * d / (b * c)) if b * c else None)
    # p and the limits agree.
    assert (row["p"] < 0.05) == (row["low"] > 1 or (row["high"] is not None and row["high"] < 1))


@CALM
@given(CELLS, st.tuples(*[st.floats(0.1, 50)] * 4))
def test_exposures_scale_the_ratio(cells, bases) -> None:
    """Twice the km with the same failures is half the rate; the other way round is the inverse."""
    here, plain = ratio(cells, bases), ratio(cells)
    factor = bases[1] * bases[2] / (bases[0] * bases[3])
    for name in ("ratio", "low", "high"):
        assert here[name] == (None if plain[name] is None else pytest.approx(plain[name] * factor))
    turned = ratio((cells[1], cells[0], cells[3], cells[2]), (bases[1], bases[0], bases[3], bases[2]))
    assert turned["p"] == (None if here["p"] is None else pytest.approx(here["p"]))
    if here["low"] and here["high"]:
        assert (turned["low"], turned["high"]) == (pytest.approx(1 / here["high"]), pytest.approx(1 / here["low"]))


def test_many_untreated_leave_the_plain_rate_ratio() -> None:
    """Where the untreated ones' change is known, what is left is the change of the treated ones."""
    here = ratio((12, 30, 10**5, 10**5), (1.0, 2.0, 1.0, 1.0))
    plain = rate_ratio(12, 1.0, 30, 2.0).row(0, named=True)
    assert here == pytest.approx(plain, rel=0.01)


def test_what_is_not_known_is_null() -> None:
    assert set(ratio((0, 0, 3, 4)).values()) == {None}
    assert set(ratio((1, 2, 3, 4), (1.0, 0.0, 1.0, 1.0)).values()) == {None}
    assert ratio((5, 0, 5, 5))["high"] is None
    assert ratio((0, 5, 5, 5))["low"] == 0.0
