"""The policy of cleanings and replacements that one group's lives and prices speak for, and whether it pays."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isinf
from typing import Any

import numpy as np

from fleetlens.advice.draws import SEED, drawn_lives, limits
from fleetlens.advice.optimum import FLAT, flat_range, rounded, say_flat
from fleetlens.advice.verdicts import (
    NOT_ENOUGH,
    NOT_WORTH,
    WORTH,
    WORTHWHILE,
    Verdict,
    counted,
    little,
    unsure,
    verdict,
)
from fleetlens.findings.lives import ENOUGH_FAILURES
from fleetlens.reliability.cleaning_policy import Life, Policy, Prices, best_policy, life, policy_rate

__all__ = ["MOST_CLEANINGS", "Choice", "Terms", "best_choice", "usable", "words"]

MOST_CLEANINGS = 6
DRAWS = 300
_COVARIANCE = ("var_log_shape", "var_log_scale", "cov_log")

Row = Mapping[str, Any]
Limits = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Terms:
    """Prices (None: unknown), the share of failures mended by a cleaning, and the km between two services."""

    clean: float | None
    replace: float | None
    failure: float | None
    last_failure: float | None
    mended: float
    service_km: float


@dataclass(frozen=True, slots=True)
class Choice:
    """What was found for a group. Costs are per km; what couldn't be found is None; an infinite age means never.

    `policy`, `cost` and what follows stand only where the verdict is "worth it"; the limits are 95 % ones.
    """

    verdict: Verdict
    policy: Policy | None = None
    cost: float | None = None
    run_to_failure: float | None = None
    clean_only: float | None = None
    replace_only: float | None = None
    first_limits: Limits | None = None
    after_limits: Limits | None = None
    saving: float | None = None
    saving_limits: Limits | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Case:
    """One group, ready to be priced: lives as fitted and as drawn, and which of them may have a planned age."""

    lives: tuple[Life, Life]
    drawn: tuple[Life, Life]
    prices: Prices
    mended: float
    planned: tuple[bool, bool]
    numbers: tuple[float, ...]

    def best(self, cleanings: float) -> Policy:
        return best_policy(*self.lives, self.prices, cleanings, self.mended, planned=self.planned)

    def rate(self, policy: Policy) -> float:
        return float(policy_rate(policy, *self.lives, self.prices, self.mended)[0])

    def unplanned(self, lives: tuple[Life, Life]) -> Any:
        """What nothing planned costs, by the number of cleanings after which a failure is mended by a replacement."""
        never = np.array([inf])
        return np.min([policy_rate(Policy(never, never, n), *lives, self.prices, self.mended) for n in self.numbers], 0)


def usable(fit: Row) -> bool:
    """Whether a fit rests on enough failures to price by it."""
    return fit["shape"] is not None and fit["failures"] >= ENOUGH_FAILURES


def best_choice(new: Row, cleaned: Row, terms: Terms) -> Choice:
    """The best policy for lives begun new and begun cleaned, with its verdict; each a row of WeibullFit.rows.

    Only a life that wears out, on enough failures, gets a planned age. Cleanings are considered where enough cleaned
    parts have failed to fit their own life; else planned replacements only.
    """
    priced = _priced(terms)
    if isinstance(priced, Verdict):
        return Choice(priced)
    case = _case(new, cleaned, terms, priced)
    if case is None:
        return Choice(_too_little(new, cleaned, terms))
    policies = {number: case.best(number) for number in case.numbers}
    rates = {number: case.rate(policy) for number, policy in policies.items()}
    number = min(rates, key=lambda each: rates[each])
    policy, reference = policies[number], float(case.unplanned(case.lives)[0])
    unadvised = Choice(_no_wear(new, terms), None, None, reference, rates.get(inf), rates.get(0))
    if not any(case.planned):
        return unadvised
    saving = 1 - rates[number] / reference
    if saving < WORTHWHILE:
        return replace(unadvised, verdict=_no_saving(saving, cleaned))
    shares = 1 - policy_rate(policy, *case.drawn, case.prices, case.mended) / case.unplanned(case.drawn)
    low, high = (float(each) for each in limits(shares))
    if low <= 0:
        return replace(unadvised, verdict=unsure(saving, low, new["failures"] + cleaned["failures"]))
    drawn = best_policy(*case.drawn, case.prices, number, case.mended, planned=case.planned)
    return replace(
        unadvised,
        verdict=Verdict(
            WORTH, f"wear-out; it costs {saving:.0%} less than running to failure ({low:.0%} to {high:.0%})"
        ),
        policy=policy,
        cost=rates[number],
        first_limits=_pair(drawn.first),
        after_limits=_pair(drawn.after) if number else None,
        saving=saving,
        saving_limits=(low, high),
        notes=(*_beside(case, policy, rates), *_on_service(case, policy, terms.service_km), *_no_cleaned_life(cleaned)),
    )


def words(policy: Policy) -> str:
    """The policy in words, distances to the nearest 1,000 km or less."""
    first, after = float(np.ravel(policy.first)[0]), float(np.ravel(policy.after)[0])
    if policy.cleanings == 0:
        return f"replace at {first:,.0f} km" if first < inf else "run to failure"
    begin = f"clean at {first:,.0f} km" if first < inf else "run a new part to failure"
    go_on = f"then every {after:,.0f} km" if after < inf else "run a cleaned part to failure"
    if first == inf and after < inf:
        go_on = f"{after:,.0f} km after a cleaning clean again"
    if isinf(policy.cleanings) or after == inf:
        return f"{begin}, {go_on}"
    times = "1 cleaning" if policy.cleanings == 1 else f"{policy.cleanings:.0f} cleanings"
    return f"{begin}, {go_on}, replace instead after {times}"


def _priced(terms: Terms) -> Prices | Verdict:
    """The prices as far as they are known; a verdict where none can be given."""
    if terms.failure is None:
        return Verdict(NOT_ENOUGH, "the price of a failure is unknown; set it")
    if terms.clean is None and terms.replace is None:
        return Verdict(NOT_ENOUGH, "the prices of a cleaning and of a replacement are unknown; set them")
    if terms.clean is None or terms.replace is None:  # then the other one is never used
        only = terms.clean or terms.replace or 0.0
        return Prices(only, only, terms.failure, terms.last_failure)
    return Prices(terms.clean, terms.replace, terms.failure, terms.last_failure)


def _case(new: Row, cleaned: Row, terms: Terms, prices: Prices) -> _Case | None:
    """None where a life that is needed can't be fitted."""
    numbers: list[float] = [0] if terms.replace is not None else []
    if usable(cleaned) and terms.clean is not None:
        numbers += [*range(1, MOST_CLEANINGS + 1)] if terms.replace is not None else []
        numbers += [inf]
    if not usable(new) or not numbers:
        return None
    later = cleaned if usable(cleaned) else new  # without cleanings it is never used
    return _Case(
        (life([new["shape"]], [new["scale"]]), life([later["shape"]], [later["scale"]])),
        (_drawn(new, SEED), _drawn(later, SEED + 1)),
        prices,
        terms.mended,
        (_wears(new), _wears(later)),
        tuple(numbers),
    )


