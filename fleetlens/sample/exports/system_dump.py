"""The dump of an invented system: nested objects a line each, numbers as text, times with the offset of the day."""

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import polars as pl

from fleetlens.sample.exports.histories import Tables, jobs, one_of

__all__ = ["files"]

ZONE = ZoneInfo("Europe/London")
REASONS = {
    "breakdown": "RECOVERY_CALL",
    "defect": "USER_TICKET",
    "scheduled": "DISTANCE_PLAN",
    "inspection": "DATE_PLAN",
    "campaign": "BULK_NOTICE",
    "warranty": "SUPPLIER_CLAIM",
}
ACTIONS = {
    "adjust": "ALIGN_SET",
    "advise": "HINT",
    "charge": "CELL_FEED",
    "clean": "DEPOSIT_OUT",
    "clear_codes": "MEM_WIPE",
    "diagnose": "TRACE",
    "inspect": "LOOK",
    "no_fault_found": "NIL_RESULT",
    "regenerate": "BURN_CYCLE",
    "relearn": "TEACH",
    "repair": "MAKE_GOOD",
    "replace": "SWAP_NEW",
    "road_test": "PROVE_RUN",
    "software": "IMAGE_LOAD",
}
STATES = {"stored": "SET", "pending": "MATURING", "permanent": "LATCHED"}
FAILURE_TYPES = ("-00", "-11", "-15", "-64", ":72", "")  # as they stand behind a code; "" none


def part(component: str) -> str:
    """The system's key of a component: AIR-FILTER for air_filter, in the branch ENG or CAR of its tree."""
    branch = "CAR" if component in ("vehicle", "brakes", "battery", "alternator", "wiring") else "ENG"
    return f"{branch}/{component.upper().replace('_', '-')}"


def files(tables: Tables) -> dict[str, bytes]:
    """Tickets with their faults, operations and tests inside; assets; meter readings; what the types carry."""
    return {
        "tickets.ndjson": _lines(_tickets(tables)),
        "assets.ndjson": _lines(_assets(tables)),
        "meters.ndjson": _lines(_meters(tables)),
        "types.ndjson": _lines(_types(tables)),
    }


def _lines(records: Iterable[Mapping[str, Any]]) -> bytes:
    return "".join(json.dumps(record, separators=(",", ":")) + "\n" for record in records).encode()


def _tickets(tables: Tables) -> Iterator[dict[str, Any]]:
    states = {(row["job_id"], row["code"]): row["status"] for row in tables["job_codes"].iter_rows(named=True)}
    tests: dict[str, list[dict[str, Any]]] = {}
    for check in tables["job_checks"].iter_rows(named=True):
        tests.setdefault(check["job_id"], []).append(_test(check))
    for at, (job, codes, lines) in enumerate(jobs(tables)):
        key = job["job_id"]
        yield {
            "ticket": key,
            "asset": {"ref": job["vehicle_id"]},
            "bay": {"in": _moment(job["opened_at"]), "out": _moment(job["closed_at"]), "shut": bool(job["closed_at"])},
            "meter": {"count": _text(job["odometer"]), "scale": job["odometer_unit"]},
            "class": REASONS[job["reason"]],
            "voice": job["complaint"],
            "site": {"name": job["workshop"], "hand": job["technician"]},
            "hours_down": _text(job["downtime_h"]),
            "faults": [
                {
                    "fc": code + one_of(FAILURE_TYPES, "failure type", at, place),
                    "state": STATES[states[key, code]],
                    "lamp": states[key, code] != "pending",
                }
                for place, code in enumerate(codes)
            ],
            "ops": [_op(line) for line in lines],
            "tests": tests.get(key, []),
        }


def _op(line: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "seq": _text(line["line"]),
        "obj": part(line["component"]),
        "verb": ACTIONS[line["action"]],
        "why": line["cause"],
        "slot": line["position"],
        "item": {"no": line["part_number"], "origin": line["part_grade"], "units": _text(line["quantity"])},
        "time": _text(line["labour_h"]),
        "sums": {"hands": _text(line["labour_cost"]), "goods": _text(line["parts_cost"])},
        "memo": line["note"],
        "billable": bool(line["labour_cost"] or line["parts_cost"]),
    }


def _test(check: Mapping[str, Any]) -> dict[str, Any]:
    limits = {name: _text(check[name]) for name in ("low", "high")}
    known = {"obj": part(check["component"]), "name": check["check"], "got": _text(check["value"])}
    return known | {"measure": check["unit"], "band": limits, "pass": check["passed"]}


def _assets(tables: Tables) -> Iterator[dict[str, Any]]:
    for row in tables["vehicles"].iter_rows(named=True):
        yield {
            "ref": row["vehicle_id"],
            "plate": row["registration"],
            "vin": row["vin"],
            "type": {
                "maker": row["make"],
                "line": row["model"],
                "built": _text(row["model_year"]),
                "unit": row["engine"],
                "fuel": row["fuel"],
            },
            "use": row["duty"],
            "base": row["depot"],
            "from": {"day": _text(row["in_service_on"]), "count": _text(row["in_service_km"])},
            "log_since": _text(row["history_from"]),
            "gone": _text(row["left_service_on"]),
            "live": row["left_service_on"] is None,
        }


def _meters(tables: Tables) -> Iterator[dict[str, Any]]:
    for row in tables["odometer"].sort("read_at", "vehicle_id").iter_rows(named=True):
        stamp = {"at": _moment(row["read_at"]), "by": row["source"]}
        yield {"asset": {"ref": row["vehicle_id"]}, "stamp": stamp, "count": _text(row["odometer"]), "scale": "km"}


def _types(tables: Tables) -> Iterator[dict[str, Any]]:
    for line, rows in tables["fitted"].group_by("model", maintain_order=True):
        carried = rows.select(pl.col("component"), pl.col("count")).rows()
        yield {
            "line": line[0],
            "carries": [{"obj": part(component), "times": str(count)} for component, count in carried],
        }


def _text(value: object) -> str | None:
    """Everything but flags is text in this system."""
    return None if value is None else f"{value:.2f}" if isinstance(value, float) else str(value)


def _moment(value: datetime | None) -> str | None:
    """The workshop's clock with the offset that it had."""
    return value.replace(tzinfo=ZONE).isoformat(timespec="seconds") if value else None
