"""Rows of a load into a table of the store: which are new, which repeat, which take the place of others.

The one place that builds SQL text. Every identifier in it comes from a `Target` or from our own code, never from a
file or a user. Rows arrive in the temporary view `incoming`: the columns of the table (but its own integer key), and
    place  file number * ROWS + row number * PARTS + part, so that it orders the rows of a load and tells file and row;
           a row of a file that holds several rows of a table has several parts
    known     the row was taken from this very file (same content of the file) by an earlier load
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import polars as pl

from fleetlens.store import queries

PARTS = 2**15  # more than a row of a file holds rows of a table
ROWS = 2**47  # PARTS * more than a file has rows


@dataclass(frozen=True, slots=True)
class Target:
    """A table of the store as a load sees it.

    `key` tells rows apart (null equals null); `columns` are all columns but `own_key`, the integer key that the store
    gives; `sort` is the order in which new rows are stored.
    """

    table: str
    key: tuple[str, ...]
    columns: tuple[str, ...]
    own_key: str | None
    sort: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Merged:
    """What became of the rows of `incoming`.

    `counts`: one row a file: file, accepted, repeated, replaced (of the accepted). `conflicts`: rows whose key
    stands already in this load with other values: place, stands_at (the place of the row that stands).
    """

    counts: pl.DataFrame
    conflicts: pl.DataFrame


def row_of(place: Any) -> Any:
    """The number of the row in its file, from a place or an expression of places."""
    return place % ROWS // PARTS


def name_incoming(connection: duckdb.DuckDBPyConnection, query: str) -> None:
    """Let `incoming` be the rows of the query `query`: a view, since a copy of a large load costs more than reading."""
    connection.execute(f"create or replace temp view incoming as {queries.text(query)}")


def append(connection: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    """Add the rows to the table, column by column in the table's order."""
    connection.from_arrow(rows.to_arrow(compat_level=pl.CompatLevel.newest())).insert_into(table)


def remove(connection: duckdb.DuckDBPyConnection, table: str, gone: str, key: str) -> None:
    """Take the rows out of the table whose key is in the table `gone`."""
    connection.execute(f"delete from {table} where {key} in (select {key} from {gone})")  # noqa: S608 - our own names


def fill(connection: duckdb.DuckDBPyConnection, table: str, key: str, rows: pl.DataFrame) -> None:
    """Give the blanks of the table's rows what `rows`, one for each key, has for them; what is there stays."""
    names = [name for name in rows.columns if name != key and rows[name].null_count() < rows.height]
    if not names:
        return
    values = ", ".join(f'"{name}" = coalesce({table}."{name}", told."{name}")' for name in names)
    blank = " or ".join(f'({table}."{name}" is null and told."{name}" is not null)' for name in names)
    connection.register("told", rows.select(key, *names).to_arrow())
    connection.execute(f"update {table} set {values} from told where {table}.{key} = told.{key} and ({blank})")  # noqa: S608 - our own names
    connection.unregister("told")


