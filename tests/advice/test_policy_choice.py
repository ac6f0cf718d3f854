"""The policy that lives and prices speak for, on fits given by hand."""

from math import inf
from typing import Any

import numpy as np
import pytest

from fleetlens.advice import policy_choice
from fleetlens.advice.draws import drawn_lives
from fleetlens.advice.options import lives_of
from fleetlens.advice.policy_choice import Choice, Terms, best_choice, words
from fleetlens.reliability.cleaning_policy import Policy, Prices, life, policy_rate

TERMS = Terms(clean=100.0, replace=400.0, failure=800.0, last_failure=1_000.0, mended=0.5, service_km=30_000.0)


def fit(shape: float, scale: float = 100_000.0, low: float | None = None, failures: int = 80) -> dict[str, Any]:
    """A row of WeibullFit.rows."""
    return {
        "lives": failures,
        "failures": failures,
        "shape": shape,
        "shape_low": shape * 0.85 if low is None else low,
        "shape_high": shape * 1.2,
        "scale": scale,
        "var_log_shape": 0.006,
        "var_log_scale": 0.002,
        "cov_log": -0.001,
    }


NONE = fit(2.0, failures=0) | {"lives": 3, "shape": None, "shape_low": None, "shape_high": None, "scale": None}


def changed(**prices: Any) -> Terms:
    return Terms(**{name: getattr(TERMS, name) for name in TERMS.__slots__} | prices)


def ages(found: Choice) -> tuple[float, float]:
    assert found.policy is not None, found.verdict
    return float(found.policy.first[0]), float(found.policy.after[0])


def test_only_a_life_known_to_wear_out_gets_a_planned_age() -> None:
    both = best_choice(fit(3.0), fit(2.0, 70_000), TERMS)
    assert max(ages(both)) < inf
    first_only = best_choice(fit(3.0), fit(2.0, 70_000, low=0.98), TERMS)
    assert ages(first_only)[0] < inf
    assert first_only.policy is not None
    assert first_only.policy.cleanings == 0 or ages(first_only)[1] == inf
    next_only = best_choice(fit(2.0, low=0.98), fit(3.0, 70_000), changed(mended=0.9))
    assert ages(next_only)[0] == inf
    assert ages(next_only)[1] < inf
    neither = best_choice(fit(2.0, low=0.98), fit(2.0, 70_000, low=0.98), TERMS)
    assert neither.policy is None
    assert neither.verdict.word == "not enough evidence"


def test_run_to_failure_is_the_cheapest_way_of_planning_nothing() -> None:
    """Cleaned parts that fail at once make mending by a cleaning dear: replacing at failures is no schedule's merit."""
    new, cleaned = fit(2.5), fit(1.2, 12_000.0)
    terms = changed(last_failure=850.0, mended=0.6)
    found = best_choice(new, cleaned, terms)
    lives = life([2.5], [100_000.0]), life([1.2], [12_000.0])
    prices = Prices(100.0, 400.0, 800.0, 850.0)
    never = np.array([inf])
    rates = {n: policy_rate(Policy(never, never, n), *lives, prices, 0.6).item() for n in (0, 1, 2, 3, 4, 5, 6, inf)}
    assert min(rates, key=lambda n: rates[n]) == 0
    assert rates[inf] > 1.3 * rates[0]
    assert found.run_to_failure == pytest.approx(rates[0])


@pytest.mark.parametrize(
    ("terms", "why"),
    [
        (changed(failure=None), "the price of a failure is unknown"),
        (changed(clean=None, replace=None), "the prices of a cleaning and of a replacement are unknown"),
    ],
)
def test_unknown_prices_are_named(terms: Terms, why: str) -> None:
    found = best_choice(fit(3.0), fit(2.0), terms)
    assert found.verdict.word == "not enough evidence"
    assert why in found.verdict.why


def test_without_a_price_of_one_the_other_is_priced_alone() -> None:
    cleaning = best_choice(fit(3.0), fit(2.5, 80_000), changed(replace=None))
    assert cleaning.policy is not None
    assert (cleaning.policy.cleanings, cleaning.replace_only) == (inf, None)
    replacing = best_choice(fit(3.0), fit(2.5, 80_000), changed(clean=None))
    assert replacing.policy is not None
    assert (replacing.policy.cleanings, replacing.clean_only) == (0, None)


def test_with_too_few_failed_cleaned_parts_only_replacements_are_priced() -> None:
    found = best_choice(fit(3.0), NONE, TERMS)
    assert found.policy is not None
    assert found.policy.cleanings == 0
    assert found.clean_only is None
    assert "no failure in 3 lives of cleaned parts" in " ".join(found.notes)
    dear = best_choice(fit(3.0), NONE, changed(replace=950.0))
    assert dear.verdict.word == "not enough evidence"
    assert "can't tell what a cleaning buys" in dear.verdict.why


def test_falling_hazards_are_never_worth_it() -> None:
    falling = fit(0.7)
    assert best_choice(falling, falling, TERMS).verdict.word == "not worth it"


@pytest.mark.parametrize(
    ("policy", "told"),
    [
        ((80_000, 50_000, 0), "replace at 80,000 km"),
        ((inf, 50_000, 0), "run to failure"),
        ((80_000, 50_000, inf), "clean at 80,000 km, then every 50,000 km"),
        ((80_000, 50_000, 1), "clean at 80,000 km, then every 50,000 km, replace instead after 1 cleaning"),
        ((80_000, 50_000, 3), "clean at 80,000 km, then every 50,000 km, replace instead after 3 cleanings"),
        ((80_000, inf, 3), "clean at 80,000 km, run a cleaned part to failure"),
        ((inf, 50_000, inf), "run a new part to failure, 50,000 km after a cleaning clean again"),
    ],
)
def test_a_policy_in_words(policy: tuple[float, float, float], told: str) -> None:
    first, after, cleanings = policy
    assert words(Policy(np.array([first]), np.array([after]), cleanings)) == told


def test_new_and_cleaned_lives_are_drawn_apart() -> None:
    one = {name: value for name, value in fit(2.0).items() if name in ("shape", "scale") or "log" in name}
    lives = lives_of({f"{kind}_{name}": value for kind in ("new", "cleaned") for name, value in one.items()})
    assert lives.cleaned is not None
    assert (lives.new.shape[0], lives.cleaned.shape[0]) == (2.0, 2.0)
    assert abs(np.corrcoef(lives.new.shape[1:], lives.cleaned.shape[1:])[0, 1]) < 0.2


def test_a_policy_is_tried_on_new_and_cleaned_lives_that_vary_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[Any] = []

    def keep(*asked: Any) -> Any:
        drawn.append(drawn_lives(*asked))
        return drawn[-1]

    monkeypatch.setattr(policy_choice, "drawn_lives", keep)
    best_choice(fit(3.0), fit(2.5, 80_000.0), TERMS)
    new, cleaned = drawn
    assert abs(np.corrcoef(new.shape[0], cleaned.shape[0])[0, 1]) < 0.2
