"""Would the advice have paid? Fitted on what was known on a past day, held against what happened after it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl

from fleetlens.advice.backtesting.money import savings_by_part
from fleetlens.advice.backtesting.parts import Tried, tried_parts
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.costs import preferences_of
from fleetlens.advice.draws import drawn_lives
from fleetlens.advice.planning.candidates import Strata
from fleetlens.advice.policies import policies
from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding, Period
from fleetlens.findings.grouping import named
from fleetlens.intake.rewind import as_known_on
from fleetlens.reliability.concordance import concordance
from fleetlens.reliability.rates import poisson_interval
from fleetlens.store.preferences import Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["Backtest", "backtest", "last_year"]

DRAWS = 400
LEVEL_Z = 1.959963984540054  # of the normal distribution, for 95 %
PAYS, COSTS, CANT_TELL, NO_SCHEDULE = "would have paid", "would have cost more", "can't tell", "no schedule advised"
METHOD = (
    "Lives and policies fitted on the record up to the day, rows of later jobs left out; the parts running then "
    "followed to the end of the window. Expected failures at each vehicle's recent distance a day, with a 95 % range "
    "for what may happen; calibration is observed over expected by the distance really driven, with an exact Poisson "
    "interval; concordance is Harrell's. Money at the prices known then: what happened once the advice acts, against "
    "the planned work and the failures expected after it, with what lies ahead of each part at the end of the window "
    "on both sides; limits from the spread between vehicles."
)


@dataclass(frozen=True, slots=True)
class Backtest:
    """`summary`, one row a day and stratum; `calibration`, one row a day, component and fifth of the parts by risk;
    `parts`, one row a part with what was told of it and what it did.
    """

    summary: Finding
    calibration: Finding
    parts: Finding


def backtest(
    snapshot: Snapshot,
    until: date | Sequence[date],
    *,
    months: int = 12,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
    preferences: Preferences | None = None,
) -> Backtest:
    """The advice of each day of `until` tried on the `months` after it.

    A window that the record doesn't cover is cut at its end, and that is said. Raises FleetlensError for a day outside
    the record, a window of no month, and as policies does.
    """
    if not 1 <= months <= 120:
        raise FleetlensError(f"a window of {months} months can't be", do="1 to 120 months")
    days = [until] if isinstance(until, date) else list(dict.fromkeys(until))
    wanted = preferences_of(snapshot) if preferences is None else preferences
    period = evidence.period(snapshot)
    notes: list[str] = []
    tried, excluded = [], dict.fromkeys(("lost", "unread", "unfitted"), 0)
    for day in days:
        if period.start is None or period.end is None or not period.start < day < period.end:
            raise FleetlensError(f"{day} lies outside the record, {period}", do="name a day within it")
        end = min(_months_after(day, months), period.end)
        if end == period.end:
            notes.append(f"The window from {day} ends with the record on {end}.")
        with as_known_on(snapshot, day) as then:
            policy = policies(then, component, by, filters=filters, unknown_start=unknown_start, preferences=wanted)
            strata = Strata(policy.strata, tuple(by))
            found = tried_parts(then, snapshot, strata, (day, end), filters)
        for name in excluded:
            excluded[name] += getattr(found, name)
        tried.append(_priced(found, snapshot, (day, end), filters))
    parts = pl.concat(tried)
    keys = ["until", "window_to", "component", *by]
    summary = _summary(parts, keys)
    told_parts = parts.rename({"failed": "has_failed", "expected": "foreseen"}).select([*keys, *_OF_A_PART])
    base = Finding("back-test", summary, METHOD, period, snapshot.name)
    told = replace(
        base,
        counted=(
            Count("running on the day, and followed", parts.height, "parts"),
            Count("within the window", int(parts["failed"].sum()), "failures"),
        ),
        excluded=(
            *evidence.some(excluded["lost"], "not found again: renamed or corrected since", "parts"),
            *evidence.some(excluded["unread"], "the vehicle has no usable odometer reading", "parts"),
            *evidence.some(excluded["unfitted"], "no life could be fitted then", "parts"),
        ),
        assumed=(
            "The advice acts on all parts that were due at once, whatever the workshop had room for.",
            "Odometer readings, corrections and prices are those of jobs up to the day; when they were written down "
            "isn't recorded.",
        ),
        notes=(*notes, *_words(summary, keys)),
        filters=filters.named(),
        cautions=CAUTIONS,
    )
    return Backtest(
        told,
        replace(base, question="calibration", rows=_calibration(parts)),
        replace(base, question="parts tried", rows=told_parts),
    )


_OF_A_PART = (
    "vehicle_id",
    "position",
    "began_as",
    "age_km",
    "exit_age",
    "has_failed",
    "ended",
    "ended_on",
    "chance",
    "foreseen",
    "acts_at",
    "saving",
)


def last_year(period: Period) -> date | None:
    """The day a year before the record ends, or the day after it begins; None where it is too short to try anything."""
    if period.start is None or period.end is None or (period.end - period.start).days < 2:
        return None
    return max(_months_after(period.end, -12), period.start + timedelta(days=1))


def _months_after(day: date, months: int) -> date:
    moved: date = pl.select(pl.lit(day).dt.offset_by(f"{months}mo")).item()
    return moved


def _priced(found: Tried, snapshot: Snapshot, window: tuple[date, date], filters: Filters) -> pl.DataFrame:
    since, until = window
    components = found.rows["component"].unique().sort().to_list()
    endings = snapshot.frame(
        "findings/endings_between", since=since, until=until, components=components, **filters.bound()
    )
    saving = savings_by_part(found.rows, endings)
    return found.rows.with_columns(saving=saving)


def _summary(parts: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    rows = [
        {**{key: group[key][0] for key in keys}, **_figures(group)}
        for group in parts.sort(keys, nulls_last=True).partition_by(keys, maintain_order=True)
    ]
    schema = {key: parts.schema[key] for key in keys} | _FIGURES
    return pl.DataFrame(rows, schema=schema)


_FIGURES: dict[str, Any] = {
    "parts": pl.Int64,
    "failures": pl.Int64,
    **dict.fromkeys(("foreseen", "foreseen_low", "foreseen_high"), pl.Float64),
    **dict.fromkeys(("calibration", "calibration_low", "calibration_high"), pl.Float64),
    **dict.fromkeys(("concordance", "concordance_low", "concordance_high"), pl.Float64),
    "verdict": pl.String,
    "acted": pl.Int64,
    **dict.fromkeys(("money_saved", "money_saved_low", "money_saved_high"), pl.Float64),
    "outcome": pl.String,
}


def _figures(group: pl.DataFrame) -> dict[str, Any]:
    failures, expected = int(group["failed"].sum()), float(group["expected"].sum())
    ratio = poisson_interval([failures], [expected]).row(0, named=True) if expected > 0 else dict.fromkeys(_RATE)
    low, high = _range(group)
    ranked = concordance(group["exit_days"].to_numpy(), group["failed"].to_numpy(), group["chance"].to_numpy())
    saved, reach = _saved(group)
    acted = int(group["acts_at"].is_not_null().sum())
    return {
        "parts": group.height,
        "failures": failures,
        "foreseen": float(group["chance"].sum()),
        "foreseen_low": low,
        "foreseen_high": high,
        "calibration": ratio["rate"],
        "calibration_low": ratio["low"],
        "calibration_high": ratio["high"],
        "concordance": ranked.share,
        "concordance_low": ranked.low,
        "concordance_high": ranked.high,
        "verdict": group["verdict"][0],
        "acted": acted,
        "money_saved": saved if acted else None,
        "money_saved_low": saved - reach if acted else None,
        "money_saved_high": saved + reach if acted else None,
        "outcome": _outcome(acted, saved, reach),
    }


_RATE = ("rate", "low", "high")


def _range(group: pl.DataFrame) -> tuple[float, float]:
    """95 % range for the number that fails: the fit's uncertainty and chance together."""
    covariance = [group[name].to_numpy() for name in ("var_log_shape", "var_log_scale", "cov_log")]
    lives = drawn_lives(group["shape"].to_numpy(), group["scale"].to_numpy(), covariance, DRAWS)
    now = group["age_km"].to_numpy()[:, None]
    later = now + (group["km_per_day"].fill_null(0) * group["days"]).to_numpy()[:, None]
    chance = 1 - lives.survival(later) / np.maximum(lives.survival(now), np.finfo(np.float64).tiny)
    mean, spread = chance.sum(axis=0), np.sqrt((chance * (1 - chance)).sum(axis=0))
    drawn = np.random.default_rng(DRAWS).normal(mean, spread)
    low, high = np.quantile(drawn, [0.025, 0.975])
    return max(0.0, float(low)), min(float(group.height), float(high))


