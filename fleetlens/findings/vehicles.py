"""What was done to one vehicle before: its jobs in order, with codes, work and cost."""

import difflib
from typing import Any

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.store.reader import Snapshot

__all__ = ["known_vehicle", "vehicle_history", "vehicle_ids"]

WORDS = (
    ("make", ""),
    ("model", ""),
    ("model_year", "model year "),
    ("engine", "engine "),
    ("duty", "duty "),
    ("depot", "depot "),
    ("in_service_on", "in service since "),
)


def vehicle_history(snapshot: Snapshot, vehicle_id: str) -> Finding:
    """The jobs of a vehicle, oldest first, up to the as-of date.

    An odometer is recorded, estimated from the vehicle's usage, or set aside because it contradicts the readings around
    it (the estimate stands in). Raises FleetlensError for a vehicle that the store doesn't know, with
    the nearest it does.
    """
    vehicle = known_vehicle(snapshot, vehicle_id)
    rows = snapshot.frame("findings/vehicle_jobs", vehicle_id=vehicle_id)
    notes = [
        ", ".join(f"{word}{vehicle[name]}" for name, word in WORDS if vehicle[name] is not None)
        or "no details recorded"
    ]
    if vehicle["to_km"] is not None:
        notes.append(
            f"{vehicle['to_km']:,.0f} km at the end of its record ({vehicle['record_to']:%Y-%m-%d}), "
            f"{vehicle['km']:,.0f} km of it under "
            f"observation since {vehicle['record_from']:%Y-%m-%d}."
        )
    if vehicle["disabled"]:
        notes.append(
            "An emission component was taken out of use on this vehicle. That is unlawful on the road in "
            "many countries; it counts as "
            "no repair here."
        )
    return Finding(
        question=f"history of vehicle {vehicle_id}",
        rows=rows,
        method="One row is a job, oldest first. Cost is labour and parts as recorded, credits netted.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("up to the as-of date", rows.height, "jobs"),),
        notes=tuple(notes),
    )


def known_vehicle(snapshot: Snapshot, vehicle_id: str) -> dict[str, Any]:
    """The vehicle with its record. Raises FleetlensError for one that the store doesn't know, with the nearest."""
    known = snapshot.frame("findings/vehicle", vehicle_id=vehicle_id)
    if known.is_empty():
        ids = vehicle_ids(snapshot)
        near = difflib.get_close_matches(vehicle_id, ids, n=3) or ids[:3]
        raise FleetlensError(
            f"no vehicle is called {vehicle_id!r} in this store",
            do=f"such as {', '.join(near)}" if near else "load vehicles first",
        )
    return known.row(0, named=True)


def vehicle_ids(snapshot: Snapshot, filters: Filters = Filters()) -> list[str]:  # noqa: B008 - frozen
    """The vehicles kept, by the fleet's own identifier, sorted."""
    ids: list[str] = snapshot.frame("findings/vehicle_ids", **filters.bound())["vehicle_id"].to_list()
    return ids
