"""The rules of a store that can be switched: what they say, and how they are set."""

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import duckdb

from fleetlens.errors import FleetlensError
from fleetlens.intake import odometer
from fleetlens.store import lock, marts, snapshots
from fleetlens.store.reader import open_store

__all__ = ["SWITCHES", "Switch", "rebuild", "set_switch", "switched"]


@dataclass(frozen=True, slots=True)
class Switch:
    """One rule: the values it takes, the first of them by default, and what it says."""

    name: str
    values: tuple[str, ...]
    meaning: str


SWITCHES = (
    Switch(
        "copied_jobs",
        ("leave-out", "count"),
        "A job with the same vehicle, day, odometer, reason, work, complaint and cost as another under a new number "
        "counts once.",
    ),
    Switch(
        "credits",
        ("cancel", "ignore"),
        "A part credited within 60 days (a credit, or a negative quantity) was never fitted and starts no life.",
    ),
    Switch(
        "supplements",
        ("join", "count"),
        "A job opened within 3 days on a vehicle that has run at most 2 km since a repair belongs to that repair "
        "and is no comeback.",
    ),
    Switch(
        "odometer_proposals",
        ("propose", "apply"),
        "A reading that fits its neighbours once a unit or a decimal mark is put right is listed with the proposal, "
        "or used so.",
    ),
)


def switched(store: Path) -> dict[str, str]:
    """The value of every switch in the store."""
    with open_store(store) as snapshot:
        kept = dict(snapshot.frame("findings/settings").rows())
    return {switch.name: kept.get(switch.name, switch.values[0]) for switch in SWITCHES}


def set_switch(store: Path, name: str, value: str) -> str | None:
    """Set a rule and build the figures anew; the new snapshot's name, None where it was set so already.

    Raises FleetlensError for a rule or value that isn't, and as a load does.
    """
    switch = next((one for one in SWITCHES if one.name == name), None)
    if switch is None:
        raise FleetlensError(f"no rule is called {name!r}", do=f"one of: {', '.join(one.name for one in SWITCHES)}")
    if value not in switch.values:
        raise FleetlensError(f"the rule {name} can't be {value!r}", do=" or ".join(switch.values))
    if switched(store)[name] == value:
        return None
    return rebuild(store, {name: value})


def rebuild(store: Path, changed: Mapping[str, str] = MappingProxyType({})) -> str:
    """Build the figures of a store anew, with these settings `changed`; the new snapshot's name.

    Raises FleetlensError as a load does.
    """
    if snapshots.current(store) is None:
        raise FleetlensError(
            "nothing has been loaded into this store yet", where=str(store), do="load your tables first"
        )
    with lock.writing(store):
        new = snapshots.next_name(store)
        snapshots.tidy(store)
        draft = snapshots.draft_of(store, new)
        try:
            with closing(snapshots.start(draft, store)) as connection:
                _apply(connection, changed)
                snapshots.publish(store, new, connection)
        finally:
            snapshots.discard(draft)
    return new


def _apply(connection: duckdb.DuckDBPyConnection, changed: Mapping[str, str]) -> None:
    connection.execute("begin")
    for name, value in changed.items():
        connection.execute("delete from settings where name = $name", {"name": name})
        connection.execute("insert into settings (name, value) values ($name, $value)", {"name": name, "value": value})
    odometer.store_readings(connection)
    marts.build(connection)
    connection.execute("commit")
