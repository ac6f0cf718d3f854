"""Clean or replace now, or leave it: what each costs for one part of one vehicle, and at which price that turns."""

from collections.abc import Collection, Sequence
from typing import Any

import polars as pl

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.choose_words import about_part, about_practice, about_warranty, fitted_stratum, verdict
from fleetlens.advice.costs import Given, costs, preferences_of
from fleetlens.advice.draws import limits
from fleetlens.advice.options import CLEAN, LEAVE, OPTIONS, REPLACE, Ahead, Option, Part, lives_of, options
from fleetlens.advice.policies import policies
from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import named
from fleetlens.findings.lives import ENOUGH_FAILURES
from fleetlens.findings.vehicles import known_vehicle
from fleetlens.store.preferences import ComponentPrices, Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["choose", "running_parts"]

_ENDS = (("share", ""), ("low", "_low"), ("high", "_high"))
_FIRST = ("option", "price_now", "flip_price", "flip_price_low", "flip_price_high")
DAYS_A_MONTH = 365.25 / 12
METHOD = (
    "Expected cost of each option up to the horizon, by the renewal equation on Weibull lives of new (replaced, "
    "repaired) and of cleaned parts; 95 % limits from draws of the fits' covariances, the prices held fixed. The "
    "verdict compares the options draw by draw. After the choice nothing is planned, and a failure is mended as "
    "failures are now. A flip price is the one up to which an option costs least."
)


def choose(
    snapshot: Snapshot,
    vehicle_id: str,
    component: str,
    position: str | None = None,
    *,
    rule_out: Collection[str] = (),
    horizon_km: float | None = None,
    by: Sequence[str] = ("model",),
    unknown_start: str = "original",
    preferences: Preferences | None = None,
    given: Given = Given(),  # noqa: B008 - frozen
) -> Finding:
    """Leave, clean or replace: one row an option, for the part that runs on the vehicle at its present odometer.

    `rule_out`: options that don't apply, such as "leave" for a part that has failed, or "clean" for one that leaks or
    is damaged. `horizon_km`: how far the vehicle is still meant to run; None: as in the preferences. Lives are those of
    the vehicle's group by the keys `by`; where too few parts of either kind have failed in it, those of all vehicles.
    Raises FleetlensError for a vehicle, component or position that isn't there, for another option, for a horizon that
    isn't above 0, and as policies does.
    """
    preferences = preferences_of(snapshot) if preferences is None else preferences
    horizon = preferences.plan.horizon_km if horizon_km is None else horizon_km
    if not 0 < horizon < float("inf"):
        raise FleetlensError(f"a horizon of {horizon:g} km can't be", do="give a distance above 0")
    names = _left(rule_out)
    running = _running(snapshot, vehicle_id, component, position)
    asked: dict[str, Any] = {"unknown_start": unknown_start, "preferences": preferences, "given": given}
    stratum, about = _stratum(snapshot, component, by, running, asked)
    prices = costs(snapshot, [component], Filters(), preferences, given)
    part = _part(running, unknown_start)
    term = _warranty_km(preferences.prices(component), running["km_per_day"])
    ahead, priced = Ahead(horizon, term), []
    if fitted_stratum(stratum) and stratum["failure"] is not None:
        priced = options(names, part, lives_of(stratum), stratum, ahead)
    back = comebacks(snapshot, component, by=("action",))
    where = f" ({running['position']})" if running["position"] else ""
    return Finding(
        question=f"clean or replace: {component}{where} on vehicle {vehicle_id}",
        rows=_rows(names, priced, stratum, ahead, back.rows),
        method=METHOD,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("that it rests on, of parts not begun by a cleaning", stratum["new_lives"], "lives"),
            Count("of these", stratum["new_failures"], "failures"),
            Count("that it rests on, of cleaned parts", stratum["cleaned_lives"], "lives"),
            Count("of these", stratum["cleaned_failures"], "failures"),
        ),
        assumed=(
            about,
            f"The vehicle runs {horizon:,.0f} km more"
            + (" (horizon_km of [plan])." if horizon_km is None else ", as asked."),
            *prices.sentences("clean", "replace", "failure", "mended", "downtime_h"),
            *about_warranty(preferences.prices(component), term, stratum, prices.currency),
            "Comebacks are those of all vehicles, within 90 days and 5,000 km.",
        ),
        notes=(
            *verdict(names, priced, stratum, prices.currency),
            about_part(running, unknown_start),
            *((f"Of the lives it rests on: {stratum['doubt']}.",) if stratum["doubt"] else ()),
            *about_practice(component, running),
            "The figures know nothing of what the technician sees: the maker's procedure and his judgement come first.",
        ),
        cautions=CAUTIONS,
    )


def running_parts(snapshot: Snapshot, vehicle_id: str) -> pl.DataFrame:
    """The parts that run on a vehicle: component, position. Raises FleetlensError for a vehicle that isn't there."""
    return _of_vehicle(snapshot, vehicle_id, None).select("component", "position")


def _left(rule_out: Collection[str]) -> list[str]:
    for name in rule_out:
        if name not in OPTIONS:
            raise FleetlensError(f"{name!r} can't be ruled out", do=f"one or more of: {', '.join(OPTIONS)}")
    left = [name for name in OPTIONS if name not in rule_out]
    if not left:
        raise FleetlensError("every option is ruled out", do="leave one at least")
    return left