def _drawn(fit: Row, seed: int) -> Life:
    every = drawn_lives(fit["shape"], fit["scale"], [fit[name] for name in _COVARIANCE], DRAWS, seed)
    return Life(every.shape[0], every.scale[0])


def _wears(fit: Row) -> bool:
    return usable(fit) and fit["shape_low"] is not None and fit["shape_low"] > 1


def _too_little(new: Row, cleaned: Row, terms: Terms) -> Verdict:
    """Why nothing could be priced."""
    if not usable(new):
        return verdict(**_asked(new, terms))
    if terms.clean is None:
        return Verdict(NOT_ENOUGH, "the price of a replacement is unknown; set it")
    return Verdict(NOT_ENOUGH, f"{counted(cleaned['failures'])} of cleaned parts and no price of a replacement")


def _no_wear(new: Row, terms: Terms) -> Verdict:
    """Neither life is known to wear out: as for one interval, at the lower of the two prices."""
    return verdict(**_asked(new, terms))


def _asked(new: Row, terms: Terms) -> dict[str, Any]:
    names = ("failures", "shape", "shape_low", "shape_high")
    planned = min(price for price in (terms.clean, terms.replace) if price is not None)
    return {
        **{name: new[name] for name in names},
        "log_shape_variance": new["var_log_shape"],
        "planned": planned,
        "failure": terms.failure,
    }


def _no_saving(saving: float, cleaned: Row) -> Verdict:
    if usable(cleaned):
        return Verdict(NOT_WORTH, f"the best policy saves {little(saving)} of the cost of running to failure")
    return Verdict(
        NOT_ENOUGH,
        f"planned replacements save {little(saving)}, and {counted(cleaned['failures'])} of cleaned parts can't tell "
        "what a cleaning buys",
    )


def _no_cleaned_life(cleaned: Row) -> list[str]:
    """That cleanings weren't considered, and why."""
    if usable(cleaned):
        return []
    lives = "1 life" if cleaned["lives"] == 1 else f"{cleaned['lives']:,} lives"
    return [
        f"with {counted(cleaned['failures'])} in {lives} of cleaned parts, fewer than {ENOUGH_FAILURES}, how long a "
        "cleaning lasts isn't known, and only planned replacements are priced"
    ]


def _beside(case: _Case, policy: Policy, rates: Mapping[float, float]) -> list[str]:
    """How sharp the optimum is: other numbers of cleanings, and other first distances."""
    least = min(rates.values())
    near = [number for number, rate in rates.items() if rate <= least * (1 + FLAT)]
    told = [f"{_numbers(near)} cost within {FLAT:.0%} of the least"] if len(near) > 1 else []
    for what, at in (("first", policy.first), ("after", policy.after)):
        if np.isinf(at).any() or (what == "after" and not policy.cleanings):
            continue
        ages = float(at[0]) * np.geomspace(1 / 8, 8, 600)
        fixed = (ages, policy.after) if what == "first" else (policy.first, ages)
        costs = policy_rate(Policy(*fixed, policy.cleanings), *case.lives, case.prices, case.mended)
        name = "of the first distance" if what == "first" else "of the distance after a cleaning"
        told.append(f"{name}, {say_flat(*flat_range(ages, costs))}")
    return told


def _numbers(near: Sequence[float]) -> str:
    return "replacing after " + ", ".join("never" if isinf(each) else f"{each:.0f}" for each in near) + " cleanings"


def _on_service(case: _Case, policy: Policy, every: float) -> list[str]:
    """The same policy at the services the vehicle comes in for anyway, and what that costs."""
    options = [_multiples(policy.first, every), _multiples(policy.after, every)]
    near = [Policy(np.array([a]), np.array([b]), policy.cleanings) for a in options[0] for b in options[1]]
    best = min(near, key=case.rate)
    dearer = case.rate(best) / case.rate(policy) - 1
    return [f"at services every {every:,.0f} km: {words(best)}, which costs {dearer:.1%} more"]


def _multiples(age: Any, every: float) -> tuple[float, ...]:
    if np.isinf(age).any():
        return (inf,)
    return tuple(float(each[0]) for each in rounded(age, every))


def _pair(drawn: Any) -> Limits:
    low, high = limits(drawn)
    return float(low), float(high)
