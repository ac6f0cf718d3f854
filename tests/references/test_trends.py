"""Trend tests, the power law and bounds against NIST, MIL-HDBK-189 and textbooks; sources in values/power_law.toml."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import cramervonmises

from fleetlens.reliability.bounds import lives_needed, zero_failure
from fleetlens.reliability.hazard import nelson_aalen
from fleetlens.reliability.power_law import power_law
from fleetlens.reliability.power_law_grouped import power_law_grouped
from fleetlens.reliability.rates import poisson_interval
from fleetlens.reliability.trend_tests import trend_tests

APPROXIMATIONS = frozenset({"a_modified", "mtbf_modified", "mtbf_low_80", "mtbf_high_80", "reversals"})


@pytest.mark.parametrize(
    ("name", "ended_by_event"),
    [
        ("nist_8_4_5_2_power_law", False),
        ("mil_hdbk_189_growth", False),
        ("diesel_grampus_power_law", False),
        ("diesel_grampus_to_16", False),
        ("diesel_halfbeak_power_law", False),
        ("lhd_machine_trend", False),
        ("amc_ambassador_power_law", True),
        ("aircondition_trend", True),
        ("crow_amsaa_development", True),
    ],
)
def test_one_unit(name, ended_by_event, reference, table) -> None:
    check = reference(name)
    times, end = table(check.data).to_series().cast(pl.Float64), check.values["T"]
    unit = np.zeros(len(times), dtype=np.int64)
    test = trend_tests(unit, times, None, [end], ended_by_event=ended_by_event).row(0, named=True)
    row = power_law(unit, times, None, [end], ended_by_event=ended_by_event, level=0.90).rows.row(0, named=True)
    assert row["limits"] == "exact"
    # The distance of the transformed ages from an even spread is no figure of ours: scipy's shows the inputs right.
    inside = (times.to_numpy() / end) ** row["shape_unbiased"]
    inside = inside[:-1] if ended_by_event else inside
    ours = {
        "n": row["events"],
        "T": row["until"],
        "beta": row["shape"],
        "lam": row["scale"] ** -row["shape"],
        "eta": row["scale"],
        "intensity_T": row["rate"],
        "mtbf_T": 1 / row["rate"],
        "beta_unbiased": row["shape_unbiased"],
        "beta_low_90": row["shape_low"],
        "beta_high_90": row["shape_high"],
        "mil_hdbk_chi2": test["chi_squared"],
        "mil_hdbk_df": test["degrees"],
        "mil_hdbk_p_two_sided": test["p"],
        "laplace_u": test["laplace"],
        "laplace_p_two_sided": test["laplace_p"],
        "cramer_von_mises": cramervonmises(inside, "uniform").statistic,
    }
    late = test["p"] / 2
    ours["mil_hdbk_cdf"] = late if test["chi_squared"] < test["degrees"] else 1 - late
    if "beta_modified" in check.values:
        ours["beta_modified"] = row["shape_unbiased"]
    check.holds(ours, not_ours=APPROXIMATIONS & set(check.values))


def test_where_a_record_ends_changes_the_answer(reference) -> None:
    """Grampus: the printed shape comes only from ending at the last repair; take the end from the record."""
    assert (
        reference("diesel_grampus_power_law").values["beta"] > 1.05 * reference("diesel_grampus_to_16").values["beta"]
    )


def test_grouped(reference) -> None:
    row = power_law_grouped([13, 16, 5, 8, 7], [0, 20, 40, 60, 80], [20, 40, 60, 80, 100]).row(0, named=True)
    reference("mil_hdbk_189_grouped").holds(
        {
            "beta": row["shape"],
            "lam": row["scale"] ** -row["shape"],
            "intensity_T": row["rate"],
            "mtbf_T": 1 / row["rate"],
        }
    )


def test_a_constant_rate(reference) -> None:
    """NIST 8.4.5.1: 2 failures in 800 h, by the exact rate and, for the lower limit, by the bound with shape 1."""
    row = poisson_interval(2, 800.0, 0.90).row(0, named=True)
    ours = {"mtbf": 1 / row["rate"], "low_90": 1 / row["high"], "high_90": 1 / row["low"]}
    check = reference("nist_8_4_5_1_hpp")
    check.holds(ours)
    bound = zero_failure([400.0, 300.0, 100.0], [1, 1, 0], shape=1.0, level=0.95)
    assert bound["scale_low"].item() == pytest.approx(check.values["low_90"])
    assert bound["scale"].item() == pytest.approx(check.values["mtbf"])


def test_success_runs() -> None:
    """The usual table of test sizes without failure, from memory: 22 for 90 % at 90 %, 29, 45, 59, 230, 299."""
    table = [
        (0.10, 0.90, 22),
        (0.10, 0.95, 29),
        (0.05, 0.90, 45),
        (0.05, 0.95, 59),
        (0.01, 0.90, 230),
        (0.01, 0.95, 299),
    ]
    for share, level, number in table:
        assert lives_needed(1000, 1000, 2.0, share, level) == number
    # Running each twice as long with shape 2 needs a quarter.
    assert lives_needed(1000, 2000, 2.0, 0.10, 0.90) == 6


def test_nelson_aalen_of_the_leukaemia_trial() -> None:
    """Klein & Moeschberger 2003, table 4.3, 21 patients on 6-MP: hazard and its variance, from memory."""
    weeks = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
    failed = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
    steps = nelson_aalen(weeks, failed).steps
    printed = {6: (0.1428, 0.0068), 7: (0.2017, 0.0103), 10: (0.2683, 0.0147), 13: (0.3517, 0.0217)}
    printed |= {16: (0.4426, 0.0299), 22: (0.5854, 0.0503), 23: (0.7521, 0.0781)}
    assert steps["time"].to_list() == list(printed)
    for row in steps.iter_rows(named=True):
        # Printed from rounded steps: up to one unit of the last digit off.
        assert (row["hazard"], row["se"] ** 2) == pytest.approx(printed[row["time"]], abs=1.1e-4)
