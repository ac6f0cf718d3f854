"""Survival curves against NIST and R; sources and bases in values/kaplan_meier.toml."""

import polars as pl
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import unusable
from fleetlens.reliability.survival import KaplanMeier, kaplan_meier


def steps(curve: KaplanMeier) -> dict[str, float]:
    """Share, standard error, limits and number at risk at each failure, as the references name them."""
    names = {"S": "survival", "se": "se", "low": "low", "high": "high", "atrisk": "at_risk"}
    return {
        f"{name}_{row['time']:.0f}": row[column]
        for row in curve.steps.iter_rows(named=True)
        for name, column in names.items()
    }


def test_shock_absorbers(reference, table) -> None:
    """R survfit with log-log limits, and by hand. A failure and a censoring at 20,100 km: the failure is first."""
    lives = table("shock_absorber")
    curve = kaplan_meier(lives["km"], lives["failed"])
    median = curve.quantile(0.5).row(0, named=True)
    counts = curve.risk.select(n="lives", failures="failures").row(0, named=True)
    ours = steps(curve) | counts | {"median": median["value"], "median_low": median["low"]}
    reference("shock_absorber_km").holds(ours)
    assert median["high"] is None  # the upper limit stays above one half


def test_nist_8_2_1_5(reference, table) -> None:
    """NIST/SEMATECH e-Handbook 8.2.1.5, product formula read."""
    lives = table("nist_kaplan_meier")
    reference("nist_8_2_1_5_km").holds(steps(kaplan_meier(lives["hours"], lives["failed"])))


def test_channing_house_with_late_entry(reference, channing) -> None:
    """R survfit with entry, and by hand. For men the curve from the beginning is 0 for ever: see below."""
    group = (channing["sex"] == "Female").cast(pl.Int64)
    arrays = (channing["exit_month"], channing["died"], channing["entry_month"], group)
    whole, from_68 = kaplan_meier(*arrays), kaplan_meier(*arrays, start=816.0)
    ours: dict[str, float] = {"n": len(channing), "deaths": channing["died"].sum()}
    for place, sex in enumerate(("male", "female")):
        row = whole.risk.row(place, named=True)
        ours |= {f"n_{sex}": row["lives"], f"deaths_{sex}": row["failures"]}
        ages = [800, 840, 900, 960, 1020, 1080, 1140]
        for point in whole.at(ages).filter(pl.col("group") == place).iter_rows(named=True):
            ours[f"S_{sex}_{point['time']:.0f}"] = point["survival"]
            if sex == "female":
                ours[f"se_{sex}_{point['time']:.0f}"] = point["se"] or 0.0  # null before the first death
        for point in from_68.at([900, 960, 1020, 1080]).filter(pl.col("group") == place).iter_rows(named=True):
            ours[f"S68_{sex}_{point['time']:.0f}"] = point["survival"]
    reference("channing_km").holds(ours)


def test_a_curve_ruined_by_a_thin_risk_set_says_so(channing) -> None:
    """Two men entered before 782 months, both died by 781: the curve is 0 there, with 94 men still to come."""
    men = channing.filter(pl.col("sex") == "Male")
    arrays = (men["exit_month"], men["died"], men["entry_month"])
    row = kaplan_meier(*arrays).risk.row(0, named=True)
    assert (row["zero_at"], row["emptied_at"], row["lone_at"]) == (781.0, 781.0, 781.0)
    row = kaplan_meier(*arrays, start=816.0).risk.row(0, named=True)
    assert (row["zero_at"], row["emptied_at"], row["lone_at"]) == (None, None, None)


def test_five_unusable_rows_are_refused_with_a_reason(table) -> None:
    """R's `channing` holds four lives of no length and one typing error (exit 912 where 1012 was meant)."""
    rows = table("channing_house")
    bad = rows.filter(pl.Series(unusable(rows["exit_month"], rows["entry_month"])))
    assert len(bad) == 5
    assert sorted((bad["exit_month"] - bad["entry_month"]).to_list()) == [-47, 0, 0, 0, 0]
    with pytest.raises(FleetlensError, match="5 of 462 lives end at or before their entry"):
        kaplan_meier(rows["exit_month"], rows["died"], rows["entry_month"])
