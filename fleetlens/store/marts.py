"""The tables derived from what was loaded: built anew at each load, in the order of what they read."""

import duckdb

from fleetlens.store import queries, versions

__all__ = ["MARTS", "RECORDED", "VIEWS", "build"]

MARTS = (
    "record",
    "action_rules",
    "rules",
    "copied_jobs",
    "credited_parts",
    "effective_actions",
    "usage_days",
    "vehicle_record",
    "usage_spans",
    "usage_at",
    "exposures",
    "exposure_months",
    "visits",
    "code_events",
    "part_rows",
    "parts",
    "part_endings",
    "failures",
    "beginnings",
    "lives",
    "repairs",
    "returns",
)

# Kept as a query, not as rows: what they would hold is nearly a copy of a table.
VIEWS = frozenset({"effective_actions"})

# The schema whose marts leave out what was read from free text. It is there only where such rows are.
RECORDED = "recorded"
_WITH_TEXT = ("job_codes", "job_actions")


def build(connection: duckdb.DuckDBPyConnection) -> None:
    """Make every mart anew from the base tables and the judged readings of `connection`.

    Where rows were read from free text, a second set of marts without them stands in the schema `RECORDED`.
    """
    connection.execute(f"drop schema if exists {RECORDED} cascade")
    _make(connection, "main")
    rows = queries.inside(connection, "findings/rows_from_text")
    if rows["from_text"].sum():
        connection.execute(f"create schema {RECORDED}")
        for name in _WITH_TEXT:
            connection.execute(f"create view {RECORDED}.{name} as from main.{name} where not from_text")
        _make(connection, RECORDED)
    versions.stamp(connection, "figures")


def _make(connection: duckdb.DuckDBPyConnection, schema: str) -> None:
    """The marts in one schema; what it doesn't hold itself is read from the main one."""
    connection.execute(f"set search_path = '{schema},main'")
    for name in MARTS:
        kind = "view" if name in VIEWS else "table"
        connection.execute(f'create or replace {kind} {schema}."{name}" as {queries.text(f"marts/{name}")}')
    connection.execute("set search_path = 'main'")
