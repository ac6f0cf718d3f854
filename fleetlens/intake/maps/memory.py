"""The maps that a store remembers, by the shape of the header they were used on."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import polars as pl

from fleetlens.intake.maps import written
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.store import merge, queries, snapshots

__all__ = ["remember", "remembered"]


def remembered(store: Path) -> dict[str, ColumnMap]:
    """The maps of the live snapshot by the shape of their header; none where nothing was ever loaded."""
    live = snapshots.current(store) if store.is_dir() else None
    if live is None:
        return {}
    path = snapshots.path_of(store, live)
    if not path.exists():
        raise snapshots.missing(store, live)
    with duckdb.connect(str(path), read_only=True) as reader:
        if not _has_table(reader):
            return {}  # a store of an earlier version: whoever writes to it will say so
        rows = queries.inside(reader, "intake/source_maps")
    return {
        shape: written.parse(toml, f"the map {name!r} that the store remembers")
        for shape, name, toml in rows.select("header_shape", "name", "toml").iter_rows()
    }


def remember(connection: duckdb.DuckDBPyConnection, used: Mapping[str, ColumnMap]) -> bool:
    """Keep the maps for the headers they were used on, in place of what was kept for them; whether that is news.

    Runs within the transaction of a load.
    """
    if not used:
        return False
    kept = {
        shape: toml
        for shape, toml in queries.inside(connection, "intake/source_maps").select("header_shape", "toml").iter_rows()
    }
    told = {shape: written.write(one) for shape, one in used.items()}
    news = {shape: toml for shape, toml in told.items() if kept.get(shape) != toml}
    if not news:
        return False
    now = datetime.now(UTC).replace(tzinfo=None)
    rows = [
        {"header_shape": shape, "name": used[shape].name, "toml": toml, "remembered_at": now}
        for shape, toml in news.items()
    ]
    connection.execute("delete from source_maps where header_shape in (select unnest($shapes))", {"shapes": list(news)})
    merge.append(connection, "source_maps", pl.DataFrame(rows))
    return True


def _has_table(connection: duckdb.DuckDBPyConnection) -> bool:
    found = connection.execute("select 1 from information_schema.tables where table_name = 'source_maps'").fetchall()
    return bool(found)
