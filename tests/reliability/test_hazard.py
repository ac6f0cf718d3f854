"""Cumulative hazards: by hand, lifelines, edges."""

import numpy as np
import pytest
from lifelines import NelsonAalenFitter

from fleetlens.reliability.hazard import nelson_aalen
from fleetlens.reliability.survival import kaplan_meier


def draw(seed):
    chance = np.random.default_rng(seed)
    entry = np.floor(chance.uniform(0, 20, 300))
    end = entry + np.ceil(chance.uniform(0, 30, 300))
    return end, chance.random(300) < 0.6, entry, chance.integers(0, 3, 300)


def test_it_is_the_definition() -> None:
    end, failed, entry, group = draw(1)
    steps = nelson_aalen(end, failed, entry, group).steps
    for number in range(3):
        mine = steps.filter(steps["group"] == number)
        hazard = variance = 0.0
        for row in mine.iter_rows(named=True):
            here = group == number
            n = (here & (entry < row["time"]) & (row["time"] <= end)).sum()
            d = (here & failed & (end == row["time"])).sum()
            hazard, variance = hazard + d / n, variance + d / n**2
            assert (row["at_risk"], row["failures"]) == (n, d)
            assert (row["hazard"], row["se"]) == (pytest.approx(hazard), pytest.approx(variance**0.5))
            assert row["low"] * row["high"] == pytest.approx(hazard**2)
            assert np.log(row["high"] / hazard) == pytest.approx(1.959963984540054 * variance**0.5 / hazard)


def test_lifelines_agrees() -> None:
    """lifelines 0.30: the estimate with ties; without ties (its variance for ties is another one) the limits too."""
    end, failed, entry, _ = draw(2)
    ours = nelson_aalen(end, failed, entry).steps
    theirs = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(end, failed, entry=entry)
    at = theirs.cumulative_hazard_.loc[ours["time"].to_list()]
    assert ours["hazard"].to_numpy() == pytest.approx(at.to_numpy().ravel())
    end += np.random.default_rng(2).random(len(end))
    ours = nelson_aalen(end, failed, entry).steps
    theirs = NelsonAalenFitter().fit(end, failed, entry=entry)
    limits = theirs.confidence_interval_.loc[ours["time"].to_list()].to_numpy()
    assert ours.select("low", "high").to_numpy() == pytest.approx(limits)


def test_it_lies_below_the_log_of_the_survival_and_edges() -> None:
    end, failed, entry, group = draw(3)
    hazard, curve = nelson_aalen(end, failed, entry, group).steps, kaplan_meier(end, failed, entry, group).steps
    whole = curve["survival"] > 0
    assert (hazard["hazard"].filter(whole) <= -curve["survival"].filter(whole).log() + 1e-9).all()
    assert nelson_aalen([], []).steps.is_empty()
    assert nelson_aalen([3.0], [0]).steps.is_empty()
