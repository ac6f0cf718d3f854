"""A store in memory straight from rows, for tests of the marts that need many small fleets and no files."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb

from fleetlens.store import marts, queries
from fleetlens.store.reader import Snapshot

Rows = Sequence[Mapping[str, Any]]


def at(day: date | datetime | None) -> datetime | None:
    """A day as the midnight that begins it."""
    if day is None or isinstance(day, datetime):
        return day
    return datetime(day.year, day.month, day.day)


def snapshot_of(
    vehicles: Rows,
    jobs: Rows,
    *,
    codes: Rows = (),
    actions: Rows = (),
    checks: Rows = (),
    odometer: Rows = (),
    fitted: Rows = (),
    as_of: date | None = None,
) -> Snapshot:
    """A snapshot of these rows, whose readings all count."""
    connection = duckdb.connect()
    connection.execute(queries.text("schema/tables"))
    vehicle_keys = {row["vehicle_id"]: key for key, row in enumerate(vehicles, 1)}
    job_keys = {row["job_id"]: key for key, row in enumerate(jobs, 1)}
    code_keys = {code: key for key, code in enumerate(sorted({row["code"] for row in codes}), 1)}
    named = sorted({row["component"] for row in (*actions, *checks, *fitted) if row["component"]})
    component_keys = {component: key for key, component in enumerate(named, 1)}
    fill(connection, "codes", [{"code_key": key, "code": code} for code, key in code_keys.items()])
    fill(connection, "components", [{"component_key": key, "component": name} for name, key in component_keys.items()])
    fill(connection, "vehicles", [{"vehicle_key": vehicle_keys[row["vehicle_id"]], **row} for row in vehicles])
    fill(
        connection,
        "fitted",
        [
            {"model": row["model"], "component_key": component_keys[row["component"]], "count": row.get("count")}
            for row in fitted
        ],
    )
    fill(
        connection,
        "jobs",
        [
            {
                "job_key": job_keys[row["job_id"]],
                "vehicle_key": vehicle_keys[row["vehicle_id"]],
                **{name: value for name, value in row.items() if name != "vehicle_id"},
                "opened_at": at(row["opened_at"]),
                "closed_at": at(row.get("closed_at")),
            }
            for row in jobs
        ],
    )
    fill(
        connection,
        "job_codes",
        [
            {
                "job_key": job_keys[row["job_id"]],
                "code_key": code_keys[row["code"]],
                "from_text": row.get("from_text", False),
            }
            for row in codes
        ],
    )
    fill(
        connection,
        "job_actions",
        [
            {
                "job_key": job_keys[row["job_id"]],
                "component_key": component_keys[row["component"]],
                **{name: value for name, value in row.items() if name not in ("job_id", "component")},
            }
            for row in actions
        ],
    )
    fill(
        connection,
        "job_checks",
        [
            {
                "job_key": job_keys[row["job_id"]],
                "component_key": component_keys.get(row["component"]),
                **{name: value for name, value in row.items() if name not in ("job_id", "component")},
            }
            for row in checks
        ],
    )
    fill(
        connection,
        "odometer",
        [
            {
                "vehicle_key": vehicle_keys[row["vehicle_id"]],
                "read_at": at(row["read_at"]),
                "odometer_km": row["km"],
                "source": "card",
            }
            for row in odometer
        ],
    )
    readings = [
        {
            "vehicle_key": vehicle_keys[row["vehicle_id"]],
            "read_at": at(row["in_service_on"]),
            "km": row.get("in_service_km") or 0.0,
            "source": "in service",
        }
        for row in vehicles
        if row.get("in_service_on")
    ]
    readings += [
        {
            "vehicle_key": vehicle_keys[row["vehicle_id"]],
            "read_at": at(row["opened_at"]),
            "km": row["odometer_km"],
            "source": "job",
            "job_key": job_keys[row["job_id"]],
        }
        for row in jobs
        if row.get("odometer_km") is not None
    ]
    readings += [
        {
            "vehicle_key": vehicle_keys[row["vehicle_id"]],
            "read_at": at(row["read_at"]),
            "km": row["km"],
            "source": "card",
        }
        for row in odometer
    ]
    judged = {"good": True, "kind": "as read", "segment": 1}
    fill(connection, "readings", [{**row, "raw_km": row["km"], **judged} for row in readings])
    if as_of:
        fill(connection, "settings", [{"name": "as_of", "value": as_of.isoformat()}])
    marts.build(connection)
    return Snapshot("fleet-000001", Path("in memory"), connection)


def fill(connection: duckdb.DuckDBPyConnection, table: str, rows: Rows) -> None:
    """Insert the rows; the names of tables and columns are the tests' own."""
    for row in rows:
        columns = ", ".join(f'"{name}"' for name in row)
        marks = ", ".join("?" for _ in row)
        connection.execute(f"insert into {table} ({columns}) values ({marks})", list(row.values()))