def empty(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    """Take all rows out of the table."""
    connection.execute(f"truncate {table}")


def merge(connection: duckdb.DuckDBPyConnection, target: Target) -> Merged:
    """Bring the rows of `incoming` into the table of `target`; `incoming` is used up.

    Raises RuntimeError where the rows stored aren't those counted: a bug, never the user's fault.
    """
    _set_aside(connection, target)
    _match(connection, target)
    counts: pl.DataFrame = connection.sql(_COUNTS.format(rows=ROWS)).pl()
    stored = _insert(connection, target)
    if stored != counts["accepted"].sum():
        raise RuntimeError(f"{stored} rows went into {target.table}, {counts['accepted'].sum()} were counted")
    connection.execute(_DELETE.format(table=target.table))
    conflicts: pl.DataFrame = connection.sql(_CONFLICTS).pl()
    connection.execute("drop view incoming; drop table aside; drop table matched")
    return Merged(counts, conflicts)


def _set_aside(connection: duckdb.DuckDBPyConnection, target: Target) -> None:
    """The table `aside`: rows that don't go on to the store: place, verdict (repeated, refused, known), stands_at."""
    key, columns = _list(target.key), _list(target.columns)
    connection.execute(_CROWDED.format(key=key))
    connection.execute(_ASIDE.format(key=key, columns=columns, same_key=_same("crowded", target.key), rows=ROWS))
    connection.execute("drop table crowded")


def _match(connection: duckdb.DuckDBPyConnection, target: Target) -> None:
    """The table `matched`: rows whose key the store holds already: place, stored_row, own_key, same (all columns)."""
    connection.execute(
        _MATCH.format(
            table=target.table,
            own_key=target.own_key or "null",
            same_key=_same("stored", target.key),
            same_rest=_same("stored", [name for name in target.columns if name not in target.key]) or "true",
        )
    )


def _insert(connection: duckdb.DuckDBPyConnection, target: Target) -> int:
    """Store new and changed rows, and count them.

    A changed one keeps its integer key, new ones go on from the largest in the order in which they are stored.
    """
    names = _list((target.own_key, *target.columns) if target.own_key else target.columns)
    own = _OWN_KEY.format(table=target.table, own_key=target.own_key) if target.own_key else ""
    judged = connection.execute("select exists (from aside) or exists (from matched)").fetchall()[0][0]
    rows = connection.execute(
        _INSERT.format(
            table=target.table,
            names=names,
            own=own,
            columns=_list(target.columns),
            rows=_SETTLED if judged else _ALL_NEW,
            sort=_list(target.sort),
        )
    ).fetchall()
    return int(rows[0][0])


def _list(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _same(other: str, names: Sequence[str]) -> str:
    return " and ".join(f'incoming."{name}" is not distinct from {other}."{name}"' for name in names)


# Numbers are counted faster than texts, and rows alike have one hash; the few whose hashes agree are compared in full.
_CROWDED = """
create or replace temp table crowded as
with hashes as (select hash({key}) as alike from incoming group by alike having count(*) > 1)
select {key}
from incoming
where hash({key}) in (from hashes)
group by {key}
having count(*) > 1
"""

# Only keys that occur more than once need a judgement; `twin` is the first row of the load with the same content.
# What stands is the row known from this very file, else the first new one.
_ASIDE = """
create or replace temp table aside as
with twins as (
    select incoming.*, incoming.place // {rows} as file, min(place) over (partition by {columns}) as twin
    from incoming semi join crowded on {same_key}
),
known_here as (
    select *, max(case when known then twin end) over (partition by {key}, file) as known_twin from twins
),
standing as (
    select
        *,
        min(case when not known and known_twin is null then {{'at': place, 'twin': twin}} end)
            over (partition by {key}) as first_new
    from known_here
)
select
    place,
    case
        when known then 'known'
        when twin = coalesce(known_twin, first_new.twin) then 'repeated'
        else 'refused'
    end as verdict,
    coalesce(known_twin, first_new.at) as stands_at
from standing
where known or known_twin is not null or place <> first_new.at
union all
select place, 'known', place
from incoming anti join crowded on {same_key}
where known
"""

_MATCH = """
create or replace temp table matched as
select incoming.place, stored.rowid as stored_row, {own_key} as own_key, {same_rest} as same
from incoming
anti join aside on incoming.place = aside.place
inner join {table} as stored on {same_key}
"""

# Numbered as they come out of the sort, which needs no second one; a changed row leaves its number unused.
_OWN_KEY = "coalesce(given_key, (select coalesce(max({own_key}), 0) from {table}) + row_number() over ()),"

_INSERT = """
insert into {table} ({names})
select {own} {columns}
from ({rows} order by {sort}, incoming.place)
"""

_SETTLED = """
select incoming.*, matched.own_key as given_key
from incoming
anti join aside on incoming.place = aside.place
left join matched on incoming.place = matched.place
where not coalesce(matched.same, false)
"""

# The same where nothing was set aside and nothing stands in the store: joins that find nothing have their cost, too.
_ALL_NEW = "select *, null as given_key from incoming"

_DELETE = "delete from {table} where rowid in (select stored_row from matched where not same)"

_CONFLICTS = "select place, stands_at from aside where verdict = 'refused' order by place"

_COUNTS = """
with fates as (
    select
        incoming.place // {rows} as file,
        case
            when aside.verdict is not null then aside.verdict
            when matched.same then 'repeated'
            when matched.place is not null then 'replaced'
            else 'new'
        end as fate
    from incoming
    left join aside on incoming.place = aside.place
    left join matched on incoming.place = matched.place
)
select
    file,
    count(*) filter (fate in ('new', 'replaced')) as accepted,
    count(*) filter (fate = 'repeated') as repeated,
    count(*) filter (fate = 'replaced') as replaced
from fates
group by file
order by file
"""
