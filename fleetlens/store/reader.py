"""Reading a store: the live snapshot, read-only, safe from many threads."""

from pathlib import Path
from types import TracebackType
from typing import Any

import duckdb
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.store import marts, queries, snapshots, versions

__all__ = ["Snapshot", "current", "open_store"]

current = snapshots.current


class Snapshot:
    """One snapshot of a store, open for reading. It shows the same rows for as long as it is open.

    `name` is such as "fleet-000012", `path` is its file. Threads may share it: each call has a cursor of its own.
    `text`: whether rows that were read from free text count.
    """

    def __init__(self, name: str, path: Path, connection: duckdb.DuckDBPyConnection, *, text: bool = True) -> None:
        self.name, self.path, self.text = name, path, text
        self._connection, self._schema = connection, "main"
        if not text and self.from_text()["from_text"].sum():
            self._schema = marts.RECORDED

    def frame(self, query: str, **values: Any) -> pl.DataFrame:
        """The rows of the query `query`, such as "findings/recurring_codes", with its values bound."""
        return queries.frame(self._connection, query, schema=self._schema, **values)

    def from_text(self) -> pl.DataFrame:
        """How many rows were read from free text, counted or not: table_name, rows, from_text."""
        return queries.frame(self._connection, "findings/rows_from_text")

    def close(self) -> None:
        """Let the file go. The snapshot can't be asked afterwards."""
        self._connection.close()

    def __enter__(self) -> "Snapshot":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(path: Path, *, text: bool = True) -> Snapshot:
    """The live snapshot of the store in the folder `path`; without `text`, rows read from free text don't count.

    Raises FleetlensError where there is no store, where it is empty, where its file can't be opened, or where another
    version made it.
    """
    store = Path(path)
    name = _live(store)
    while True:
        file = snapshots.path_of(store, name)
        try:
            connection = duckdb.connect(str(file), read_only=True)
            versions.check(connection, store, "tables", "figures")
            return Snapshot(name, file, connection, text=text)
        except duckdb.Error as error:
            opened, name = name, _live(store)
            if name != opened:
                continue  # loads have come and gone since the name was read, and took the old snapshot away
            if not file.exists():
                raise snapshots.missing(store, name) from None
            raise FleetlensError(
                f"the live snapshot can't be opened: {str(error).splitlines()[0]}",
                where=str(file),
                do=f"name an older snapshot in {store / snapshots.CURRENT}, and load the newest files again",
            ) from None


def _live(store: Path) -> str:
    name = snapshots.current(store)
    if name is None:
        raise FleetlensError(
            "nothing has been loaded into this store yet" if store.exists() else "there is no store here yet",
            where=str(store),
            do=f"load your tables first: fleetlens load FOLDER --store {store}",
        )
    return name
