"""A store as it would have been on an earlier day: later rows taken away, and all figures built anew from the rest."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path

import duckdb

from fleetlens.errors import FleetlensError
from fleetlens.intake import odometer
from fleetlens.store import marts, queries
from fleetlens.store.reader import Snapshot

__all__ = ["as_known_on"]

_LATER = (
    "delete from jobs where cast(opened_at as date) > $until",
    "update jobs set closed_at = null, downtime_h = null where cast(closed_at as date) > $until",
    "delete from odometer where cast(read_at as date) > $until",
    "delete from vehicles where greatest(in_service_on, history_from) > $until",
    "update vehicles set left_service_on = null where left_service_on > $until",
)
_ORPHANED = (
    "delete from job_codes where job_key not in (select job_key from jobs)",
    "delete from job_actions where job_key not in (select job_key from jobs)",
    "delete from job_checks where job_key not in (select job_key from jobs)",
    "delete from job_sources where job_key not in (select job_key from jobs)",
    "delete from settings where name = 'as_of'",
)


@contextmanager
def as_known_on(snapshot: Snapshot, until: date) -> Iterator[Snapshot]:
    """The snapshot with nothing that happened after the day `until`, in a temporary file.

    Jobs opened later are gone with all that hangs on them, jobs closed later are open, odometers read later unread,
    vehicles that came later unknown and those that left later still there; readings are judged and figures built from
    what is left. A row that was written down late counts by the day of its job. Raises FleetlensError where no job is
    left.
    """
    with tempfile.TemporaryDirectory(prefix="fleetlens-rewind-") as folder:
        path = Path(folder) / f"{snapshot.name}.duckdb"
        shutil.copy2(snapshot.path, path)
        with closing(duckdb.connect(str(path))) as connection:
            queries.silence(connection)
            connection.execute("begin")
            _take_away(connection, until)
            if connection.execute("select count(*) from jobs").fetchall() == [(0,)]:
                raise FleetlensError(f"the record holds no job up to {until}", do="name a later day")
            odometer.store_readings(connection)
            marts.build(connection)
            connection.execute("commit")
            yield Snapshot(snapshot.name, path, connection, text=snapshot.text)


def _take_away(connection: duckdb.DuckDBPyConnection, until: date) -> None:
    for statement in _LATER:
        connection.execute(statement, {"until": until})
    for statement in _ORPHANED:
        connection.execute(statement)
    connection.execute("insert into settings (name, value) values ('as_of', $value)", {"value": until.isoformat()})
