"""Weibull fits against published fits and independent maximisers; sources and bases in values/weibull.toml."""

import numpy as np
import polars as pl
import pytest
from scipy.special import ndtri

from fleetlens.reliability.weibull import CONSTANT, WEAR_OUT, WeibullFit, fit

Z = ndtri(0.975)


def figures(fitted: WeibullFit) -> dict[str, float]:
    """Everything that a reference may print, from one fit."""
    row, b10 = fitted.rows.row(0, named=True), fitted.life(0.10).row(0, named=True)
    assert row["outcome"] == "fitted"
    assert row["score"] < 1e-8
    shape, scale = row["shape"], row["scale"]
    se_log_shape, se_log_scale = row["var_log_shape"] ** 0.5, row["var_log_scale"] ** 0.5
    # log B10 = log scale + c / shape
    turn = -np.log(-np.log(0.9)) / shape
    se_log_b10 = (row["var_log_scale"] + 2 * turn * row["cov_log"] + turn**2 * row["var_log_shape"]) ** 0.5
    return {
        "shape": shape,
        "scale": scale,
        "se_shape": row["shape_se"],
        "se_scale": row["scale_se"],
        "mu": np.log(scale),
        "sigma": 1 / shape,
        "se_mu": se_log_scale,
        "se_log_sigma": se_log_shape,
        "se_sigma": se_log_shape / shape,
        "cov_mu_sigma": -row["cov_log"] / shape,
        "loglik": row["loglik"],
        "b10": b10["value"],
        "se_b10": b10["value"] * se_log_b10,
        "b10_wald_low": b10["value"] * np.exp(-Z * se_log_b10),
        "b10_wald_high": b10["value"] * np.exp(Z * se_log_b10),
        "scale_wald_low": scale * np.exp(-Z * se_log_scale),
        "scale_wald_high": scale * np.exp(Z * se_log_scale),
        "shape_wald_low": shape * np.exp(-Z * se_log_shape),
        "shape_wald_high": shape * np.exp(Z * se_log_shape),
        "shape_lr_low": row["shape_low"],
        "shape_lr_high": row["shape_high"],
        "scale_lr_low": row["scale_low"],
        "scale_lr_high": row["scale_high"],
        "b10_lr_low": b10["low"],
        "b10_lr_high": b10["high"],
        "n": row["lives"],
        "failures": row["failures"],
    }


def some(ours: dict[str, float], reference) -> dict[str, float]:
    return {name: value for name, value in ours.items() if name in reference.values}


@pytest.mark.parametrize(
    ("name", "failed", "reading"),
    [
        # Published fit read; likelihood-ratio limits computed twice.
        ("shock_absorber_weibull", pl.col("failed") == 1, WEAR_OUT),
        # Computed twice, no printed figure.
        ("shock_absorber_mode1_weibull", pl.col("mode") == 1, WEAR_OUT),
        ("shock_absorber_mode2_weibull", pl.col("mode") == 2, WEAR_OUT),
        # Published fit from memory (SAS/QC User's Guide); its shape interval holds 1.
        ("generator_fan_weibull", pl.col("failed") == 1, CONSTANT),
        # NIST/SEMATECH e-Handbook 8.4.1.3, read.
        ("nist_8_4_1_3_weibull", pl.col("failed") == 1, CONSTANT),
    ],
)
def test_right_censored(name, failed, reading, reference, table) -> None:
    check = reference(name)
    lives = table(check.data)
    fitted = fit(lives.to_series(0), lives.select(failed).to_series())
    check.holds(figures(fitted))
    assert fitted.reading()["reading"].to_list() == [reading]


def test_where_a_printed_fit_stops_short_of_the_maximum(reference, table) -> None:
    """weibulltools prints mu 10.2298631, sigma 0.3164092 for the shock absorbers: its likelihood is below ours."""
    lives = table("shock_absorber")
    km, failed = lives["km"].to_numpy(), lives["failed"].to_numpy() == 1
    check = reference("shock_absorber_weibull")

    def loglik(mu: float, sigma: float) -> float:
        shape, x = 1 / sigma, km / np.exp(mu)
        return float(np.sum(failed * (np.log(shape) + shape * np.log(x) - np.log(km)) - x**shape))

    row = fit(km, failed).rows.row(0, named=True)
    ours = loglik(np.log(row["scale"]), 1 / row["shape"])
    assert ours == pytest.approx(check.values["loglik"], abs=1e-9)
    assert ours > loglik(check.disputed["mu"], check.disputed["sigma"])
    assert 1 / row["shape"] == pytest.approx(0.3164086, abs=5e-8)


def test_interval_censored_cracked_parts(reference, table) -> None:
    """Nelson 1982, p. 415; data and fit from memory, recomputed by Nelder-Mead and R survreg."""
    parts = table("cracked_parts")
    number, lower = parts["parts"].to_numpy(), parts["lower"].to_numpy()
    failed = parts["upper"].is_not_null().to_numpy()
    end = np.where(failed, parts["upper"].fill_null(0).to_numpy(), lower)
    fitted = fit(np.repeat(end, number), np.repeat(failed, number), lower=np.repeat(lower, number))
    check = reference("cracked_parts_interval_weibull")
    check.holds(some(figures(fitted), check))


@pytest.mark.parametrize("sex", ["male", "female", "all"])
def test_left_truncated_channing_house(sex, reference, channing) -> None:
    """Computed four ways; leaving entry out gives a far steeper shape, so the test has teeth."""
    lives = channing if sex == "all" else channing.filter(pl.col("sex") == sex.capitalize())
    check = reference(f"channing_weibull_{sex}")
    fitted = figures(fit(lives["exit_month"], lives["died"], lives["entry_month"]))
    ignoring = figures(fit(lives["exit_month"], lives["died"]))
    ours = some(fitted, check) | {f"{name}_ignoring_entry": ignoring[name] for name in ("shape", "scale")}
    check.holds(ours)
    assert ignoring["shape"] > 1.4 * fitted["shape"]


def test_grouped_fits_are_the_single_fits(reference, channing) -> None:
    """Men and women of Channing House in one call."""
    group = (channing["sex"] == "Female").cast(pl.Int64)
    fitted = fit(channing["exit_month"], channing["died"], channing["entry_month"], group=group)
    for place, name in enumerate(("channing_weibull_male", "channing_weibull_female")):
        row, values = fitted.rows.row(place, named=True), reference(name).values
        assert row["shape"] == pytest.approx(values["shape"], rel=1e-5)
        assert row["scale_low"] == pytest.approx(values["scale_lr_low"], rel=1e-5)
