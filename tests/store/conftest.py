"""A store without any intake: snapshots whose table `settings` holds one value."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fleetlens.store import snapshots, versions

Publish = Callable[..., str]


@pytest.fixture
def publish(tmp_path: Path) -> Publish:
    """Publish a snapshot in `tmp_path` whose setting "mark" has the given value; its name."""

    def run(mark: str, store: Path = tmp_path) -> str:
        name = snapshots.next_name(store)
        connection = snapshots.start(snapshots.draft_of(store, name), store)
        connection.execute("delete from settings where name = 'mark'")
        connection.execute("insert into settings values ('mark', $mark)", {"mark": mark})
        versions.stamp(connection, "figures")
        snapshots.publish(store, name, connection)
        return name

    return run