def _saved(group: pl.DataFrame) -> tuple[float, float]:
    """Money saved, and how far its limits lie to either side: vehicles are independent of each other."""
    vehicles = group.group_by("vehicle_id", maintain_order=True).agg(pl.col("saving").sum())["saving"].to_numpy()
    spread = float(np.std(vehicles, ddof=1)) if len(vehicles) > 1 else 0.0
    return float(vehicles.sum()), LEVEL_Z * spread * float(np.sqrt(len(vehicles)))


def _outcome(acted: int, saved: float, reach: float) -> str:
    if not acted:
        return NO_SCHEDULE
    if saved - reach > 0:
        return PAYS
    return COSTS if saved + reach < 0 else CANT_TELL


def _calibration(parts: pl.DataFrame) -> pl.DataFrame:
    """Observed and expected failures by fifths of the parts, from the least at risk to the most."""
    fifths = parts.with_columns(
        fifth=(pl.col("chance").rank("ordinal").over("until", "component") - 1)
        * 5
        // pl.len().over("until", "component")
        + 1
    )
    rows = (
        fifths.group_by("until", "window_to", "component", "fifth")
        .agg(parts=pl.len(), failures=pl.col("failed").sum(), foreseen=pl.col("expected").sum())
        .sort("until", "component", "fifth")
    )
    limits = poisson_interval(rows["failures"].to_numpy(), np.ones(rows.height))
    return rows.with_columns(
        pl.col("fifth", "parts", "failures").cast(pl.Int64), failures_low=limits["low"], failures_high=limits["high"]
    )


def _words(summary: pl.DataFrame, keys: list[str]) -> list[str]:
    """What the back-test says of each stratum, in a sentence."""
    told = []
    for row in summary.iter_rows(named=True):
        name = f"{named(row, keys[2:])}, {row['until']} to {row['window_to']}"
        money = ""
        if row["acted"]:
            money = f" {row['money_saved']:,.0f} ({row['money_saved_low']:,.0f} to {row['money_saved_high']:,.0f})"
        said = {
            PAYS: "following the advice would have saved",
            COSTS: "the advice doesn't beat present practice; following it would have saved",
            CANT_TELL: "whether following the advice would have paid can't be told: saved",
            NO_SCHEDULE: f"no schedule was advised then ({row['verdict'] or 'no fit'})",
        }[row["outcome"]]
        told.append(f"{name}: {said}{money}; {row['failures']:,} failed, {row['foreseen']:,.1f} were foreseen.")
    return told
