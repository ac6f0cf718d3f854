"""Whether a store fits this version: the tables it holds and the figures built from them, told by a digest each."""

import hashlib
from functools import cache
from pathlib import Path

import duckdb

from fleetlens.errors import FleetlensError
from fleetlens.places import folder

__all__ = ["check", "stamp"]

PARTS = {"tables": "schema", "figures": "marts"}  # the setting, and the folder of SQL that it stands for


@cache
def _digest(part: str) -> str:
    files = sorted((folder("sql") / PARTS[part]).glob("*.sql"))
    return hashlib.sha256(b"\0".join(file.read_bytes() for file in files)).hexdigest()[:16]


def stamp(connection: duckdb.DuckDBPyConnection, part: str) -> None:
    """Note that the tables, or the figures, of the store are this version's."""
    connection.execute("delete from settings where name = $name", {"name": part})
    values = {"name": part, "value": _digest(part)}
    connection.execute("insert into settings (name, value) values ($name, $value)", values)


def check(connection: duckdb.DuckDBPyConnection, store: Path, *parts: str) -> None:
    """Raise FleetlensError where the tables, or the figures, of the store are another version's."""
    kept = dict(connection.execute("select name, value from settings").fetchall())
    if "tables" in parts and kept.get("tables") != _digest("tables"):
        raise FleetlensError(
            "this store was made by another version of fleetlens, and its tables don't fit this one",
            where=str(store),
            do="load your files into a new store, or use the version that made it",
        )
    if "figures" in parts and kept.get("figures") != _digest("figures"):
        raise FleetlensError(
            "the figures of this store were built by another version of fleetlens",
            where=str(store),
            do=f"build them anew: fleetlens rebuild --store {store}",
        )
