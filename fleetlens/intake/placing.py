"""The rows of one table, from its temporary table into the store: references judged, keys given, repeats found."""

from dataclasses import dataclass

import duckdb
import polars as pl

from fleetlens.intake.references import name_vehicles
from fleetlens.intake.reuse import refuse_reused
from fleetlens.intake.staging import BROKEN, staged_table
from fleetlens.store import merge, queries
from fleetlens.store.merge import ROWS, Target, row_of
from fleetlens.vocabulary.tables import Reference, Table

__all__ = ["Placed", "place"]


def _columns(text: str) -> tuple[str, ...]:
    return tuple(text.split())


_ACTIONS = _columns(
    "job_key line component_key action cause position part_number part_grade"
    " quantity labour_h labour_cost parts_cost note from_text"
)
_CHECKS = _columns("job_key component_key check value unit low high passed")
_VEHICLES = _columns(
    "vehicle_id registration vin make model model_year engine fuel duty depot"
    " in_service_on in_service_km history_from left_service_on"
)
_JOBS = _columns("job_id vehicle_key opened_at closed_at odometer_km reason complaint workshop technician downtime_h")

# For each input table the queries that give its rows as the store keeps them, and where they go.
_TARGETS: dict[str, tuple[tuple[str, Target], ...]] = {
    "vehicles": (("vehicles", Target("vehicles", ("vehicle_id",), _VEHICLES, "vehicle_key", ("vehicle_id",))),),
    "fitted": (
        (
            "fitted",
            Target(
                "fitted",
                ("model", "component_key"),
                ("model", "component_key", "count"),
                None,
                ("model", "component_key"),
            ),
        ),
    ),
    "jobs": (("jobs", Target("jobs", ("job_id",), _JOBS, "job_key", ("vehicle_key", "opened_at", "job_id"))),),
    "job_codes": (
        (
            "job_codes",
            Target(
                "job_codes",
                ("job_key", "code_key", "failure_type", "from_text"),
                ("job_key", "code_key", "failure_type", "status", "from_text"),
                None,
                ("job_key", "code_key", "failure_type"),
            ),
        ),
    ),
    "job_actions": (
        ("job_lines", Target("job_actions", ("job_key", "line"), _ACTIONS, None, ("job_key", "line"))),
        ("job_actions", Target("job_actions", _ACTIONS, _ACTIONS, None, ("job_key",))),
    ),
    "job_checks": (("job_checks", Target("job_checks", _CHECKS, _CHECKS, None, ("job_key",))),),
    "odometer": (
        (
            "odometer",
            Target(
                "odometer",
                ("vehicle_key", "read_at", "source"),
                ("vehicle_key", "read_at", "odometer_km", "source"),
                None,
                ("vehicle_key", "read_at"),
            ),
        ),
    ),
}
_KEYS = {"job_actions": ("job_id", "line")}  # where rows have a key that the Data Package can't state


@dataclass(frozen=True, slots=True)
class Placed:
    """`counts`: file, accepted, repeated, replaced; `broken`: the rows that couldn't be taken, as `staging.BROKEN`.

    `notes`: what there is to tell of how rows found their vehicles.
    """

    counts: pl.DataFrame
    broken: pl.DataFrame
    notes: tuple[str, ...] = ()


def place(
    connection: duckdb.DuckDBPyConnection,
    table: Table,
    parents: pl.DataFrame,
    files: list[str],
    source: str | None = None,
) -> Placed:
    """Bring the staged rows of `table` into the store and empty its temporary table.

    `parents`: place and parent of rows refused already, as `staging.Staged`; `files`: names of the files by number.
    `source`: where they come from, if the load says so.
    """
    parents, notes = name_vehicles(connection, table, parents)
    broken = refuse_reused(connection, table, staged_table(table), source)
    broken += [_unknown(connection, table, reference, parents) for reference in table.references]
    connection.execute(queries.text("intake/add_components"))
    connection.execute(queries.text("intake/add_codes"))
    counts = []
    for query, target in _TARGETS[table.name]:
        merge.name_incoming(connection, f"intake/incoming_{query}")
        merged = merge.merge(connection, target)
        counts.append(merged.counts)
        if merged.conflicts.height:
            broken.append(_conflicts(connection, table, merged.conflicts, files))
    merge.empty(connection, staged_table(table))
    total = pl.concat(counts).group_by("file").sum().sort("file")
    return Placed(total, pl.concat([pl.DataFrame(schema=BROKEN), *broken]), notes)


def _unknown(
    connection: duckdb.DuckDBPyConnection, table: Table, reference: Reference, parents: pl.DataFrame
) -> pl.DataFrame:
    """Rows that name a vehicle or a job that isn't in the store. Rows known from an earlier load have theirs."""
    column, there = reference.column, connection.table(reference.table)
    staged = connection.table(staged_table(table)).filter("not known").select("place", column)
    refused = connection.from_arrow(parents.rename({"parent": column}).to_arrow())
    lost: pl.DataFrame = (
        staged.union(refused).join(there, column, how="anti").select("place", column).pl().sort("place")
    )
    what = reference.table.removesuffix("s")
    remedy = f"load its row of {reference.table} first, or correct {column}"
    return lost.select(
        "place",
        column=pl.lit(column),
        value=pl.col(column),
        rule=pl.lit(f"unknown_{what}"),
        reason=pl.format(f"{what} '{{}}' is not in {reference.table}: {remedy}", pl.col(column)),
    )


def _conflicts(
    connection: duckdb.DuckDBPyConnection, table: Table, conflicts: pl.DataFrame, files: list[str]
) -> pl.DataFrame:
    """Rows whose key stands already in this load with other values."""
    key = _KEYS.get(table.name, table.key)
    rows = connection.from_arrow(conflicts.to_arrow()).join(connection.table(staged_table(table)), "place")
    values: pl.DataFrame = rows.select("place", "stands_at", *key).pl().sort("place")
    value = pl.concat_str(
        [pl.col(name).cast(pl.String).str.strip_suffix(".000000").fill_null("") for name in key], separator=", "
    )
    stands = pl.col("stands_at")
    file = (stands // ROWS).replace_strict(dict(enumerate(files)), return_dtype=pl.String)
    sentence = f"{', '.join(key)} '{{}}' stands already in {{}}, row {{}}, with other values: keep one of the two rows"
    return values.select(
        "place",
        column=pl.lit(", ".join(key)),
        value=value,
        rule=pl.lit("same_key"),
        reason=pl.format(sentence, value, file, row_of(stands)),
    )
