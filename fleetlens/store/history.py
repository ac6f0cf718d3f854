"""Going back: the store as it was before its last load."""

from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.store import lock, snapshots

__all__ = ["undo"]


def undo(store: Path) -> tuple[str, str]:
    """Make the snapshot before the live one live again: (the one taken back, the one that shows now).

    The last few snapshots are kept, so this can be done a few times in a row. What was taken back goes for good with
    the next load. Raises FleetlensError where there is no store, no older snapshot, or another load is writing.
    """
    live = snapshots.current(store)
    if live is None:
        raise FleetlensError("there is nothing to undo: nothing was ever loaded", where=str(store))
    with lock.writing(store):
        older = snapshots.before(store, live)
        if older is None:
            raise FleetlensError(
                f"there is no snapshot older than {live} to go back to",
                where=str(store),
                do=f"only the last {snapshots.KEEP} are kept; load the corrected files instead",
            )
        snapshots.make_live(store, older)
    return live, older
