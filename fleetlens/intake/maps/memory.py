"""The maps that a store remembers, by the shape of the header they were used on."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import duckdb
import polars as pl

from fleetlens.intake.maps import written
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.store import merge, queries, snapshots

__all__ = ["remember", "remembered"]


def remembered(store: Path) -> dict[str, list[ColumnMap]]:
    """The maps of the live snapshot by the shape of their header; none where nothing was ever loaded.

    Several for one shape are each for files of their own.
    """
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
    return _kept(rows)


def remember(connection: duckdb.DuckDBPyConnection, used: Mapping[str, Sequence[ColumnMap]]) -> bool:
    """Keep the maps for the headers they were used on, in place of what was kept for them; whether that is news.

    A map for files of its own leaves those for other files as they are. Runs within the transaction of a load.
    """
    if not used:
        return False
    kept = _kept(queries.inside(connection, "intake/source_maps"))
    news: dict[str, list[ColumnMap]] = {}
    for shape, mine in used.items():
        files = {one.file for one in mine}
        others = [] if "" in files else [one for one in kept.get(shape, []) if one.file and one.file not in files]
        if set(map(written.write, mine)) | set(map(written.write, others)) != set(
            map(written.write, kept.get(shape, []))
        ):
            news[shape] = [*mine, *others]
    if not news:
        return False
    now = datetime.now(UTC).replace(tzinfo=None)
    rows = [
        {"header_shape": shape, "name": one.name, "toml": written.write(one), "remembered_at": now}
        for shape, mine in news.items()
        for one in mine
    ]
    connection.execute("delete from source_maps where header_shape in (select unnest($shapes))", {"shapes": list(news)})
    merge.append(connection, "source_maps", pl.DataFrame(rows))
    return True


def _kept(rows: pl.DataFrame) -> dict[str, list[ColumnMap]]:
    found: dict[str, list[ColumnMap]] = {}
    for shape, name, toml in rows.select("header_shape", "name", "toml").iter_rows():
        found.setdefault(shape, []).append(written.parse(toml, f"the map {name!r} that the store remembers"))
    return found


def _has_table(connection: duckdb.DuckDBPyConnection) -> bool:
    found = connection.execute("select 1 from information_schema.tables where table_name = 'source_maps'").fetchall()
    return bool(found)
