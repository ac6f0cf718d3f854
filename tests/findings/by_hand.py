"""The rules of classification written a second time: one vehicle, one job at a time; slow and plain on purpose."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from itertools import pairwise
from math import floor
from typing import Any

Row = Mapping[str, Any]

FAULT = {"breakdown", "defect", "warranty"}
REPAIRING = ["replace", "repair", "clean", "adjust", "software"]  # the strongest first
RENEWING = {"replace": "replaced", "repair": "repaired", "clean": "cleaned"}


def day_of(moment: date | datetime) -> date:
    return moment.date() if isinstance(moment, datetime) else moment


def begin(began_as: str, start_km: float | None, seen_km: float | None, job_id: str | None) -> dict[str, Any]:
    """A life that starts; it is seen from `seen_km` where that is later."""
    known = [km for km in (start_km, seen_km) if km is not None]
    return {
        "began_as": began_as,
        "start_km": start_km,
        "entry_km": max(known, default=None),
        "began_job_id": job_id,
        "looked_km": start_km,
    }


def over(
    life: dict[str, Any], end_km: float | None, ended: str, job_id: str | None, found_late: bool
) -> dict[str, Any]:
    """The life at its end; one found failed at an inspection was last good at the look before, under observation."""
    known = [
        km
        for km in (life["looked_km"] if life["looked_km"] is not None else life["start_km"], life["entry_km"])
        if km is not None
    ]
    return life | {
        "end_km": end_km,
        "ended": ended,
        "known_good_km": max(known, default=None) if found_late else None,
        "end_job_id": job_id,
    }


def place_of(row: Row) -> str:
    return (row.get("position") or "").strip().lower()


def copied(jobs: Sequence[Row], actions: Sequence[Row]) -> set[str]:
    """Jobs that repeat another of the same vehicle, day, odometer, reason, work, complaint and cost."""
    first: dict[Any, str] = {}
    copies = set()
    for job in sorted(jobs, key=lambda job: job["job_id"]):
        work = frozenset(
            (row["component"], row["action"], row.get("position") or "")
            for row in actions
            if row["job_id"] == job["job_id"]
        )
        cost = sum(
            (row.get("labour_cost") or 0) + (row.get("parts_cost") or 0)
            for row in actions
            if row["job_id"] == job["job_id"]
        )
        if not work or job.get("odometer_km") is None or not (job.get("complaint") or cost):
            continue
        sight = (
            job["vehicle_id"],
            day_of(job["opened_at"]),
            job["odometer_km"],
            job["reason"],
            job.get("complaint"),
            work,
            cost,
        )
        if first.setdefault(sight, job["job_id"]) != job["job_id"]:
            copies.add(job["job_id"])
    return copies


def effective(actions: Sequence[Row], jobs: Sequence[Row]) -> list[Row]:
    """The actions, where a returned part, and a replacement all of whose parts were credited, is a credit."""
    by_id = {job["job_id"]: job for job in jobs}

    def returned(row: Row) -> bool:
        return row["action"] == "credit" or (row["action"] == "replace" and (row.get("quantity") or 1) < 0)

    bought = [row for row in actions if row["action"] == "replace" and not returned(row)]
    credited: dict[tuple[str, str, str], float] = {}
    for credit in {id(row): row for row in actions if returned(row)}.values():
        job = by_id[credit["job_id"]]
        near = [
            row
            for row in bought
            if by_id[row["job_id"]]["vehicle_id"] == job["vehicle_id"]
            and row["component"] == credit["component"]
            and place_of(row) == place_of(credit)
            and (
                not row.get("part_number")
                or not credit.get("part_number")
                or row["part_number"] == credit["part_number"]
            )
            and by_id[row["job_id"]]["opened_at"] <= job["opened_at"]
            and (day_of(job["opened_at"]) - day_of(by_id[row["job_id"]]["opened_at"])).days <= 60
        ]
        if near:
            last = max(near, key=lambda row: (by_id[row["job_id"]]["opened_at"], row["job_id"]))
            key = (last["job_id"], last["component"], place_of(last))
            credited[key] = credited.get(key, 0.0) + abs(credit.get("quantity") or 1)
    cancelled = {
        key
        for key, quantity in credited.items()
        if quantity
        >= sum(row.get("quantity") or 1 for row in bought if (row["job_id"], row["component"], place_of(row)) == key)
    }
    return [
        {**row, "action": "credit"}
        if (row.get("quantity") or 1) < 0
        or (row["action"] == "replace" and (row["job_id"], row["component"], place_of(row)) in cancelled)
        else row
        for row in actions
    ]


class Fleet:
    """The rows of a fleet with all readings good, asked by hand."""

    def __init__(
        self,
        vehicles: Sequence[Row],
        jobs: Sequence[Row],
        *,
        codes: Sequence[Row] = (),
        actions: Sequence[Row] = (),
        checks: Sequence[Row] = (),
        odometer: Sequence[Row] = (),
        fitted: Sequence[Row] = (),
        as_of: date | None = None,
    ) -> None:
        self.vehicles, self.codes, self.checks, self.fitted = vehicles, codes, checks, fitted
        self.actions = effective(actions, jobs)
        dated = [day_of(job[name]) for job in jobs for name in ("opened_at", "closed_at") if job.get(name)]
        dated += [day_of(row["read_at"]) for row in odometer]
        self.as_of = as_of or max(dated, default=None)
        self.all_jobs = jobs
        self.copies = copied(jobs, actions)
        self.jobs = [job for job in jobs if self.as_of and day_of(job["opened_at"]) <= self.as_of]
        self.readings: dict[str, list[tuple[date, float]]] = {vehicle["vehicle_id"]: [] for vehicle in vehicles}
        for vehicle in vehicles:
            if vehicle.get("in_service_on"):
                self.readings[vehicle["vehicle_id"]].append(
                    (vehicle["in_service_on"], vehicle.get("in_service_km") or 0.0)
                )
        for job in jobs:
            if job.get("odometer_km") is not None:
                self.readings[job["vehicle_id"]].append((day_of(job["opened_at"]), job["odometer_km"]))
        for row in odometer:
            self.readings[row["vehicle_id"]].append((day_of(row["read_at"]), row["km"]))
        self.lowest_first: dict[str, float] = {}
        for vehicle_id, readings in self.readings.items():
            highest: dict[date, float] = {}
            for day, km in readings:
                if self.as_of and day <= self.as_of:
                    highest[day] = max(km, highest.get(day, km))
            self.readings[vehicle_id] = sorted(highest.items())
            first = min(highest, default=None)
            self.lowest_first[vehicle_id] = min((km for day, km in readings if day == first), default=0.0)

    def usage(self, vehicle_id: str, day: date | None) -> float | None:
        """Odometer on a day: between readings in proportion, after the last at the recent rate."""
        readings = self.readings[vehicle_id]
        if not readings or day is None:
            return None
        if day <= readings[0][0]:
            return self.lowest_first[vehicle_id]
        for (before, low), (after, high) in pairwise(readings):
            if before <= day < after:
                return low + (high - low) * (day - before).days / (after - before).days
        last_day, last_km = readings[-1]
        return last_km + self.rate(vehicle_id) * (day - last_day).days

    def rate(self, vehicle_id: str) -> float:
        """Recent km per day: from the latest reading at least 90 days before the last one, else from the first."""
        readings = self.readings[vehicle_id]
        last_day, last_km = readings[-1]
        earliest = readings[0][0], self.lowest_first[vehicle_id]
        base_day, base_km = next(((d, k) for d, k in reversed(readings) if (last_day - d).days >= 90), earliest)
        return (last_km - base_km) / (last_day - base_day).days if last_day > base_day else 0.0

    def record(self, vehicle: Row) -> tuple[date | None, date | None]:
        """The days on which a vehicle is observed."""
        opened = [day_of(job["opened_at"]) for job in self.all_jobs if job["vehicle_id"] == vehicle["vehicle_id"]]
        seen = [day for day, _ in self.readings[vehicle["vehicle_id"]][:1]] + opened
        start = vehicle.get("history_from") or vehicle.get("in_service_on") or min(seen, default=None)
        if vehicle.get("in_service_on") and start:
            start = max(start, vehicle["in_service_on"])
        end = min((day for day in (self.as_of, vehicle.get("left_service_on")) if day), default=None)
        return start, end

    def visits(self, vehicle: Row) -> list[Row]:
        return sorted(
            (
                job
                for job in self.jobs
                if job["vehicle_id"] == vehicle["vehicle_id"] and job["job_id"] not in self.copies
            ),
            key=lambda job: (job["opened_at"], job["job_id"]),
        )

    def observed(self, vehicle: Row) -> list[Row]:
        start, end = self.record(vehicle)
        if start is None or end is None:
            return []
        return [job for job in self.visits(vehicle) if start <= day_of(job["opened_at"]) <= end]

    def km(self, job: Row) -> float | None:
        if job.get("odometer_km") is not None:
            return job["odometer_km"]
        return self.usage(job["vehicle_id"], day_of(job["opened_at"]))

    def codes_of(self, job: Row) -> set[str]:
        return {row["code"] for row in self.codes if row["job_id"] == job["job_id"]}

    def actions_of(self, job: Row) -> list[Row]:
        return [row for row in self.actions if row["job_id"] == job["job_id"]]

    def repairing(self, job: Row) -> bool:
        return any(row["action"] in REPAIRING for row in self.actions_of(job))

    # Episodes

    def episodes(self) -> Iterator[tuple[str, str, str, int]]:
        """(code, vehicle, job, number of the episode) of each event."""
        for vehicle in self.vehicles:
            number: dict[str, int] = {}
            closed: dict[str, bool] = {}
            for job in self.observed(vehicle):
                for code in self.codes_of(job):
                    if code not in number or closed[code]:
                        number[code] = number.get(code, 0) + 1
                    closed[code] = self.repairing(job)
                    yield code, vehicle["vehicle_id"], job["job_id"], number[code]

    # Lives

    def position(self, vehicle: Row, row: Row) -> str:
        one = any(
            f["model"] == vehicle["model"] and f["component"] == row["component"] and f.get("count") == 1
            for f in self.fitted
        )
        return "" if one else (row.get("position") or "").strip().lower()

    def parts(self) -> Iterator[tuple[Row, str, str]]:
        """(vehicle, component, position) of each part carried."""
        known = {job["job_id"]: job["vehicle_id"] for job in self.jobs}
        by_id = {vehicle["vehicle_id"]: vehicle for vehicle in self.vehicles}
        named = [(by_id[known[row["job_id"]]], row) for row in self.actions if row["job_id"] in known]
        looked_at = [(by_id[known[row["job_id"]]], row) for row in self.checks if row["job_id"] in known]
        carried = [(vehicle, row) for vehicle, row in (*named, *looked_at) if row["component"]]
        listed = {row["component"] for row in self.fitted}
        for component in sorted({row["component"] for _, row in carried} | listed):
            if component in listed:
                models = {row["model"] for row in self.fitted if row["component"] == component}
            else:
                models = {vehicle["model"] for vehicle, row in carried if row["component"] == component}
            for vehicle in self.vehicles:
                if vehicle["model"] not in models:
                    continue
                here = [
                    (v, row) for v, row in named if row["component"] == component and v["model"] == vehicle["model"]
                ]
                places = {self.position(v, row) for v, row in here} - {""}
                own = {self.position(v, row) for v, row in here if v is vehicle}
                for place in places or {""}:
                    yield vehicle, component, place
                if places and "" in own:
                    yield vehicle, component, ""

    def lives(self) -> Iterator[dict[str, Any]]:
        for vehicle, component, place in self.parts():
            start, end = self.record(vehicle)
            from_km, to_km = (self.usage(vehicle["vehicle_id"], day) for day in (start, end))
            part = {"vehicle_id": vehicle["vehicle_id"], "component": component, "position": place}
            new_km = vehicle.get("in_service_km") or 0.0
            running: dict[str, Any] | None = begin("new", new_km, from_km, None)
            for job in self.visits(vehicle):
                if day_of(job["opened_at"]) > end:
                    continue
                rows = [row for row in self.actions_of(job) if row["component"] == component]
                mine = [row for row in rows if self.position(vehicle, row) == place]
                renewing = [row for row in mine if row["action"] in RENEWING]
                disabled = any(row["action"] == "disable" for row in mine)
                looked = any(row["action"] == "inspect" and self.position(vehicle, row) in (place, "") for row in rows)
                if renewing or disabled:
                    caused = any((row.get("cause") or "").strip() for row in renewing)
                    fault = job["reason"] in FAULT
                    ended = "removed" if disabled else "failed" if fault or caused else "preventive"
                    if running:
                        yield part | over(running, self.km(job), ended, job["job_id"], ended == "failed" and not fault)
                    strongest = min((row["action"] for row in renewing), key=REPAIRING.index, default=None)
                    running = None
                    if strongest and not disabled:
                        running = begin(RENEWING[strongest], self.km(job), from_km, job["job_id"])
                elif running and looked:
                    running["looked_km"] = self.km(job)
            if running:
                left = vehicle.get("left_service_on") and vehicle["left_service_on"] <= end
                yield part | over(running, to_km, "left" if left else "record ends", None, False)

    # Comebacks

    def repairs(self, window_days: int, window_km: float) -> Iterator[dict[str, Any]]:
        for vehicle in self.vehicles:
            _, end = self.record(vehicle)
            faults = [job for job in self.observed(vehicle) if job["reason"] in FAULT]
            for job in faults:
                zero = day_of(job.get("closed_at") or job["opened_at"])
                if zero > end:
                    continue
                passed = self.passes(vehicle["vehicle_id"], None if self.km(job) is None else self.km(job) + window_km)
                limits = [window_days, (end - zero).days, *([] if passed is None else [passed - zero.toordinal()])]
                for component in sorted(self.repaired(job)):
                    rows = [row for row in self.actions_of(job) if row["component"] == component]
                    actions = {row["action"] for row in rows}
                    repair = {
                        "job_id": job["job_id"],
                        "component": component,
                        "action": next(action for action in REPAIRING if action in actions),
                        "cause": self.cause(rows),
                        "checks_after": self.checks_after(job, component),
                        "window_over": min(window_days, *limits[2:], window_days) <= (end - zero).days,
                    }
                    back = self.comeback(job, component, faults, (window_days, window_km))
                    still = {"comeback_job_id": None, "kind": None, "followed_days": max(min(limits), 0)}
                    yield repair | (back or still)

    def cause(self, rows: Sequence[Row]) -> str | None:
        """The cause of the strongest repairing action that has one; of several, the last by name."""
        for action in REPAIRING:
            causes = [(row.get("cause") or "").strip() for row in rows if row["action"] == action]
            if any(causes):
                return max(causes)
        return None

    def checks_after(self, job: Row, component: str) -> str:
        """Whether a road test, a relearn or reading codes again is recorded as passed, as not passed, or not at all."""

        def about(row: Row) -> bool:
            return row["job_id"] == job["job_id"] and row["component"] in (component, "vehicle", None)

        said: list[bool] = []
        for proof in ("road_test", "relearn", "codes_reread"):
            passed = [row["passed"] for row in self.checks if about(row) and row["check"] == proof]
            passed = [value for value in passed if value is not None]
            if passed:
                said.append(any(passed))
            elif proof != "codes_reread" and any(about(row) and row["action"] == proof for row in self.actions):
                said.append(True)
        return "not recorded" if not said else "done" if all(said) else "not done"

    def repaired(self, job: Row) -> set[str]:
        return {row["component"] for row in self.actions_of(job) if row["action"] in REPAIRING}

    def comeback(self, job: Row, component: str, faults: list[Row], window: tuple[int, float]) -> dict[str, Any] | None:
        zero, km = day_of(job.get("closed_at") or job["opened_at"]), self.km(job)
        for later in faults:
            if later["opened_at"] <= job["opened_at"] or day_of(later["opened_at"]) < zero:
                continue
            days, later_km = (day_of(later["opened_at"]) - zero).days, self.km(later)
            if days <= 3 and km is not None and later_km is not None and later_km - km <= 2:
                continue  # a supplement of the same repair
            if days > window[0] or (km is not None and later_km is not None and later_km - km > window[1]):
                continue
            again = component in self.repaired(later)
            if again or self.codes_of(job) & self.codes_of(later):
                kind = "same_component" if again else "other_cause" if self.repairing(later) else "nothing_found"
                return {"comeback_job_id": later["job_id"], "kind": kind, "followed_days": days}
        return None

    def passes(self, vehicle_id: str, km: float | None) -> int | None:
        """The day, as an ordinal, on which the vehicle's usage passes `km`."""
        readings = self.readings[vehicle_id]
        if km is None or not readings:
            return None
        for (before, low), (after, high) in pairwise(readings):
            if low <= km < high:
                return before.toordinal() + floor((km - low) * ((after - before).days / (high - low)))
        last_day, last_km = readings[-1]
        pace = self.rate(vehicle_id)
        return last_day.toordinal() + floor((km - last_km) * (1 / pace)) if pace > 0 and km >= last_km else None
