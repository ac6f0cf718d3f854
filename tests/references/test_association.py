"""Lift and tables with fixed margins; sources and bases in values/association.toml."""

import numpy as np
import pytest
from scipy.stats import binom, chi2, hypergeom
from scipy.stats.contingency import odds_ratio

from fleetlens.reliability.association import lift
from fleetlens.reliability.rates import ratio_of_ratios


def test_tea_and_coffee(reference) -> None:
    """Tan, Steinbach & Kumar 2006, from memory; limits computed."""
    both, first, second, total = 150, 200, 800, 1000
    row = lift(both, first, second, total).row(0, named=True)
    width = np.log(row["high"] / row["low"]) / (2 * 1.959963984540054)
    # Support, confidence and the tests of the table are no figures of ours: they show that the inputs are right.
    cells = np.array([[150, 50], [650, 150]])
    expected = np.outer(cells.sum(axis=1), cells.sum(axis=0)) / total
    statistic = ((cells - expected) ** 2 / expected).sum()
    theirs = {
        "support": both / total,
        "confidence": both / first,
        "chisq": statistic,
        "p": chi2.sf(statistic, 1),
        "odds_ratio": odds_ratio(cells, kind="sample").statistic,
    }
    ours = {"lift": row["lift"], "low": row["low"], "high": row["high"], "se_log_lift": width}
    reference("lift_tea_coffee").holds(ours | theirs)
    assert row["p"] == pytest.approx(2 * hypergeom.cdf(both, total, first, second))


def ratio(level: float) -> dict[str, float]:
    over = dict.fromkeys(("treated_after", "treated_before", "untreated_after", "untreated_before"), 1.0)
    return ratio_of_ratios(3, 1, 1, 3, level=level, **{f"exposure_{name}": value for name, value in over.items()}).row(
        0, named=True
    )


def test_the_tea_taster(reference) -> None:
    """R's fisher.test, from memory: with equal exposures the ratio of ratios is a table's odds ratio."""
    check, row = reference("tea_tasting"), ratio(0.95)
    check.holds({"low": row["low"], "high": row["high"], "p": row["p"], "low_one_sided": ratio(0.90)["low"]})
    # The printed upper limit is off: ours leaves 2.5 % below the one correct cup too few, theirs doesn't.
    weights = np.array([1.0, 16.0, 36.0, 16.0, 1.0])

    def as_few(odds: float) -> float:
        chance = weights * odds ** np.arange(5.0)
        return float(chance[:4].sum() / chance.sum())

    assert as_few(row["high"]) == pytest.approx(0.025, rel=1e-9)
    assert abs(as_few(check.disputed["high"]) - 0.025) > 1e-4


def test_with_known_untreated_it_is_a_share() -> None:
    """scipy.stats.binom: with endless untreated events only the treated ones' split between after and before counts."""
    row = ratio_of_ratios(
        7,
        20,
        10**6,
        10**6,
        exposure_treated_after=1.0,
        exposure_treated_before=1.0,
        exposure_untreated_after=1.0,
        exposure_untreated_before=1.0,
    ).row(0, named=True)
    assert binom.cdf(7, 27, row["high"] / (1 + row["high"])) == pytest.approx(0.025, rel=1e-3)
    assert binom.sf(6, 27, row["low"] / (1 + row["low"])) == pytest.approx(0.025, rel=1e-3)
