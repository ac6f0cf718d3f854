"""Rates, rate ratios and shares; sources and bases in values/rates.toml."""

import numpy as np
import pytest
from scipy.stats import binom, binomtest, chi2_contingency, fisher_exact

from fleetlens.reliability import rates


def test_garwood(reference) -> None:
    """Garwood 1936: 95 % limits of a Poisson mean, printed figures from memory."""
    counts = [0, 1, 5, 10, 20]
    rows = rates.poisson_interval(counts, 1.0)
    ours = {f"low_{k}": low for k, low in zip(counts, rows["low"], strict=True)}
    reference("poisson_exact_counts").holds(ours | {f"high_{k}": x for k, x in zip(counts, rows["high"], strict=True)})


def test_fifteen_in_four_hundred(reference) -> None:
    """R packages DescTools and exactci, read in the tests of statsmodels."""
    reference("poisson_exact_15_400").holds(rates.poisson_interval(15, 400).row(0, named=True))


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("rate_ratio_11_21", (11, 800.0, 21, 3011.0)),  # R's help example, run
        ("rate_ratio_60_30", (60, 51477.5, 30, 54308.7)),  # Gu et al. 2008; inputs read, limits computed
    ],
)
def test_rate_ratio(name, counts, reference) -> None:
    row = rates.rate_ratio(*counts).row(0, named=True)
    check = reference(name)
    check.holds({"p_central" if key == "p" else key: value for key, value in row.items()}, not_ours=frozenset({"p"}))
    # R's own p sums the outcomes that are no likelier; scipy does too.
    events, base, before, base_before = counts
    theirs = binomtest(events, events + before, base / (base + base_before)).pvalue
    assert theirs == pytest.approx(check.values["p"], abs=1e-7)


def test_shares(reference) -> None:
    """NIST 7.2.4.1 and Newcombe 1998 table I, printed figures from memory; R binom.test and prop.test, run."""
    check, ours = reference("proportion_ci"), {}
    for name in check.values:
        kind, side, count, _, total = name.split("_")
        method = rates.proportion_exact if kind.startswith("exact") else rates.proportion_wilson
        ours[name] = method(int(count), int(total), int(kind[-2:]) / 100)[side].item()
    check.holds(ours)


def test_where_a_printed_limit_is_off_by_a_digit(reference) -> None:
    """NIST's upper 90 % limit of 4 in 20 is remembered as 0.401029: our limit leaves 5 % below it, theirs doesn't."""
    theirs = reference("proportion_ci").disputed["exact90_high_4_of_20"]
    high = rates.proportion_exact(4, 20, 0.90)["high"].item()
    assert binom.cdf(4, 20, high) == pytest.approx(0.05, abs=1e-12)
    assert abs(binom.cdf(4, 20, theirs) - 0.05) > 1e-7


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("two_proportions_7_34_1_34", (7, 34, 1, 34)),  # Fagerland et al. 2015, read
        ("two_proportions_56_70_48_80", (56, 70, 48, 80)),  # Newcombe 1998 table II (a), from memory
    ],
)
def test_difference_of_shares(name, counts, reference) -> None:
    row, check = rates.difference_of_proportions(*counts).row(0, named=True), reference(name)
    ours = {"difference": row["difference"], "newcombe_low": row["low"], "newcombe_high": row["high"]}
    a, n, b, m = counts
    cells = np.array([[a, n - a], [b, m - b]])
    # z, p and Fisher's test aren't figures of ours: scipy reproduces them, so that the inputs are known to be right.
    chi_squared, p = chi2_contingency(cells, correction=False)[:2]
    theirs = {"z": np.sqrt(chi_squared), "p": p, "fisher_p": fisher_exact(cells)[1]}
    check.holds(ours | theirs, not_ours=frozenset({"wald_low", "wald_high"}))
