"""Vehicles as repairable systems: between which odometers each is observed, and the failures of a component inside."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.life_table import kept_components
from fleetlens.store.reader import Snapshot

__all__ = ["VEHICLE_KEYS", "Histories", "answer", "failure_rows", "histories"]

VEHICLE_KEYS = ("model", "duty", "depot", "model_year")
VEHICLE_NOT_PART = (
    "It describes the vehicle, which is repaired, not the part, which is renewed: don't read part life from it."
)


@dataclass(frozen=True, slots=True)
class Histories:
    """Vehicles under observation between two odometers, their groups, and the failures inside.

    `units` has one row a vehicle and component, `failures` one a failure with its `unit`; `groups` one a group.
    """

    units: pl.DataFrame
    failures: pl.DataFrame
    groups: pl.DataFrame
    group: npt.NDArray[np.int64]
    excluded: tuple[Count, ...]

    @property
    def events(self) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
        """The unit and the odometer of each failure."""
        return self.failures["unit"].cast(pl.Int64).to_numpy(), self.failures["km"].to_numpy()

    @property
    def spans(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """The odometers between which each unit is observed."""
        return self.units["from_km"].to_numpy(), self.units["to_km"].to_numpy()

    def counted(self) -> tuple[Count, ...]:
        """Vehicles under observation and failures placed on them."""
        return (
            Count("under observation", self.units["vehicle_id"].n_unique(), "vehicles"),
            Count("confirmed", self.failures.height, "failures"),
        )


def failure_rows(
    snapshot: Snapshot,
    component: str | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    *,
    by: Sequence[str] = (),
) -> Finding:
    """The failures that count, each with its job and vehicle, and the odometers between which that was observed."""
    known = histories(snapshot, component, chosen(by, VEHICLE_KEYS), filters)
    rows = known.failures.select(
        "component", "vehicle_id", *VEHICLE_KEYS, "position", "job_id", "opened_on", "km", "from_km", "to_km"
    )
    return answer(
        snapshot,
        known,
        filters,
        question="failures",
        rows=rows,
        method="One row is a confirmed failure of a component on a vehicle, inside that vehicle's record.",
    )


def histories(snapshot: Snapshot, component: str | None, keys: list[str], filters: Filters) -> Histories:
    """The vehicles that carry the component and their failures under observation, and what is left out."""
    bound = {"components": kept_components(snapshot, component, filters), **filters.bound()}
    carriers = snapshot.frame("findings/carriers", **bound)
    events = snapshot.frame("findings/failure_events", **bound)
    seen = carriers.filter(pl.col("km") > 0)
    groups, group = evidence.numbered(seen, ["component", *keys])
    units = seen.with_row_index("unit")
    placed = events.join(units.drop("km"), on=["component", "vehicle_id"], how="inner", maintain_order="left").filter(
        pl.col("observed") & (pl.col("km") > pl.col("from_km")) & (pl.col("km") <= pl.col("to_km"))
    )
    excluded = (
        *evidence.some(carriers.height - seen.height, "no distance under observation", "vehicles"),
        *evidence.some(
            events.height - placed.height,
            "outside the vehicle's record, at its very start, or without odometer",
            "failures",
        ),
    )
    return Histories(units, placed, groups, group.to_numpy(), excluded)


def answer(
    snapshot: Snapshot,
    known: Histories,
    filters: Filters,
    *,
    question: str,
    rows: pl.DataFrame,
    method: str,
    notes: tuple[str, ...] = (),
) -> Finding:
    """An answer about these histories."""
    return Finding(
        question=question,
        rows=rows,
        method=method,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=known.counted(),
        excluded=known.excluded,
        assumed=evidence.readings(snapshot, filters),
        notes=(*notes, VEHICLE_NOT_PART),
        filters=filters.named(),
    )
