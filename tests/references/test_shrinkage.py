"""Shrunken rates and shares against published data and libraries; sources and bases in values/shrinkage.toml."""

import numpy as np
import pytest
from scipy.stats import nbinom
from statsmodels.discrete.discrete_model import NegativeBinomial

from fleetlens.reliability.shares import dirichlet
from fleetlens.reliability.shrinkage import FITTED, gamma_poisson


def test_ten_pumps(reference, table) -> None:
    """Gaver & O'Muircheartaigh 1987: prior, means and limits; and with the hours as another package rounds them."""
    pumps = table("pumps")
    ours = {}
    for hours, ending in (("kilohours", ""), ("kilohours_2dp", "_2dp")):
        result = gamma_poisson(pumps["failures"], pumps[hours])
        assert result.outcome == FITTED
        base, a, b = pumps[hours].to_numpy(), result.prior_shape, result.prior_rate
        loglik = nbinom.logpmf(pumps["failures"].to_numpy(), a, b / (b + base)).sum()
        ours |= {f"alpha{ending}": a, f"beta{ending}": b, f"loglik{ending}": loglik}
        if not ending:
            ours |= {f"mean_{pump}": rate for pump, rate in enumerate(result.rows["rate"], 1)}
            raw = (pumps["failures"] / pumps[hours]).to_list()
            for pump in (1, 2, 10):
                row = result.rows.row(pump - 1, named=True)
                ours |= {f"low_{pump}": row["low"], f"high_{pump}": row["high"], f"raw_{pump}": raw[pump - 1]}
    reference("pumps_gamma_poisson").holds(ours)


def test_statsmodels_fits_the_same_prior(table) -> None:
    """Its negative binomial regression on a constant, with the hours as exposure: alpha is 1 / shape."""
    pumps = table("pumps")
    ours = gamma_poisson(pumps["failures"], pumps["kilohours"])
    model = NegativeBinomial(pumps["failures"].to_numpy(), np.ones(10), exposure=pumps["kilohours"].to_numpy())
    constant, alpha = model.fit(disp=0, method="bfgs", maxiter=500, gtol=1e-9).params
    assert (1 / alpha, np.exp(constant)) == pytest.approx((ours.prior_shape, ours.prior_shape / ours.prior_rate), 1e-4)


def test_a_poll() -> None:
    """Gelman et al., Bayesian Data Analysis, section 3.4: 727, 583 and 137 of 1,447 with a flat prior give a Dirichlet
    of 728, 584 and 138; from memory."""
    rows = dirichlet([727, 583, 137], prior=1.0)
    assert rows["share"].to_numpy() == pytest.approx(np.array([728, 584, 138]) / 1450)
    draws = np.random.default_rng(7).dirichlet([728, 584, 138], 200_000)
    low, high = np.quantile(draws, [0.025, 0.975], axis=0)
    assert rows["low"].to_numpy() == pytest.approx(low, abs=5e-4)
    assert rows["high"].to_numpy() == pytest.approx(high, abs=5e-4)
