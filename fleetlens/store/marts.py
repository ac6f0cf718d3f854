"""The tables derived from what was loaded: built anew at each load, in the order of what they read."""

import duckdb

from fleetlens.store import queries

MARTS = (
    "record",
    "action_rules",
    "usage_days",
    "vehicle_record",
    "usage_at",
    "exposures",
    "visits",
    "code_events",
    "part_rows",
    "parts",
    "part_endings",
    "lives",
    "repairs",
    "returns",
)


def build(connection: duckdb.DuckDBPyConnection) -> None:
    """Make every mart anew from the base tables and the judged readings of `connection`."""
    for name in MARTS:
        connection.execute(f'create or replace table "{name}" as {queries.text(f"marts/{name}")}')
