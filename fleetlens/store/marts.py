"""The tables derived from what was loaded: built anew at each load, in the order of what they read."""

import duckdb

from fleetlens.store import queries, snapshots, versions

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
    "job_money",
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


# Made for a run of vehicles at a time where the fleet is large: the engine can't put aside all that their joins and
# gatherings hold. They pair rows of one vehicle only, so that vehicles cut to a run give the rows of that run.
# How many jobs fit into a megabyte of the engine's memory; returns are pairs of jobs, so fewer.
_IN_SLICES = {"part_rows": 1_000, "lives": 1_000, "repairs": 1_000, "returns": 200}
_SLICED = ("visits", "code_events", "part_rows", "parts", "part_endings", "repairs")  # what these read by vehicle
_SLICED_BY_JOB = ("effective_actions", "job_checks")
_SLICE = "slice"


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
        slices = _slices(connection, _IN_SLICES[name]) if name in _IN_SLICES else []
        if len(slices) > 1:
            _make_in_slices(connection, schema, name, slices)
        else:
            kind = "view" if name in VIEWS else "table"
            connection.execute(f'create or replace {kind} {schema}."{name}" as {queries.text(f"marts/{name}")}')
    connection.execute("set search_path = 'main'")


def _slices(connection: duckdb.DuckDBPyConnection, jobs_for_a_megabyte: int) -> list[tuple[int, int]]:
    """First and last key of each run of vehicles; one run, or none, where the whole fleet fits."""
    at_once = int(snapshots.MEMORY.removesuffix("MB")) * jobs_for_a_megabyte
    rows = queries.inside(connection, "findings/vehicle_slices", jobs_at_once=at_once)
    return list(rows.select("first_key", "last_key").iter_rows())


def _make_in_slices(
    connection: duckdb.DuckDBPyConnection, schema: str, name: str, slices: list[tuple[int, int]]
) -> None:
    """The mart `name`, its rows in order within each run: views that hold one run stand before the tables."""
    connection.execute(f"create schema {_SLICE}")
    connection.execute(f"set search_path = '{_SLICE},{schema},main'")
    into = f'create or replace table {schema}."{name}" as'
    cuts = {table: "vehicle_key between {} and {}" for table in _SLICED if table in MARTS[: MARTS.index(name)]}
    cuts |= dict.fromkeys(_SLICED_BY_JOB, "job_key in (select job_key from slice.visits)")
    for run in slices:
        for table, cut in cuts.items():
            home = schema if table in MARTS else "main"
            rows = f'from {home}."{table}" where {cut.format(*run)}'
            connection.execute(f'create or replace view {_SLICE}."{table}" as {rows}')
        connection.execute(f"{into} {queries.text(f'marts/{name}')}")
        into = f'insert into {schema}."{name}"'
    connection.execute(f"set search_path = '{schema},main'")
    connection.execute(f"drop schema {_SLICE} cascade")
