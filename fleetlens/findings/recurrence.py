"""How often a component fails on one vehicle over its distance: the mean cumulative function, and of two groups."""

from collections.abc import Sequence

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, places
from fleetlens.findings.lives import round_distances
from fleetlens.findings.vehicle_failures import VEHICLE_KEYS, Histories, answer, histories
from fleetlens.reliability.recurrence import MeanCumulative, difference, mean_cumulative
from fleetlens.store.reader import Snapshot

__all__ = ["recurrence_difference", "recurrent_failures"]


def recurrent_failures(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    *,
    by: Sequence[str] = (),
) -> Finding:
    """Mean number of confirmed failures per vehicle by odometer, for each component and group of `by`.

    A vehicle is observed between the odometers of its record, so one that joined late counts only from there. It
    describes the vehicle, which is repaired, not the part, which is renewed: don't read part life from it. Raises
    FleetlensError for a key outside VEHICLE_KEYS, and for a component or filter value that the store doesn't know.
    Source: Nelson 1995, Technometrics 37, 147-157, with robust variance.
    """
    keys = chosen(by, VEHICLE_KEYS)
    known = histories(snapshot, component, keys, filters)
    steps = _curve(known).steps.with_columns(pl.col("group").cast(pl.Int64))
    rows = (
        known.groups.with_row_index("group")
        .with_columns(pl.col("group").cast(pl.Int64))
        .join(steps, on="group", maintain_order="left_right")
        .select(
            "component",
            *keys,
            km="time",
            vehicles_at_risk="at_risk",
            events="events",
            mean_events="mean",
            low="low",
            high="high",
        )
    )
    return answer(
        snapshot,
        known,
        filters,
        question="recurrent failures",
        rows=rows,
        method=(
            "Mean cumulative number of confirmed failures per vehicle by odometer, with robust variance and "
            "staggered entry (Nelson 1995); 95 % limits on the log scale."
        ),
    )


def recurrence_difference(
    snapshot: Snapshot,
    component: str | None,
    key: str,
    first: str,
    second: str,
    *,
    at: Sequence[float] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Mean failures per vehicle by these km (round ones without) in the group `first` of `key` less those in `second`.

    Null where one of the curves isn't known. Raises FleetlensError for a group without vehicles, for more than one
    component, and as recurrent_failures does.
    """
    keys = chosen([key], VEHICLE_KEYS)
    known = histories(snapshot, component, keys, filters)
    if known.groups["component"].n_unique() > 1:
        raise FleetlensError("a difference is of one component's failures", do="name one with --component")
    mine, other = places(known.groups[key].to_list(), key, (first, second), "vehicle")
    both = min(float(known.spans[1][known.group == number].max()) for number in (mine, other))
    found = difference(_curve(known), sorted(set(at)) or round_distances(both), group=mine, other=other)
    rows = found.select(
        pl.lit(known.groups["component"][0]).alias("component"),
        km="time",
        mean_first="mean",
        mean_second="mean_other",
        difference="difference",
        difference_low="low",
        difference_high="high",
        p="p",
    )
    return answer(
        snapshot,
        known,
        filters,
        question=f"failures per vehicle, {first} less {second}",
        rows=rows,
        method=(
            f"Mean cumulative number of confirmed failures per vehicle by odometer of {key} {first}, of {second}, and "
            "the difference with 95 % limits from those of the curves (robust variance; Nelson 2003; Zou & Donner)."
        ),
        notes=("It compares what ran, not like with like: duty and age of the record may differ too.",),
    )


def _curve(known: Histories) -> MeanCumulative:
    return mean_cumulative(*known.events, *known.spans, group=known.group, n_groups=known.groups.height)
