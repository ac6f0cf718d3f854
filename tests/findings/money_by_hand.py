"""Warranty, cost and campaign written a second time: one vehicle, one job at a time; slow and plain on purpose."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

from findings.by_hand import FAULT, RENEWING, REPAIRING, Fleet, Row, day_of


def total(values: list[float | None]) -> float | None:
    """The sum of what is known; None where nothing is."""
    known = [value for value in values if value is not None]
    return sum(known) if known else None


class MoneyFleet(Fleet):
    """A fleet asked about parts in their term, money, and treated vehicles."""

    # Endings of parts, for warranty and campaign

    def endings(self, vehicle: Row) -> Iterator[tuple[Row, str, str, list[Row], str]]:
        """(job, component, position, its rows, how it ended) of each ending of a part."""
        _, end = self.record(vehicle)
        for job in self.visits(vehicle):
            if end is None or day_of(job["opened_at"]) > end:
                continue
            rows = self.actions_of(job)
            for component, place in sorted({(row["component"], self.position(vehicle, row)) for row in rows}):
                mine = [row for row in rows if row["component"] == component and self.position(vehicle, row) == place]
                renewing = [row for row in mine if row["action"] in RENEWING]
                disabled = any(row["action"] == "disable" for row in mine)
                if renewing or disabled:
                    caused = any((row.get("cause") or "").strip() for row in renewing)
                    failed = job["reason"] in FAULT or caused
                    yield job, component, place, mine, "removed" if disabled else "failed" if failed else "preventive"

    def fitted_by(self, rows: list[Row], ended: str) -> bool:
        return ended != "removed" and any(row["action"] == "replace" for row in rows)

    def part_failures(self) -> Iterator[dict[str, Any]]:
        """Failures of parts that jobs had fitted, with the two odometers and the money of the failing job's rows."""
        for vehicle in self.vehicles:
            running: dict[tuple[str, str], Row | None] = {}
            for job, component, place, rows, ended in self.endings(vehicle):
                fit = running.get((component, place))
                if ended == "failed" and fit:
                    yield {
                        "vehicle_id": vehicle["vehicle_id"],
                        "component": component,
                        "position": place,
                        "fitted_on": day_of(fit.get("closed_at") or fit["opened_at"]),
                        "fitted_km": self.km(fit),
                        "failed_on": day_of(job["opened_at"]),
                        "failed_km": self.km(job),
                        "parts_cost": total([row.get("parts_cost") for row in rows]),
                        "labour_cost": total([row.get("labour_cost") for row in rows]),
                        "fit_job_id": fit["job_id"],
                        "fail_job_id": job["job_id"],
                    }
                if self.fitted_by(rows, ended):
                    running[component, place] = job
                elif ended == "removed":
                    running[component, place] = None

    def parts_fitted(self) -> Iterator[dict[str, Any]]:
        """Parts that jobs fitted, each until it is replaced or removed, or the record ends."""
        for vehicle in self.vehicles:
            _, end = self.record(vehicle)
            running: dict[tuple[str, str], Row | None] = {}

            def told(place: tuple[str, str], fit: Row, seen_to: date, seen_to_km: float | None, on: bool) -> Any:
                return {
                    "component": place[0],
                    "position": place[1],
                    "fitted_km": self.km(fit),
                    "seen_to": seen_to,
                    "seen_to_km": seen_to_km,
                    "on_vehicle": on,
                    "fit_job_id": fit["job_id"],
                }

            for job, component, place, rows, ended in self.endings(vehicle):
                changed = ended == "removed" or self.fitted_by(rows, ended)
                fit = running.get((component, place))
                if changed and fit:
                    yield told((component, place), fit, day_of(job["opened_at"]), self.km(job), False)
                if changed:
                    running[component, place] = job if ended != "removed" else None
            for part, fit in running.items():
                if fit:
                    yield told(part, fit, end, self.usage(vehicle["vehicle_id"], end), True)

    # Money

    def distance(self, vehicle: Row) -> float | None:
        start, end = (self.usage(vehicle["vehicle_id"], day) for day in self.record(vehicle))
        return None if start is None or end is None else max(end - start, 0.0)

    def lines(self, by: str, components: list[str] | None) -> Iterator[tuple[str | None, Row, Row, list[Row], bool]]:
        """(group, vehicle, job, rows whose money counts, whether the job's downtime counts) of each job and group."""
        for vehicle in self.vehicles:
            for job in self.observed(vehicle):
                rows = [row for row in self.actions_of(job) if components is None or row["component"] in components]
                if by == "component":
                    for component in sorted({row["component"] for row in rows}):
                        mine = [row for row in rows if row["component"] == component]
                        yield component, vehicle, job, mine, any(row["action"] in REPAIRING for row in mine)
                elif rows or components is None:
                    groups = self.codes_of(job) if by == "code" else {vehicle.get(GROUP[by])}
                    for group in groups:
                        yield group, vehicle, job, rows, True

    def costs(self, by: str, rate: float, components: list[str] | None = None) -> Iterator[dict[str, Any]]:
        found = list(self.lines(by, components))
        carrying: dict[str, list[Row]] = {}
        for vehicle, component, _ in self.parts():
            if vehicle not in carrying.setdefault(component, []):
                carrying[component].append(vehicle)
        for group in {line[0] for line in found}:
            mine = [line for line in found if line[0] == group]
            if by == "component":
                at_risk = carrying.get(group, [])
            else:
                at_risk = [
                    vehicle
                    for vehicle in self.vehicles
                    if (by == "code" or vehicle.get(GROUP[by]) == group)
                    and (components is None or any(vehicle in carrying.get(name, []) for name in components))
                ]
            at_risk = [vehicle for vehicle in at_risk if self.distance(vehicle) is not None]

            def spent(lines: list[Any]) -> float:
                money = sum(
                    (row.get("labour_cost") or 0) + (row.get("parts_cost") or 0) for line in lines for row in line[3]
                )
                return money + rate * sum(line[2].get("downtime_h") or 0 for line in lines if line[4])

            hours = [line[2].get("downtime_h") for line in mine if line[4]]
            km = sum(self.distance(vehicle) for vehicle in at_risk)
            yield {
                "name": group,
                "jobs": len(mine),
                "jobs_without_cost": sum(
                    all(row.get("labour_cost") is None and row.get("parts_cost") is None for row in line[3])
                    for line in mine
                ),
                "vehicles": len({line[1]["vehicle_id"] for line in mine}),
                "labour_cost": total([row.get("labour_cost") for line in mine for row in line[3]]),
                "parts_cost": total([row.get("parts_cost") for line in mine for row in line[3]]),
                "fault_cost": spent([line for line in mine if line[2]["reason"] in FAULT]),
                "downtime_h": total(hours),
                "downtime_jobs": sum(hour is not None for hour in hours),
                "seen": len(at_risk),
                "km": km if at_risk else None,
                "spent": spent([line for line in mine if line[1] in at_risk]),
                "residual": sum(
                    (
                        spent([line for line in mine if line[1] is vehicle])
                        - (spent([line for line in mine if line[1] in at_risk]) / km) * self.distance(vehicle)
                    )
                    ** 2
                    for vehicle in at_risk
                )
                if km
                else None,
            }

    def job_times(self, by: str) -> Iterator[tuple[str | None, float, bool]]:
        """(group, hours open, whether closed) of each fault job and group."""
        for vehicle in self.vehicles:
            for job in self.observed(vehicle):
                if job["reason"] not in FAULT:
                    continue
                closed = job.get("closed_at")
                done = closed is not None and day_of(closed) <= self.as_of
                opened = job["opened_at"] if isinstance(job["opened_at"], datetime) else day_of(job["opened_at"])
                hours = (closed - opened if done else self.as_of - day_of(opened) + timedelta(1)) / timedelta(hours=1)
                if by == "component":
                    groups: Any = self.repaired(job)
                else:
                    groups = self.codes_of(job) if by == "code" else {vehicle.get(GROUP[by])}
                for group in groups:
                    yield group, hours, done

    # Campaign

    def treated(self, component: str | None, action: str | None) -> dict[str, date]:
        """Each treated vehicle with the day of its first treating job."""
        found: dict[str, date] = {}
        for vehicle in self.vehicles:
            for job in self.observed(vehicle):
                rows = [row for row in self.actions_of(job) if component is None or row["component"] == component]
                if action is None:
                    hit = job["reason"] == "campaign" and (component is None or bool(rows))
                else:
                    hit = any(row["action"] == action for row in rows)
                if hit:
                    found.setdefault(vehicle["vehicle_id"], day_of(job["opened_at"]))
        return found

    def around(self, component: str, treated: dict[str, date], days: int) -> dict[str, dict[str, float]]:
        """For each side: vehicles, failures and km before and after."""
        common = sorted(treated.values())[(len(treated) - 1) // 2]
        carriers = {vehicle["vehicle_id"] for vehicle, name, _ in self.parts() if name == component}
        found = {
            side: {"vehicles": 0, "before": 0, "after": 0, "km_before": 0.0, "km_after": 0.0}
            for side in ("treated", "untreated")
        }
        for vehicle in self.vehicles:
            name = vehicle["vehicle_id"]
            start, end = self.record(vehicle)
            if name not in carriers or start is None or end is None:
                continue
            day = treated.get(name, common)
            first, last = max(start, day - timedelta(days)), min(end, day + timedelta(days))
            if not first <= day <= last or self.usage(name, day) is None:
                continue
            before = self.usage(name, day) - self.usage(name, first)
            after = self.usage(name, last) - self.usage(name, day)
            if before <= 0 or after <= 0:
                continue
            side = found["treated" if name in treated else "untreated"]
            side["vehicles"] += 1
            side["km_before"] += before
            side["km_after"] += after
            observed = {job["job_id"] for job in self.observed(vehicle)}
            places = {(part, place) for owner, part, place in self.parts() if owner is vehicle}
            for job, part, place, _, ended in self.endings(vehicle):
                when = day_of(job["opened_at"])
                counts = part == component and ended == "failed" and (part, place) in places
                if counts and job["job_id"] in observed and first <= when <= last:
                    side["before"] += when < day
                    side["after"] += when > day
        return found


GROUP = {"vehicle": "vehicle_id", "model": "model", "duty": "duty", "depot": "depot"}
