"""What a cleaning, a replacement and a failure cost, and the hours they take: as set, else learned from the jobs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf
from typing import Any

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.store.preferences import FILE, Preferences, read
from fleetlens.store.reader import Snapshot

Told = tuple[float | None, str]  # a value, and where it came from
Rules = tuple[tuple[pl.Expr, str], ...]  # which endings tell it, in words too; the first with any wins

__all__ = ["NAMES", "Costs", "Given", "costs", "preferences_of", "said"]

# Names of the figures, as a sentence tells them.
NAMES = {
    "clean": "planned cleaning",
    "replace": "planned replacement",
    "planned": "planned renewal",
    "failure": "failure",
    "last_failure": "failure mended by a replacement",
    "clean_hours": "hours of a cleaning",
    "replace_hours": "hours of a replacement",
    "mended": "failures mended by a cleaning",
    "downtime_h": "downtime of a failure",
    "part_cost": "value of a new part",
}


@dataclass(frozen=True, slots=True)
class Given:
    """Prices given with the question; they win over the preferences. None: what is set there, else learned.

    Raises FleetlensError for an amount of 0 or less, and for a negative downtime rate.
    """

    clean: float | None = None
    replace: float | None = None
    failure: float | None = None
    downtime_rate: float | None = None

    def __post_init__(self) -> None:
        for name in ("clean", "replace", "failure"):
            amount = getattr(self, name)
            if amount is not None and not 0 < amount < inf:
                raise FleetlensError(f"a price of {amount} for a {NAMES[name]} can't be", do="an amount above 0")
        if self.downtime_rate is not None and not 0 <= self.downtime_rate < inf:
            raise FleetlensError(f"a downtime rate of {self.downtime_rate} can't be", do="an amount of 0 or more")


@dataclass(frozen=True, slots=True)
class Costs:
    """What was found of each component, and where from.

    `rows`: component; clean, replace, planned (what renews it as planned: a cleaning, else any renewal), failure and
    last_failure (one mended by a replacement), currency; clean_hours, replace_hours; mended (share of its failures
    mended by a cleaning); downtime_h of a failure; part_cost of a new part; null where unknown. `sources`: component,
    figure (a key of NAMES), value, told (where the value came from).
    """

    rows: pl.DataFrame
    sources: pl.DataFrame
    told: tuple[str, ...]
    currency: str | None

    def sentences(self, *figures: str) -> tuple[str, ...]:
        """Where these figures came from, a sentence a component, and what holds for all of them."""
        lines = []
        for (component,), group in self.sources.group_by(["component"], maintain_order=True):
            own = {row["figure"]: row["told"] for row in group.iter_rows(named=True)}
            lines.append(f"{component}: " + "; ".join(f"{NAMES[name]} {own[name]}" for name in figures) + ".")
        return (*lines, *self.told)


def preferences_of(snapshot: Snapshot) -> Preferences:
    """The preferences of the store that the snapshot belongs to. Raises FleetlensError as preferences.read does."""
    return read(snapshot.path.parent)


def said(amount: float, currency: str | None) -> str:
    """An amount of money in words."""
    return f"{amount:,.2f} {currency}" if currency else f"{amount:,.2f}"


def costs(
    snapshot: Snapshot,
    components: Sequence[str],
    filters: Filters,
    preferences: Preferences,
    given: Given = Given(),
) -> Costs:
    """Prices and hours of each of `components`: given with the question, else as preferred, else learned.

    Learned ones are medians, amounts of 0 and credits left out. A cleaning or replacement: the component's own rows of
    labour and parts in preventive ones, without any of those after a failure; its hours likewise. A failure: the whole
    jobs that ended a life in failure, diagnosis and remedy included, with the downtime rate for each hour of downtime,
    and the price of recovery times the share of them that broke down; jobs mended by a cleaning and others have medians
    of their own, weighted by their number, as one median of two such groups lies in neither.
    """
    endings = snapshot.frame("findings/ending_costs", components=list(components), **filters.bound())
    rate = preferences.money.downtime_rate if given.downtime_rate is None else given.downtime_rate
    sources: list[dict[str, Any]] = []
    for component in components:
        own = endings.filter(pl.col("component") == component)
        for figure, (value, words) in _figures(own, component, preferences, given, rate).items():
            sources.append({"component": component, "figure": figure, "value": value, "told": words})
    told = []
    if sources and given.failure is None and not rate:
        told.append("Hours off the road are not priced; with a rate for them a schedule pays sooner.")
    if preferences.money.currency:
        told.append(f"Amounts are in {preferences.money.currency}.")
    schema = {"component": pl.String, "figure": pl.String, "value": pl.Float64, "told": pl.String}
    table = pl.DataFrame(sources, schema=schema)
    rows = pl.DataFrame(
        [
            {"component": component, **{row["figure"]: row["value"] for row in group.iter_rows(named=True)}}
            for (component,), group in table.group_by(["component"], maintain_order=True)
        ],
        schema={"component": pl.String, **dict.fromkeys(NAMES, pl.Float64)},
    )
    return Costs(rows, table, tuple(told), preferences.money.currency)


def _figures(
    own: pl.DataFrame, component: str, preferences: Preferences, given: Given, downtime_rate: float
) -> dict[str, Told]:
    """Each figure of NAMES with where it came from."""
    prices, currency = preferences.prices(component), preferences.money.currency
    preventive, failed = pl.col("ended") == "preventive", pl.col("ended") == "failed"
    cleaned, replaced = pl.col("began_as") == "cleaned", pl.col("began_as") == "replaced"
    cleanings = (
        (preventive & cleaned, "preventive cleanings"),
        (cleaned, "cleanings after a failure, there being no planned ones"),
    )
    replacements = (
        (preventive & replaced, "preventive replacements"),
        (replaced, "replacements after a failure, there being no planned ones"),
    )
    renewals = (cleanings[0], (preventive, "preventive renewals"), cleanings[1])

    def money(amount: float) -> str:
        return said(amount, currency)

    def price(name: str, rules: Rules, set_to: float | None, asked: float | None) -> Told:
        return (
            _asked(asked, set_to, component, name, money)
            or _median(own, "cost", rules, money)
            or _unknown(name, component)
        )

    def hours(name: str, rules: Rules, set_to: float | None) -> Told:
        return (
            _asked(None, set_to, component, name, _hours)
            or _median(own, "hours", rules, _hours)
            or _unknown(name, component)
        )

    found = {
        "clean": price("clean", cleanings, prices.clean, given.clean),
        "replace": price("replace", replacements, prices.replace, given.replace),
        "planned": price("clean", renewals, prices.clean, given.clean),
        "clean_hours": hours("clean_hours", cleanings, prices.clean_hours),
        "replace_hours": hours("replace_hours", replacements, prices.replace_hours),
        "mended": _mended(own.filter(failed & pl.col("began_as").is_not_null())),
        "downtime_h": _median(own, "downtime_h", ((failed, "failures"),), _hours)
        or (None, "unknown: none is recorded"),
        "part_cost": _median(own, "part_cost", ((replaced, "replacements"),), money)
        or (None, "unknown: none is recorded"),
    }
    failure = _asked(given.failure, prices.failure, component, "failure", money)
    learned = None if failure else _failure(own.filter(failed), preferences, downtime_rate)
    found["failure"] = failure or learned or _unknown("failure", component)
    found["last_failure"] = (learned and _last(own.filter(failed), preferences, downtime_rate)) or _dearer(found, money)
    return {name: found[name] for name in NAMES}


def _unknown(key: str, component: str) -> Told:
    return None, f"unknown: none is recorded; set {key} in [component.{component}] of {FILE}"


def _asked(
    asked: float | None, set_to: float | None, component: str, key: str, say: Callable[[float], str]
) -> Told | None:
    if asked is not None:
        return asked, f"{say(asked)} as asked"
    return None if set_to is None else (set_to, f"{say(set_to)} as {key} in [component.{component}] of {FILE}")


def _median(own: pl.DataFrame, column: str, rules: Rules, say: Callable[[float], str]) -> Told | None:
    """The median of the first rule that some ending with a value keeps."""
    for rule, words in rules:
        values = own.filter(rule & (pl.col(column) > 0))[column]
        if len(values):
            return _middle(values), f"{say(_middle(values))}, the median of {len(values):,} {words}"
    return None


def _failure(failures: pl.DataFrame, preferences: Preferences, downtime_rate: float) -> Told | None:
    """The price of a failure from the jobs that ended a life in one; None where none has a cost."""
    priced = _priced(failures, preferences, downtime_rate)
    if priced.is_empty():
        return None
    parts = [part for part in _by_remedy(priced) if part.height]
    amount = sum(_middle(part["price"]) * part.height for part in parts) / priced.height
    currency = preferences.money.currency
    words = f"the median of {priced.height:,} whole jobs"
    if len(parts) > 1:
        words = " and ".join(
            f"{said(_middle(part['price']), currency)} of {part.height:,} {remedy}"
            for part, remedy in zip(parts, ("mended by a cleaning", "others"), strict=True)
        )
        words = f"the medians of whole jobs, {words}, by their number"
    if downtime_rate:
        words += f", with downtime at {said(downtime_rate, currency)} an hour"
    if preferences.money.recovery:
        recovery = said(preferences.money.recovery, currency)
        words += f", with recovery at {recovery} for the {int(priced['broke_down'].sum()):,} that broke down"
    return amount, f"{said(amount, currency)}, {words}"


def _last(failures: pl.DataFrame, preferences: Preferences, downtime_rate: float) -> Told | None:
    """The price of a failure whose remedy was no cleaning; None where none has a cost."""
    _, others = _by_remedy(_priced(failures, preferences, downtime_rate))
    if others.is_empty():
        return None
    amount = _middle(others["price"])
    return amount, f"{said(amount, preferences.money.currency)}, the median of {others.height:,} whole jobs"


def _dearer(found: dict[str, Told], say: Callable[[float], str]) -> Told:
    """A failure mended by a replacement, when its price is the mean over the present remedies."""
    failure, clean, replace, mended = (found[name][0] for name in ("failure", "clean", "replace", "mended"))
    if failure is None or mended is None:
        return None, "unknown, as a failure is"
    if clean is None or replace is None:
        return failure, f"{say(failure)}, as any failure"
    amount = max(failure + mended * (replace - clean), replace)
    return amount, f"{say(amount)}, from the price of a failure and the share mended by a cleaning"


def _priced(failures: pl.DataFrame, preferences: Preferences, downtime_rate: float) -> pl.DataFrame:
    """The failures with a cost, and their `price` with downtime and, spread over all of them, recovery."""
    downtime = downtime_rate * pl.col("downtime_h").fill_null(0)
    recovery = preferences.money.recovery * pl.col("broke_down").cast(pl.Float64).mean()
    return failures.filter(pl.col("job_cost") > 0).with_columns(price=pl.col("job_cost") + downtime + recovery)


def _by_remedy(failures: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Those mended by a cleaning, and the others."""
    cleaned = pl.col("began_as").eq("cleaned").fill_null(False)
    return failures.filter(cleaned), failures.filter(~cleaned)


def _mended(failures: pl.DataFrame) -> Told:
    """The share of failures whose remedy was a cleaning; 0 where none was seen, as the remedy is then a new part."""
    if failures.is_empty():
        return 0.0, "taken as none: no remedy is recorded"
    cleaned = int((failures["began_as"] == "cleaned").sum())
    return cleaned / failures.height, f"{cleaned:,} of {failures.height:,}"


def _hours(hours: float) -> str:
    return f"{hours:,.2f} h"


def _middle(values: pl.Series) -> float:
    middle: Any = values.median()
    return float(middle)
