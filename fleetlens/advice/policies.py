"""When to clean, how often, and when to replace instead: the policy of least long-run cost, by group."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isinf
from typing import Any

import numpy as np
import polars as pl

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.costs import Given, costs, preferences_of
from fleetlens.advice.fitted import PER_KM, cleaned_only, doubts
from fleetlens.advice.policy_choice import MOST_CLEANINGS, Choice, Terms, best_choice, usable, words
from fleetlens.advice.verdicts import WORTH, WORTHWHILE
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.reliability import weibull
from fleetlens.store.preferences import Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["POLICY_KEYS", "Policies", "policies"]

POLICY_KEYS = tuple(key for key in LIFE_KEYS if key not in ("began_as", "part_grade"))
METHOD = (
    "A part is cleaned at a first distance and again at a distance after each cleaning, and replaced instead after a "
    f"number of cleanings (0 to {MOST_CLEANINGS}, or never): those of least long-run cost per km by the renewal-reward "
    "theorem, on a Weibull life of new, replaced and repaired parts and one of cleaned parts. 95 % limits from draws "
    "of the fits' covariances. Advised only for lives whose shape's interval lies above 1, where the policy saves "
    f"{WORTHWHILE:.0%} or more against running to failure and the limits of the saving lie above 0."
)
_PRICES = ("clean", "replace", "failure", "last_failure", "mended")
_FIT = ("shape", "scale", "var_log_shape", "var_log_scale", "cov_log")


@dataclass(frozen=True, slots=True)
class Policies:
    """The policies of all groups: `finding` for people, `strata` for what plans by them.

    `strata`, one row a component and keys: lives, failures; of new parts (and replaced and repaired ones) and of
    cleaned ones, each after new_ or cleaned_: lives, failures, shape, scale, var_log_shape, var_log_scale, cov_log
    (cleaned ones null where fewer than six have failed); clean, replace, failure, last_failure (of one that is mended
    by a replacement), clean_hours, replace_hours, mended (share of failures mended by a cleaning); verdict, why; where
    it is "worth it" also cleanings (null: no limit), first_km and after_km (null: never), cost_per_1000km; and
    cost_per_1000km_run_to_failure; doubt (that one Weibull doesn't describe a life; null where nothing says so).
    """

    finding: Finding
    strata: pl.DataFrame


def policies(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
    preferences: Preferences | None = None,
    given: Given = Given(),  # noqa: B008 - frozen
) -> Policies:
    """The policy of each group with its cost, what it saves against running to failure, and the verdict.

    Without a component, those that the record has seen cleaned. Prices are those `given`, else those of `preferences`
    (None: the store's own), else learned. Parts begun by a repair count with new ones, since the policy knows two kinds
    of life: after a cleaning, and after anything else. Raises FleetlensError as life_table and preferences.read do, and
    for a key of `by` outside POLICY_KEYS. The draws are seeded: the same record gives the same limits.
    """
    keys = chosen(by, POLICY_KEYS)
    preferences = preferences_of(snapshot) if preferences is None else preferences
    filters = cleaned_only(snapshot, component, filters)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    prices = costs(snapshot, table.groups["component"].unique().sort().to_list(), filters, preferences, given)
    priced = table.groups.select("component").join(prices.rows, on="component", how="left", maintain_order="left")
    fit = fits(table)
    new, cleaned = fit.rows[0::2], fit.rows[1::2]
    every = preferences.service.every_km
    choices = [
        best_choice(one, other, Terms(**{name: cost[name] for name in _PRICES}, service_km=every))
        for one, other, cost in zip(
            new.iter_rows(named=True), cleaned.iter_rows(named=True), priced.iter_rows(named=True), strict=True
        )
    ]
    figures = pl.DataFrame([_figures(choice) for choice in choices], schema=_SCHEMA)
    told_of = [_doubt(*pair) for pair in zip(*(doubts(fit)[kind::2] for kind in (0, 1)), strict=True)]
    strata = _strata(table, new, cleaned, priced, figures).with_columns(doubt=pl.Series(told_of, dtype=pl.String))
    names = ["component", *keys]
    return Policies(
        answer(
            snapshot,
            table,
            filters,
            question="cleaning policies",
            rows=strata.select(*names, *(name for name in _SHOWN if name not in names)),
            method=METHOD,
            assumed=(
                *prices.sentences("clean", "replace", "failure", "mended"),
                f"Services are taken every {every:,.0f} km (every_km of [service]).",
                *_repaired(table),
            ),
            notes=tuple(
                f"{named(group, names)}: {_told(choice, doubt)}."
                for group, choice, doubt in zip(table.groups.iter_rows(named=True), choices, told_of, strict=True)
            ),
            cautions=CAUTIONS,
        ),
        strata,
    )


def fits(table: LifeTable) -> weibull.WeibullFit:
    """The Weibull fits of two lives a group: 2 g not begun by a cleaning, 2 g + 1 begun by one."""
    cleaned = (table.lives["began_as"] == "cleaned").to_numpy().astype(np.int64)
    return weibull.fit(
        table.end,
        table.failed,
        table.entry,
        table.known_good,
        2 * table.group + cleaned,
        n_groups=2 * table.groups.height,
    )


_SCHEMA = {
    "verdict": pl.String,
    "why": pl.String,
    "policy": pl.String,
    "cleanings": pl.Int64,
    **dict.fromkeys(
        (
            *("first_km", "first_low", "first_high", "after_km", "after_low", "after_high", "cost_per_1000km"),
            *("cost_per_1000km_run_to_failure", "cost_per_1000km_clean_only", "cost_per_1000km_replace_only"),
            *("saved_share", "saved_low", "saved_high"),
        ),
        pl.Float64,
    ),
}
_SHOWN = (
    *("verdict", "policy", "saved_share", "saved_low", "saved_high"),
    *(name for name in _SCHEMA if name not in ("verdict", "why", "policy") and not name.startswith("saved")),
    *("lives", "failures", "cleaned_lives", "cleaned_failures"),
)


def _figures(choice: Choice) -> dict[str, Any]:
    """The columns of _SCHEMA; an age that is never, and a limit that isn't there, are null."""
    policy = choice.policy
    return {
        "verdict": choice.verdict.word,
        "why": choice.verdict.why,
        "policy": words(policy) if policy else None,
        "cleanings": None if policy is None or isinf(policy.cleanings) else int(policy.cleanings),
        "first_km": _finite(policy.first[0]) if policy else None,
        "after_km": _finite(policy.after[0]) if policy and policy.cleanings else None,
        **_limits("first", choice.first_limits),
        **_limits("after", choice.after_limits),
        "cost_per_1000km": _per_1000(choice.cost),
        "cost_per_1000km_run_to_failure": _per_1000(choice.run_to_failure),
        "cost_per_1000km_clean_only": _per_1000(choice.clean_only),
        "cost_per_1000km_replace_only": _per_1000(choice.replace_only),
        "saved_share": choice.saving,
        **_limits("saved", choice.saving_limits),
    }


def _strata(
    table: LifeTable, new: pl.DataFrame, cleaned: pl.DataFrame, priced: pl.DataFrame, figures: pl.DataFrame
) -> pl.DataFrame:
    enough = pl.Series([usable(row) for row in cleaned.iter_rows(named=True)], dtype=pl.Boolean)
    return pl.concat(
        [
            table.groups,
            pl.DataFrame({name: new[name] + cleaned[name] for name in ("lives", "failures")}),
            new.select(pl.col("lives", "failures", *_FIT).name.prefix("new_")),
            cleaned.select(
                pl.col("lives", "failures").name.prefix("cleaned_"),
                *(pl.when(enough).then(name).alias(f"cleaned_{name}") for name in _FIT),
            ),
            priced.drop("component", "planned"),
            figures,
        ],
        how="horizontal",
    )


def _doubt(new: str, cleaned: str) -> str | None:
    """Which of the two lives isn't described well; None where nothing speaks against either."""
    return (
        "; ".join(f"{kind}: {doubt}" for kind, doubt in (("new parts", new), ("cleaned parts", cleaned)) if doubt)
        or None
    )


def _told(choice: Choice, doubt: str | None) -> str:
    """The verdict with its reason, the policy, how sharp it is, and whether its lives are described well."""
    policy = (words(choice.policy),) if choice.verdict.word == WORTH and choice.policy else ()
    doubts_ = (doubt,) if doubt else ()
    return f"{choice.verdict.word}; " + "; ".join((choice.verdict.why, *policy, *choice.notes, *doubts_))


def _repaired(table: LifeTable) -> tuple[str, ...]:
    repaired = int((table.lives["began_as"] == "repaired").sum())
    if not repaired:
        return ()
    return (f"{repaired:,} of {table.lives.height:,} lives began with a repair and count with new parts.",)


def _finite(age: float) -> float | None:
    return None if isinf(age) else float(age)


def _limits(name: str, pair: tuple[float, float] | None) -> dict[str, float | None]:
    low, high = pair or (None, None)
    return {
        f"{name}_low": None if low is None else _finite(low),
        f"{name}_high": None if high is None else _finite(high),
    }


def _per_1000(cost: float | None) -> float | None:
    return None if cost is None else cost * PER_KM
