"""From what each column was taken for to the tables of a map: one table, or several in a wide export."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from fleetlens.intake.maps.column_map import UNDECIDED, Kind, Origin
from fleetlens.vocabulary.tables import tables

__all__ = ["Layout", "lay_out"]

_VEHICLE = tuple(column.name for column in tables()["vehicles"].columns if column.name != "vehicle_id")
_JOB = ("closed_at", "reason", "complaint", "workshop", "technician", "downtime_h")
_ACTION = tuple(
    column.name for column in tables()["job_actions"].columns if column.name not in ("job_id", "line", "from_text")
)
_CODE = ("code", "status")
_CHECK = ("check", "value", "unit", "low", "high", "passed")
_TELLS_VEHICLE = ("vehicle_id", "registration", "vin")


@dataclass(frozen=True, slots=True)
class Layout:
    """The tables of a map before the keys of their columns are settled, and what was concluded on the way."""

    kind: Kind
    tables: dict[str, dict[str, Origin]]
    conclusions: list[str] = field(default_factory=list)


def lay_out(columns: Mapping[str, str], code_in_text: frozenset[str], vehicles_known: bool) -> Layout:
    """`columns`: our column and the file's; `code_in_text`: those of ours whose texts hold fault codes.

    `vehicles_known`: the store holds most vehicles that the file names.
    """
    has = set(columns)
    vehicle = next((name for name in _TELLS_VEHICLE if name in has), "")
    dated = bool(has & {"opened_at", "read_at", "closed_at"})
    line = has & set(_ACTION)
    if {"model", "component"} <= has and not dated and "job_id" not in has and not vehicle:
        return _one("fitted", columns)
    of_jobs = has & {"complaint", "reason", "note", "labour_cost", "parts_cost", "code", "action", "downtime_h"}
    if vehicle and not dated and "job_id" not in has and not of_jobs:
        return _one("vehicles", columns, vehicle)
    if "job_id" in has and not dated:
        return _of_known_jobs(columns)
    if vehicle and "odometer" in has and not has & {"job_id", *_JOB, *_CODE, *_CHECK, *line}:
        return _one("odometer", columns, vehicle)
    return _jobs(columns, code_in_text, vehicle, vehicles_known)


def _pick(table: str, columns: Mapping[str, str]) -> dict[str, Origin]:
    """The columns of a table that the file has."""
    found = {ours.name: Origin(columns[ours.name]) for ours in tables()[table].columns if ours.name in columns}
    if {"odometer", "odometer_unit"} <= set(found):
        found["odometer"] = Origin(columns["odometer"], unit=f"from column {columns['odometer_unit']}")
        del found["odometer_unit"]
    return found


def _one(table: str, columns: Mapping[str, str], vehicle: str = "") -> Layout:
    """A file of one table without jobs."""
    conclusions = [f"one row is {tables()[table].description.removeprefix('One row is ').rstrip('.')}: table {table}"]
    given = dict(columns)
    if vehicle and vehicle != "vehicle_id":
        given["vehicle_id"] = columns[vehicle]
        conclusions.append(f"no column numbers the vehicles: {columns[vehicle]!r} tells them")
    if table == "odometer" and "read_at" not in given:
        given["read_at"] = given.get("opened_at") or given["closed_at"]
    return Layout("table", {table: _pick(table, given)}, conclusions)


def _of_known_jobs(columns: Mapping[str, str]) -> Layout:
    """A file that names jobs but doesn't describe them: codes, actions or checks of jobs from elsewhere."""
    made = {}
    for table, needed in (("job_codes", "code"), ("job_actions", ""), ("job_checks", "check")):
        if needed in columns or (table == "job_actions" and _tells_actions(columns)):
            made[table] = _pick(table, columns)
    if "job_actions" in made:
        made["job_actions"] |= _text_and_lines(columns, frozenset())
    if not made:
        jobs = _pick("jobs", columns)
        made["jobs"] = _asked_for(jobs, ("vehicle_id", "opened_at"))
    conclusions = ["no column dates the jobs: they must be loaded from another file"] if "jobs" not in made else []
    return Layout("table" if len(made) == 1 else "wide", made, conclusions)


def _jobs(columns: Mapping[str, str], code_in_text: frozenset[str], vehicle: str, vehicles_known: bool) -> Layout:
    conclusions = []
    given = dict(columns)
    if vehicle and vehicle != "vehicle_id":
        given["vehicle_id"] = columns[vehicle]
        conclusions.append(f"no column numbers the vehicles: {columns[vehicle]!r} tells them")
    if "opened_at" not in given and (other := given.get("read_at") or given.get("closed_at")):
        given["opened_at"] = other
        conclusions.append(f"only {other!r} dates the jobs: taken for the day they were opened")
    jobs = _asked_for(_pick("jobs", given), ("vehicle_id", "opened_at"))
    if "job_id" not in given:
        jobs = {"job_id": Origin(made_from=("vehicle_id", "opened_at"))} | jobs
        conclusions.append("no column numbers the jobs: the vehicle and the day make the number")
    if "complaint" in code_in_text and "code" not in given:
        jobs["complaint"] = Origin(given["complaint"], text=True)
    made: dict[str, dict[str, Origin]] = {}
    if vehicle and (not vehicles_known or any(name in given for name in _VEHICLE)):
        made["vehicles"] = {"vehicle_id": jobs["vehicle_id"]} | _pick(
            "vehicles", {name: where for name, where in given.items() if name in _VEHICLE}
        )
    made["jobs"] = jobs
    if "code" in given:
        made["job_codes"] = _without_jobs("job_codes", given)
        made["job_codes"]["code"] = Origin(given["code"], split=True)
    if _tells_actions(given):
        made["job_actions"] = _without_jobs("job_actions", given) | _text_and_lines(given, code_in_text)
    elif money := [given[name] for name in ("labour_h", "labour_cost", "parts_cost") if name in given]:
        silent = {"component": Origin(constant="vehicle"), "action": Origin(constant="unstated")}
        made["job_actions"] = silent | _without_jobs("job_actions", given) | {"line": Origin(counted=True)}
        conclusions.append(f"no column says what was done: {', '.join(map(repr, money))} stand for work unstated")
    if "check" in given:
        made["job_checks"] = _without_jobs("job_checks", given)
    return Layout("table" if list(made) == ["jobs"] else "wide", made, conclusions)


def _tells_actions(columns: Mapping[str, str]) -> bool:
    return "note" in columns or {"component", "action"} <= set(columns)


def _text_and_lines(columns: Mapping[str, str], code_in_text: frozenset[str]) -> dict[str, Origin]:
    """How the text of a line is read, and where its number comes from."""
    recorded = {"component", "action"} <= set(columns)
    codes = "note" in code_in_text and "code" not in columns
    text = "note" in columns and (codes or not recorded)
    # One text may tell several actions, and each needs a number of its own.
    line = Origin(columns["line"]) if "line" in columns and recorded else Origin(counted=True)
    return {"line": line} | ({"note": Origin(columns["note"], text=text)} if "note" in columns else {})


def _without_jobs(table: str, columns: Mapping[str, str]) -> dict[str, Origin]:
    """The columns of a table but those that it shares with the jobs."""
    return _pick(table, {name: where for name, where in columns.items() if name not in ("job_id", "vehicle_id")})


def _asked_for(mine: dict[str, Origin], needed: tuple[str, ...]) -> dict[str, Origin]:
    """What can't be missing and wasn't found stands in the map as a question."""
    return mine | {name: Origin(UNDECIDED) for name in needed if name not in mine}
