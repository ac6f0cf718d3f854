"""Log-rank tests against R's survdiff, a difference at an age against statsmodels; sources in values/log_rank.toml."""

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.duration.survfunc import SurvfuncRight

from fleetlens.reliability.comparison import difference_at, log_rank
from fleetlens.reliability.survival import kaplan_meier


def test_aml(reference, table) -> None:
    """Miller 1997, p. 49; R prints 3.4, p = 0.0653 (from memory)."""
    lives = table("aml")
    result = log_rank(lives["weeks"], lives["status"], lives["maintained"])
    expected = result.rows["expected"]
    assert result.degrees == 1
    reference("aml_logrank").holds(
        {
            "chisq": result.chi_squared,
            "p": result.p,
            "observed_nonmaintained": result.rows["observed"][0],
            "expected_nonmaintained": expected[0],
            "expected_maintained": expected[1],
        }
    )


def test_ovarian(reference, table) -> None:
    """Edmonson et al. 1979; R prints 1.1, p = 0.303 (from memory)."""
    lives = table("ovarian")
    result = log_rank(lives["futime"], lives["fustat"], lives["rx"] - 1)
    reference("ovarian_logrank").holds({"chisq": result.chi_squared, "p": result.p})


def test_difference_at_an_age(table) -> None:
    """Leukaemia at 30 weeks: shares and errors by statsmodels, limits and p put together by hand."""
    lives = table("aml")
    group = lives["maintained"].to_numpy()
    row = difference_at(kaplan_meier(lives["weeks"], lives["status"], group=group), [30]).row(0, named=True)
    found = []
    for number in (0, 1):
        mine = lives.filter(group == number)
        curve = SurvfuncRight(mine["weeks"].to_numpy(), mine["status"].to_numpy())
        step = np.flatnonzero(curve.surv_times <= 30)[-1]
        share, log_share = curve.surv_prob[step], np.log(curve.surv_prob[step])
        spread = curve.surv_prob_se[step] / (share * log_share)
        ends = share ** np.exp(1.959963984540054 * np.array([-spread, spread]))
        found.append((share, 1 - ends.max(), 1 - ends.min(), np.log(-log_share), spread))
    (a, a_low, a_high, a_log, a_spread), (b, b_low, b_high, b_log, b_spread) = found
    assert row["difference"] == pytest.approx(b - a)
    assert row["low"] == pytest.approx(b - a - np.hypot(1 - a - a_low, b_high - (1 - b)))
    assert row["high"] == pytest.approx(b - a + np.hypot(a_high - (1 - a), 1 - b - b_low))
    assert row["p"] == pytest.approx(2 * norm.sf(abs(a_log - b_log) / np.hypot(a_spread, b_spread)))
