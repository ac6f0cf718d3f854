"""Which vehicles were treated on which day, and what happened on both sides of it on them and on the others."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, choices
from fleetlens.findings.finding import Count
from fleetlens.findings.life_table import kept_components
from fleetlens.findings.vehicles import vehicle_ids
from fleetlens.store.reader import Snapshot

__all__ = ["AROUND", "CAMPAIGN", "Treatment", "around"]

AROUND = ("before", "after", "on the day")


@dataclass(frozen=True, slots=True)
class Treatment:
    """Which vehicles were treated, and when.

    Without anything named: those with a job whose reason is campaign. `action` on `component`: those with a job that
    did it. `depot` or `vehicles`: those named; they need `from_on`. `from_on` is one day for all, and only jobs from
    then on treat; without it each vehicle has the day of its first treating job. Raises FleetlensError for a mixture.
    """

    component: str | None = None
    action: str | None = None
    depot: str | None = None
    vehicles: tuple[str, ...] = ()
    from_on: date | None = None

    def __post_init__(self) -> None:
        ways = [self.action is not None, self.depot is not None, bool(self.vehicles)]
        if sum(ways) > 1:
            raise FleetlensError(
                "vehicles are treated in one way at a time", do="an action, a depot, or a list of vehicles"
            )
        if (self.depot is not None or self.vehicles) and self.from_on is None:
            raise FleetlensError("a depot or a list of vehicles has no day of its own", do="name the day it began")

    def __str__(self) -> str:
        if self.depot is not None:
            who = f"the vehicles of depot {self.depot}"
        elif self.vehicles:
            who = f"the {len(self.vehicles):,} vehicles named"
        elif self.action is not None:
            who = f"vehicles with a job that did {self.action} on {self.component}"
        else:
            who = "vehicles with a job whose reason is campaign"
            who += f" and that worked on {self.component}" if self.component else ""
        return f"{who}, from {self.from_on}" if self.from_on else f"{who}, each from its first such job"


CAMPAIGN = Treatment()


def around(
    snapshot: Snapshot, component: str | None, treatment: Treatment, days: int, filters: Filters
) -> tuple[pl.DataFrame, pl.DataFrame, tuple[Count, ...]]:
    """The vehicles that were under observation on both sides of their day, their failures, and what was left out.

    Vehicles: vehicle_id, side (treated or untreated), split_on, km_before, km_after, and failures on each side. The
    untreated ones are cut on the common day, else on the median day of the treated ones; where nothing was treated
    there are no vehicles. Raises FleetlensError for fewer than one day and for names that the store doesn't know.
    """
    if days < 1:
        raise FleetlensError(f"{days} days around a day hold nothing", do="1 day or more")
    components = kept_components(snapshot, component, filters)
    own = _treated(snapshot, component, treatment, filters)
    common = treatment.from_on or (own["day"].sort()[(own.height - 1) // 2] if own.height else None)
    found = snapshot.frame(
        "findings/before_and_after",
        treated=[f"{day} {_shift(day, -days)} {_shift(day, days)} {name}" for name, day in own.rows()],
        common_on=common,
        common_from=common and _shift(common, -days),
        common_to=common and _shift(common, days),
        components=components,
        **filters.bound(),
    ).with_columns(side=pl.when("treated").then(pl.lit("treated")).otherwise(pl.lit("untreated")))
    kept = found.filter((pl.col("km_before") > 0) & (pl.col("km_after") > 0))
    failures = _failures(snapshot, kept, components, filters)
    each = failures.group_by("vehicle_id").agg(
        (pl.col("period") == period).sum().alias(f"failures_{period.replace(' ', '_')}") for period in AROUND
    )
    vehicles = kept.join(each, on="vehicle_id", how="left", maintain_order="left").select(
        *("vehicle_id", "side", "split_on", "from_on", "to_on", "km_before", "km_after"),
        *(pl.col(f"failures_{period}").fill_null(0) for period in ("before", "after")),
        *("model", "duty", "depot"),
    )
    unknown = len(set(treatment.vehicles)) - own.height if treatment.vehicles else 0
    left_out = evidence.some(unknown, "named as treated, but not among the vehicles kept", "vehicles") + tuple(
        count
        for side in ("treated", "untreated")
        for count in evidence.some(
            found.filter(pl.col("side") == side).height - kept.filter(pl.col("side") == side).height,
            f"{side}, not under observation on both sides of the day",
            "vehicles",
        )
    )
    return vehicles, failures, left_out if own.height else ()


def _treated(snapshot: Snapshot, component: str | None, treatment: Treatment, filters: Filters) -> pl.DataFrame:
    """The vehicles treated, each with its day."""
    if treatment.depot is not None or treatment.vehicles:
        known = vehicle_ids(snapshot, filters)
        if treatment.depot is not None:
            depots = choices(snapshot)["depot"]
            if treatment.depot not in depots:
                raise FleetlensError(f"no depot is called {treatment.depot!r}", do=f"one of: {', '.join(depots[:20])}")
            bound = filters.bound() | {"depots": [treatment.depot]}
            ids = snapshot.frame("findings/vehicle_ids", **bound)["vehicle_id"].to_list()
        else:
            ids = [name for name in dict.fromkeys(treatment.vehicles) if name in set(known)]
        return pl.DataFrame({"vehicle_id": ids, "day": [treatment.from_on] * len(ids)})
    acted = treatment.component or (component if treatment.action is None else None)
    jobs = snapshot.frame(
        "findings/treating_jobs",
        treated_component=acted,
        treated_action=treatment.action,
        from_on=treatment.from_on,
        **filters.bound(),
    )
    first = jobs.group_by("vehicle_id", maintain_order=True).agg(day=pl.col("opened_on").min())
    return first if treatment.from_on is None else first.with_columns(day=pl.lit(treatment.from_on))


def _failures(snapshot: Snapshot, kept: pl.DataFrame, components: list[str] | None, filters: Filters) -> pl.DataFrame:
    """The failures of those vehicles from the first to the last day looked at, with their side and period."""
    when, split = pl.col("opened_on"), pl.col("split_on")
    return (
        snapshot.frame("findings/failure_rows", components=components, **filters.bound())
        .join(kept.select("vehicle_id", "side", "split_on", "from_on", "to_on"), on="vehicle_id", maintain_order="left")
        .filter(when.is_between("from_on", "to_on"))
        .with_columns(
            period=pl.when(when < split)
            .then(pl.lit("before"))
            .when(when > split)
            .then(pl.lit("after"))
            .otherwise(pl.lit("on the day"))
        )
        .select(
            *("side", "period", "vehicle_id", "split_on", "component", "position", "opened_on", "odometer_km", "job_id")
        )
    )


def _shift(day: date, days: int) -> date:
    """The day so many days later, within the calendar."""
    ordinal = min(max(day.toordinal() + days, date.min.toordinal()), date.max.toordinal())
    return date.fromordinal(ordinal)
