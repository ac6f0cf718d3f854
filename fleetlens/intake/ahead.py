"""One step of a pipe done ahead: in a thread of its own, while the next step uses what it gave before."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

__all__ = ["ahead"]

Item = TypeVar("Item")


def ahead(items: Iterator[Item]) -> Iterator[Item]:
    """The same items in the same order, each worked out while the one before is in use; never more than one ahead.

    What `items` raises is raised here. It pays where both steps leave Python's lock alone for most of their time, as
    reading, checking and storing large batches do.
    """
    with ThreadPoolExecutor(1) as thread:
        coming = thread.submit(_next, items)
        while found := coming.result():
            coming = thread.submit(_next, items)
            yield found[0]


def _next(items: Iterator[Item]) -> tuple[Item] | None:
    """The next item, or None after the last: an end can't be raised through a thread."""
    for item in items:
        return (item,)
    return None
