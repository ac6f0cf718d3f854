"""Control charts, funnels and screens against handbooks and scipy; sources and bases in values/control.toml."""

import numpy as np
import pytest
from scipy.stats import poisson
from statsmodels.stats.multitest import multipletests

from fleetlens.reliability.control import funnel_rate, overdispersion_shares, u_chart
from fleetlens.reliability.multiplicity import false_discovery


def test_nist_6_3_3_1(reference, table) -> None:
    """NIST's wafers, counts and limits read: one out, one on the limit."""
    wafers = table("nist_wafer_counts")
    rows = u_chart(wafers["defects"], 1.0)
    row = rows.row(0, named=True)
    above = rows["signal"].drop_nulls().to_list()
    ours = {"center": row["centre"], "ucl": row["high"], "lcl": row["low"], "points_above": len(above)}
    reference("nist_6_3_3_1_c_chart").holds(ours)
    assert wafers["wafer"].filter(rows["signal"] == "above").to_list() == [24]
    assert 28.0 in rows["rate"].to_list()  # on the limit, and no signal


def test_montgomery(reference) -> None:
    """Montgomery's example 7.4, from memory: a lower limit below 0 is 0."""
    counts = np.repeat([3, 4], [6, 14])
    assert (counts.sum(), len(counts)) == (74, 20)
    row = u_chart(counts, 50.0).row(0, named=True)
    raw = 2 * row["centre"] - row["high"]
    ours = {"center": row["centre"], "ucl": row["high"], "lcl": row["low"], "lcl_raw": raw}
    reference("montgomery_u_chart").holds(ours)


def test_funnel_limits_are_poisson_quantiles() -> None:
    """scipy.stats.poisson: the lower quantile, and the upper one of the count itself."""
    exposure = np.linspace(1, 400, 60)
    rows = funnel_rate(np.rint(exposure / 3), exposure)
    mean = rows["target"].to_numpy() * exposure
    for level, name in ((0.95, "95"), (0.998, "998")):
        low, high = poisson.ppf((1 - level) / 2, mean), poisson.isf((1 - level) / 2, mean)
        assert rows[f"low_{name}"].to_numpy() * exposure == pytest.approx(low)
        assert rows[f"high_{name}"].to_numpy() * exposure == pytest.approx(high)


def test_smokers(reference) -> None:
    """Fleiss 1981, R's prop.test example, run: do four shares differ more than chance?"""
    result = overdispersion_shares([83, 90, 129, 70], [86, 93, 136, 82])
    reference("smokers_chisq").holds({"chisq": result.chi2, "p": result.p})
    assert result.df == 3


def test_benjamini_and_hochberg() -> None:
    """Their own example (1995, section 3.2; the 15 p-values from memory): four are findings at 5 %, not nine."""
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459]
    p += [0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000]
    q = false_discovery(p)
    assert (q <= 0.05).to_list() == [True] * 4 + [False] * 11
    assert q.to_numpy() == pytest.approx(multipletests(p, method="fdr_bh")[1])  # statsmodels