def _of_vehicle(snapshot: Snapshot, vehicle_id: str, components: list[str] | None) -> pl.DataFrame:
    vehicle = known_vehicle(snapshot, vehicle_id)
    kept = Filters(**{name: (vehicle[name],) for name in ("model", "duty", "depot") if vehicle[name] is not None})
    rows = snapshot.frame("findings/running_parts", components=components, **kept.bound())
    return rows.filter(pl.col("vehicle_id") == vehicle_id)


def _running(snapshot: Snapshot, vehicle_id: str, component: str, position: str | None) -> dict[str, Any]:
    """The part that is meant."""
    parts = _of_vehicle(snapshot, vehicle_id, [component])
    if parts.is_empty():
        others = running_parts(snapshot, vehicle_id)["component"].unique().sort().to_list()
        raise FleetlensError(
            f"no {component} is known to run on vehicle {vehicle_id}",
            do=f"one of: {', '.join(others)}" if others else "a vehicle that is in service and whose parts are named",
        )
    at = parts.filter(pl.col("position") == (position or "").strip().lower()) if position is not None else parts
    if at.height != 1:
        known = ", ".join(repr(each) for each in parts["position"])
        raise FleetlensError(
            f"vehicle {vehicle_id} runs {parts.height} of {component}"
            if position is None
            else f"no {component} at position {position!r} runs on vehicle {vehicle_id}",
            do=f"name a position, one of: {known}",
        )
    return at.row(0, named=True)


def _stratum(
    snapshot: Snapshot, component: str, by: Sequence[str], running: dict[str, Any], asked: dict[str, Any]
) -> tuple[dict[str, Any], str]:
    """The lives and prices of the part's group, else of all vehicles, and a sentence that says whose they are."""
    keys = [key for key in by if key != "component"]
    found = policies(snapshot, component, keys, **asked).strata
    same = [pl.col(key).eq_missing(pl.lit(running[key], found.schema[key])) for key in keys]
    own = found.filter(same) if same else found
    if not own.is_empty():
        stratum = own.row(0, named=True)
        if not keys:
            return stratum, "Lives of all vehicles are taken."
        if fitted_stratum(stratum) and stratum["cleaned_shape"] is not None:
            return stratum, f"Lives of {named(stratum, keys)} are taken."
    stratum = policies(snapshot, component, (), **asked).strata.row(0, named=True)
    return stratum, (
        f"Lives of all vehicles are taken: fewer than {ENOUGH_FAILURES} new or fewer than {ENOUGH_FAILURES} cleaned "
        f"parts of {named(running, keys)} have failed."
    )


def _part(running: dict[str, Any], unknown_start: str) -> Part:
    known = running["now_km"] is not None and not (running["unknown_start"] and unknown_start == "leave-out")
    age = max(running["now_km"] - running["start_km"], 0.0) if known else None
    return Part(age, running["began_as"] == "cleaned")


def _warranty_km(terms: ComponentPrices, km_per_day: float | None) -> float | None:
    """The distance that the warranty of a new part covers on this vehicle; None without one."""
    reached = [terms.warranty_km] if terms.warranty_km is not None else []
    if terms.warranty_months is not None and km_per_day is not None:
        reached.append(terms.warranty_months * DAYS_A_MONTH * km_per_day)
    return min(reached) if reached else None


def _rows(
    names: Sequence[str], priced: Sequence[Option], stratum: dict[str, Any], ahead: Ahead, back: pl.DataFrame
) -> pl.DataFrame:
    """One row an option that isn't ruled out; null where it can't be priced."""
    found = {option.name: option for option in priced}
    shares = {row["action"]: row for row in back.iter_rows(named=True)}
    prices = {LEAVE: 0.0, CLEAN: stratum["clean"], REPLACE: stratum["replace"]}
    hours = {LEAVE: 0.0, CLEAN: stratum["clean_hours"], REPLACE: stratum["replace_hours"]}
    rows = []
    for name in names:
        option = found.get(name)
        row: dict[str, Any] = {"option": name, "price_now": prices[name], "work_h": hours[name]}
        for what, column in (("cost", "expected_cost"), ("failures", "expected_failures"), ("soon", "soon_share")):
            stem = column.removesuffix("_share")
            row |= dict.fromkeys((column, f"{stem}_low", f"{stem}_high"))
            if option is not None:
                low, high = option.limits(what)
                row |= {column: float(getattr(option, what)[0]), f"{stem}_low": low, f"{stem}_high": high}
        row["expected_downtime_h"] = (
            None if option is None or stratum["downtime_h"] is None else option.failures[0] * stratum["downtime_h"]
        )
        own = shares.get(name, {})
        row |= {f"comeback_{end}": own.get(f"share_90d{of}") for end, of in _ENDS}
        covered = name == REPLACE and ahead.warranty_km is not None and stratum["part_cost"] is not None
        row["warranty_credit"] = float(option.credit[0]) if option is not None and covered else None
        row |= _flip(option, [other for other in priced if other.name != name])
        rows.append(row)
    floats = [name for name in rows[0] if name != "option"]
    made = pl.DataFrame(rows, schema={"option": pl.String, **dict.fromkeys(floats, pl.Float64)})
    return made.select(*_FIRST, pl.exclude(_FIRST))


def _flip(option: Option | None, others: Sequence[Option]) -> dict[str, float | None]:
    """The flip price of a row; leaving has none."""
    columns = ("flip_price", "flip_price_low", "flip_price_high")
    if option is None or option.name == LEAVE or not others:
        return dict.fromkeys(columns)
    turns = option.flip(others)
    low, high = limits(turns[1:])
    return dict(zip(columns, (float(turns[0]), float(low), float(high)), strict=True))
