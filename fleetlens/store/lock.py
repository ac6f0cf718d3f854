"""The writer lock of a store: one load at a time, readers never wait for it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from fleetlens.errors import FleetlensError

LOCK = "writer.lock"


@contextmanager
def writing(store: Path) -> Iterator[None]:
    """Hold the writer lock of the folder `store`, which must exist.

    The system frees the lock when the process ends, however it ends, so a killed load leaves no lock behind.
    Raises FleetlensError at once where another load holds it.
    """
    path = store / LOCK
    # Not a singleton: two loads in one process must exclude each other as two processes do.
    lock = FileLock(path, timeout=0, thread_local=False, is_singleton=False)
    try:
        lock.acquire()
    except Timeout:
        raise FleetlensError(
            "another load is writing to this store",
            where=str(path),
            do="wait until it has ended and load again; the lock goes when that load ends, so never delete the file",
        ) from None
    try:
        yield
    finally:
        lock.release()
