"""The SQL files by name, and the one way to run them: values bound, a cursor per call."""

from functools import cache
from typing import Any

import duckdb
import polars as pl

from fleetlens.places import folder


@cache
def text(name: str) -> str:
    """The SQL of `name`, such as "findings/recurring_codes"."""
    return (folder("sql") / f"{name}.sql").read_text(encoding="utf-8")


def silence(connection: duckdb.DuckDBPyConnection) -> None:
    """Keep the engine from drawing its own progress into our output where a query takes seconds; a cursor asks anew."""
    connection.execute("set enable_progress_bar = false")


def frame(connection: duckdb.DuckDBPyConnection, name: str, *, schema: str = "main", **values: Any) -> pl.DataFrame:
    """The rows of the query `name` with its values bound; tables are looked for in `schema`, then in the main one.

    A cursor of its own, because a connection shared by threads hands one thread the rows of another.
    """
    with connection.cursor() as cursor:
        silence(cursor)
        if schema != "main":
            cursor.execute(f"set search_path = '{schema},main'")
        rows: pl.DataFrame = cursor.sql(text(name), params=values or None).pl()
    return rows


def inside(connection: duckdb.DuckDBPyConnection, name: str, **values: Any) -> pl.DataFrame:
    """The same within the connection's own open transaction.

    A cursor doesn't see what isn't committed yet; a load must. Only the one thread that loads may use it.
    """
    rows: pl.DataFrame = connection.sql(text(name), params=values or None).pl()
    return rows
