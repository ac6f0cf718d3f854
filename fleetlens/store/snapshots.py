"""The folder of a store: numbered snapshot databases, the file that names the live one, and how a new one goes live."""

import os
import re
import shutil
from pathlib import Path

import duckdb

from fleetlens.errors import FleetlensError
from fleetlens.store import queries, versions
from fleetlens.store.lock import LOCK

CURRENT = "CURRENT"
KEEP = 5  # snapshots that stay, the live one included
MEMORY = "1000MB"  # of the engine while it writes; what is larger goes to disk beside the draft
_NAME = re.compile(r"fleet-(\d{6,})\.duckdb")
_DRAFT = re.compile(r"fleet-(\d{6,})(\.compact)?\.draft(\.wal|\.tmp)?")


def current(store: Path) -> str | None:
    """Name of the live snapshot, such as "fleet-000012"; None where nothing was ever loaded."""
    try:
        name = (store / CURRENT).read_text(encoding="utf-8").strip()
    except (FileNotFoundError, NotADirectoryError):
        return None
    if not re.fullmatch(r"fleet-\d{6,}", name):
        raise FleetlensError(
            f"the file that names the live snapshot can't be read: {name[:40]!r}",
            where=str(store / CURRENT),
            do="write the name of a snapshot that is there into it, such as fleet-000001",
        )
    return name


def before(store: Path, name: str) -> str | None:
    """The newest snapshot in the folder that is older than `name`; None where none is left."""
    older = [found[1] for entry in store.iterdir() if (found := _NAME.fullmatch(entry.name))]
    number = max((one for one in older if int(one) < int(name.removeprefix("fleet-"))), key=int, default=None)
    return None if number is None else f"fleet-{number}"


def missing(store: Path, name: str) -> FleetlensError:
    """The error for a live snapshot whose file isn't there."""
    return FleetlensError(
        f"the live snapshot {name} is missing",
        where=str(path_of(store, name)),
        do=f"put its file back, or write the name of another snapshot of this folder into {store / CURRENT}",
    )


def path_of(store: Path, name: str) -> Path:
    """Where the snapshot `name` stands."""
    return store / f"{name}.duckdb"


def next_name(store: Path) -> str:
    """The next name that no snapshot or draft has had in this folder."""
    numbers = [int(found[1]) for entry in store.iterdir() if (found := _numbered(entry.name))]
    return f"fleet-{max(numbers, default=0) + 1:06d}"


def draft_of(store: Path, name: str) -> Path:
    """Where the snapshot `name` is written until it goes live."""
    return store / f"{name}.draft"


def start(draft: Path, store: Path) -> duckdb.DuckDBPyConnection:
    """A writing connection to `draft`, a copy of the live snapshot of `store`, or an empty store with all tables.

    Raises FleetlensError where the live snapshot is missing, or was made by another version.
    """
    live = current(store)
    if live is not None:
        try:
            shutil.copyfile(path_of(store, live), draft)
        except FileNotFoundError:
            raise missing(store, live) from None
    connection = duckdb.connect(str(draft), config={"memory_limit": MEMORY})
    try:
        queries.silence(connection)
        if live is None:
            connection.execute(queries.text("schema/tables"))
            versions.stamp(connection, "tables")
        else:
            versions.check(connection, store, "tables")
    except BaseException:
        connection.close()
        raise
    return connection


def publish(store: Path, name: str, connection: duckdb.DuckDBPyConnection) -> None:
    """Close the draft of `name` and make it the live snapshot: readers see the old one or the new one, never half.

    The connection must have committed. It is proved that the file is whole before it goes live.
    """
    draft = draft_of(store, name)
    connection.execute("checkpoint")
    wasteful = _mostly_free(connection)
    connection.close()
    if wasteful:
        _compact(draft)
    _prove(draft)
    _sync(draft)
    snapshot = path_of(store, name)
    draft.rename(snapshot)
    make_live(store, name)
    _prune(store)


def make_live(store: Path, name: str) -> None:
    """Name `name`, whose file must be there, as the live snapshot, atomically."""
    pointer = store / f"{CURRENT}.new"
    with pointer.open("w", encoding="utf-8") as file:
        file.write(f"{name}\n")
        file.flush()
        os.fsync(file.fileno())
    _sync(store)
    os.replace(pointer, store / CURRENT)
    _sync(store)


def tidy(store: Path) -> None:
    """Remove what a killed load left behind, and what was undone: drafts, and snapshots newer than the live one.

    Call it with the writer lock held, after `next_name`, so that their numbers aren't used again.
    """
    live = current(store)
    newest = int(live.removeprefix("fleet-")) if live else 0
    for entry in store.iterdir():
        snapshot = _NAME.fullmatch(entry.name)
        if _DRAFT.fullmatch(entry.name) or (snapshot and int(snapshot[1]) > newest):
            _remove(entry)


def discard(draft: Path) -> None:
    """Remove a draft that doesn't go live, with what the engine wrote beside it."""
    for path in (draft, *(draft.with_name(f"{draft.name}{end}") for end in (".wal", ".tmp")), _compact_name(draft)):
        _remove(path)


def forget(store: Path) -> None:
    """Remove a store's folder where nothing was ever published, if nothing else is in it."""
    _remove(store / LOCK)
    try:
        store.rmdir()
    except OSError:
        return  # something else is in it: it stays


def _numbered(file: str) -> re.Match[str] | None:
    return _NAME.fullmatch(file) or _DRAFT.fullmatch(file)


def _mostly_free(connection: duckdb.DuckDBPyConnection) -> bool:
    total, free = connection.sql("select total_blocks, free_blocks from pragma_database_size()").fetchall()[0]
    return bool(free * 2 > total)


def _compact_name(draft: Path) -> Path:
    return draft.with_name(f"{draft.stem}.compact.draft")


def _compact(draft: Path) -> None:
    """Write the draft anew without its free blocks; the engine never gives them back by itself."""
    target = _compact_name(draft)
    spill = target.with_name(f"{target.name}.tmp")  # else the engine spills into the folder that we were called from
    with duckdb.connect(config={"memory_limit": MEMORY, "temp_directory": str(spill)}) as engine:
        queries.silence(engine)
        for alias, path, mode in (("roomy", draft, "read_only"), ("slim", target, "read_write")):
            quoted = str(path).replace("'", "''")
            engine.execute(f"attach '{quoted}' as {alias} ({mode})")
        engine.execute("copy from database roomy to slim")
        engine.execute("checkpoint slim")
    os.replace(target, draft)


def _prove(draft: Path) -> None:
    if draft.with_name(f"{draft.name}.wal").exists():
        raise RuntimeError(f"{draft.name} still has a write-ahead log: it can't go live")
    with duckdb.connect(str(draft), read_only=True) as reader:
        reader.sql("select count(*) from loads").fetchall()


def _prune(store: Path) -> None:
    """Delete the oldest snapshots. One that a reader has open stays readable to that reader on a POSIX system."""
    snapshots = sorted(int(found[1]) for entry in store.iterdir() if (found := _NAME.fullmatch(entry.name)))
    for number in snapshots[:-KEEP]:
        _remove(path_of(store, f"fleet-{number:06d}"))


def _remove(path: Path) -> None:
    """Remove a file, or the folder that the engine spills into."""
    try:
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
    except OSError:
        return  # in use on a system that says no: it is only space, and the next load tries again


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
