"""Sorting numbers that stand in groups already: many short sorts instead of a long one."""

from typing import TypeVar

import numpy as np
import numpy.typing as npt

from fleetlens.reliability.lives import IntArray

__all__ = ["sort_grouped"]

Whole = TypeVar("Whole", bound=np.signedinteger)
_LONG = 2**16  # a group longer than that is no quicker by itself


def sort_grouped(keys: npt.NDArray[Whole], lengths: IntArray | None) -> npt.NDArray[Whole]:
    """`keys` in order, given that all of a group lie below those of the next; `lengths` None: nothing is known.

    Groups of like length make a table whose rows are sorted at once.
    """
    if lengths is None or len(lengths) < 2 or lengths.max() > _LONG or len(keys) < 1000:
        return np.sort(keys)
    if (lengths == lengths[0]).all():
        return np.sort(keys.reshape(len(lengths), -1), axis=1).ravel()
    found = np.empty_like(keys)
    starts = np.cumsum(lengths) - lengths
    # Within a class the longest is at most 1.2 times the shortest; what is missing sorts last.
    classes = np.ceil(4 * np.log2(np.maximum(lengths, 1)))
    for number in np.unique(classes[lengths > 0]):
        groups = np.flatnonzero((classes == number) & (lengths > 0))
        width = np.arange(lengths[groups].max())
        place = starts[groups][:, None] + width
        held = width < lengths[groups][:, None]
        table = np.where(held, keys[np.minimum(place, len(keys) - 1)], np.iinfo(keys.dtype).max)
        table.sort(axis=1)
        found[place[held]] = table[held]
    return found
