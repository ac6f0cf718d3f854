"""Published lives through the whole pipe for the further questions: fates, log-rank, trend, few failures, fit.

Sources and basis of every figure stand in values/*.toml. Hours and weeks stand in for km where the source has them.
"""

import json
from math import log
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from references.test_whole_pipe import ask, shock_absorbers, write_fleet
from scipy.stats import chi2

from fleetlens.cli import main

__all__ = ["ask"]


def test_fates_of_shock_absorbers(ask: Any, reference: Any, table: Any) -> None:
    """Mode 1 as failure, mode 2 as planned replacement: both shares and what survives, by R survfit and by hand."""
    check = reference("shock_absorber_cuminc")
    ages = sorted({int(key.split("_")[1]) for key in check.values if key.startswith("S_")})
    units = shock_absorbers(table("shock_absorber"), {1})
    at = ",".join(map(str, ages))
    rows = ask(units, "shock_absorber", 28_000, "lives", "--by", "component", "--show", "fates", "--at", at)
    names = {"failed": "F1", "preventive": "F2", "still in use": "S"}
    assert [row["fate"] for row in rows] == list(names)
    for row in rows:
        for point in row["incidence"]:
            value = check.values[f"{names[row['fate']]}_{point['km']:.0f}"]
            assert point["share"] == pytest.approx(value, abs=check.tolerance["abs"]), row["fate"]


def test_log_rank_of_leukaemia_lives(
    reference: Any, table: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Miller 1997: two groups of patients, weeks as km; the groups as duties of vehicles."""
    check, lives = reference("aml_logrank"), table("aml")
    units = [
        {"ran": weeks, "events": [(weeks, "breakdown", None)] if status else []}
        for weeks, status in lives.select("weeks", "status").iter_rows()
    ]
    folder = write_fleet(tmp_path / "tables", units, "part", 161)
    vehicles = pl.read_csv(folder / "vehicles.csv")
    vehicles.with_columns(duty=pl.Series(lives["maintained"]).cast(pl.String)).write_csv(folder / "vehicles.csv")
    store = str(tmp_path / "store")
    for line in (["load", str(folder)], ["lives", "--by", "duty", "--show", "comparison"]):
        with pytest.raises(SystemExit) as done:
            main([*line, "--store", store, "--json"])
        assert not done.value.code
    said = json.loads(capsys.readouterr().out.split("\n}\n")[1] + "}")
    rows = {row["duty"]: row for row in said["rows"]}
    for row in rows.values():
        assert row["p"] == pytest.approx(check.values["p"], rel=1e-5)
    other, maintained = rows["0"], rows["1"]
    assert other["failures"] == check.values["observed_nonmaintained"]
    assert other["expected"] == pytest.approx(check.values["expected_nonmaintained"], rel=1e-6)
    assert maintained["expected"] == pytest.approx(check.values["expected_maintained"], rel=1e-6)
    assert any(f"chi-squared {check.values['chisq']:.2f} on 1 degrees" in note for note in said["notes"])


def test_trend_of_a_submarines_diesel(ask: Any, reference: Any, table: Any) -> None:
    """Actions on a diesel of U.S.S. Halfbeak: they come ever more often, by both tests and the power law."""
    check = reference("diesel_halfbeak_power_law")
    end = check.values["T"] * 1000
    events = [(hours * 1000, "breakdown", None) for hours in table("halfbeak").to_series()]
    unit = {"ran": end, "events": events}
    (row,) = ask([unit], "diesel", end, "recurrence", "--show", "trend")
    assert row["failures"] == check.values["n"]
    assert row["growth"] == pytest.approx(check.values["beta"], rel=1e-5)
    assert row["laplace"] == pytest.approx(check.values["laplace_u"], rel=1e-5)
    assert row["trend_p"] == pytest.approx(check.values["mil_hdbk_p_two_sided"], rel=1e-3)
    assert row["rate_now"] / 100_000 * 1000 == pytest.approx(check.values["intensity_T"], rel=1e-5)
    assert row["trend"] == "getting worse"
    assert row["growth_low"] > 1


def test_absorbers_that_never_failed(ask: Any, table: Any) -> None:
    """No failure: Nelson 1985's bound for the shape that was given, with scipy's chi-squared."""
    lives = table("shock_absorber")
    units = [{"ran": km, "events": [(km, "scheduled", None)]} for km in lives["km"]]
    question = ("lives", "--by", "component", "--show", "b-lives", "--share", "0.1,0.5", "--shape", "3.16")
    rows = ask(units, "shock_absorber", 28_000, *question)
    total = sum(km**3.16 for km in lives["km"])
    for row in rows:
        assert (row["failures"], row["life_km"], row["life_high"]) == (0, None, None)
        low = (2 * total / chi2.ppf(0.95, 2) * -log(1 - row["share_of_lives"])) ** (1 / 3.16)
        assert row["life_low"] == pytest.approx(low, rel=1e-9)


def test_one_weibull_describes_the_absorbers(ask: Any, reference: Any, table: Any) -> None:
    """Eleven failures of two modes: the published fit again, and no doubt about it."""
    check = reference("shock_absorber_weibull")
    units = shock_absorbers(table("shock_absorber"), {1, 2})
    (row,) = ask(units, "shock_absorber", 28_000, "lives", "--by", "component", "--show", "fit")
    assert row["shape"] == pytest.approx(check.values["shape"], rel=check.tolerance["estimates_rel"])
    assert row["reading"] == "one Weibull describes the lives"
    assert row["fit_p"] > 0.05
