"""Lives as arrays: what was observed of each part or repair, checked once for all estimates."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fleetlens.errors import FleetlensError

__all__ = [
    "BoolArray",
    "FloatArray",
    "IntArray",
    "Lives",
    "check",
    "floats",
    "groups",
    "marked",
    "per_group",
    "unusable",
]

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Lives:
    """One life an index: under observation from just after `entry` up to and with `end`.

    `entry` is minus infinity where the life was seen from its beginning. `group` runs from 0 to `n_groups` - 1.
    """

    end: FloatArray
    failed: BoolArray
    entry: FloatArray
    group: IntArray
    n_groups: int

    def take(self, keep: BoolArray | IntArray) -> "Lives":
        """The lives that `keep` marks, or lists in their new order; the number of groups stays."""
        rows = np.flatnonzero(keep) if keep.dtype == np.bool_ else keep
        return Lives(self.end[rows], self.failed[rows], self.entry[rows], self.group[rows], self.n_groups)

    @cached_property
    def lengths(self) -> IntArray | None:
        """Lives of each group where those of a group stand together; None where they don't."""
        if self.n_groups == 1:
            return np.array([len(self.end)])
        if not bool((self.group[1:] >= self.group[:-1]).all()):
            return None
        ends = np.searchsorted(self.group, np.arange(self.n_groups), side="right")
        return np.diff(ends, prepend=0)

    def together(self) -> IntArray | None:
        """The order in which the lives of a group stand together; None where they do."""
        if self.lengths is not None:
            return None
        # A narrow type is sorted by counting, not by comparing.
        return np.argsort(self.group.astype(np.uint16 if self.n_groups < 2**16 else np.int64), kind="stable")

    def late(self, start: float) -> "Lives":
        """The lives that outlast `start`, each under observation from `start` at the earliest."""
        left = self.take(self.end > start)
        return Lives(left.end, left.failed, np.maximum(left.entry, start), left.group, left.n_groups)

    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """First entry and last end of each group; plus and minus infinity where a group has no lives."""
        lengths = self.lengths
        if lengths is not None:
            return per_group(np.minimum, self.entry, lengths, np.inf), per_group(np.maximum, self.end, lengths, -np.inf)
        first, last = np.full(self.n_groups, np.inf), np.full(self.n_groups, -np.inf)
        np.minimum.at(first, self.group, self.entry)
        np.maximum.at(last, self.group, self.end)
        return first, last

    def totals(self, of: BoolArray | None = None) -> IntArray:
        """Lives per group, or those that `of` marks."""
        lengths = self.lengths
        if lengths is None:
            return np.bincount(self.group if of is None else np.compress(of, self.group), minlength=self.n_groups)
        if of is None:
            return lengths
        return marked(of, lengths)


def per_group(reduce: np.ufunc, values: FloatArray, lengths: IntArray, empty: float) -> FloatArray:
    """`reduce` over the values of each group, which stand together in groups of `lengths`."""
    found = np.full(len(lengths), empty)
    filled = lengths > 0
    if filled.any():
        found[filled] = reduce.reduceat(values, (np.cumsum(lengths) - lengths)[filled])
    return found


def marked(which: BoolArray, lengths: IntArray) -> IntArray:
    """How many of each group, which stand together in groups of `lengths`, are marked."""
    found = np.zeros(len(lengths), dtype=np.int64)
    filled = lengths > 0
    if filled.any():
        found[filled] = np.add.reduceat(which, (np.cumsum(lengths) - lengths)[filled], dtype=np.int64)
    return found


def floats(values: npt.ArrayLike, name: str, length: int | None = None) -> FloatArray:
    """`values` as a flat array of numbers; raises FleetlensError where `length` isn't kept or a number is missing."""
    array = np.ascontiguousarray(values, dtype=np.float64)
    if array.ndim != 1 or (length is not None and len(array) != length):
        raise FleetlensError(f"{name!r} has the shape {array.shape}, not ({length},)", do="give one value a row")
    if not array.max(initial=-np.inf) < np.inf:  # a missing number makes the largest one missing
        raise FleetlensError(f"{name!r} holds a missing or infinite value", do="leave those rows out and list them")
    return array


def groups(group: npt.ArrayLike | None, n_groups: int | None, length: int) -> tuple[IntArray, int]:
    """Group of each row and the number of groups; None is one group.

    Raises FleetlensError where a group lies outside 0 to `n_groups` - 1.
    """
    if group is None:
        return np.zeros(length, dtype=np.int64), n_groups or 1
    codes = np.ascontiguousarray(group)
    if codes.shape != (length,) or not (np.issubdtype(codes.dtype, np.integer) or not length):
        raise FleetlensError("'group' must be one whole number a row", do="number the groups from 0")
    codes = codes.astype(np.int64, copy=False)
    lowest, highest = (int(codes.min()), int(codes.max())) if length else (0, -1)
    count = highest + 1 if n_groups is None else n_groups
    if lowest < 0 or highest >= count:
        raise FleetlensError(f"'group' runs from {lowest} to {highest}, outside 0 to {count - 1}", do="number from 0")
    return codes, count


def unusable(end: npt.ArrayLike, entry: npt.ArrayLike | None = None) -> BoolArray:
    """Which lives can't be used, as they end at or before their entry; a caller leaves them out and lists them."""
    last = np.asarray(end, dtype=np.float64)
    if entry is None:
        return np.zeros(len(last), dtype=np.bool_)
    return np.asarray(np.asarray(entry, dtype=np.float64) >= last)


def check(
    end: npt.ArrayLike,
    failed: npt.ArrayLike,
    entry: npt.ArrayLike | None = None,
    group: npt.ArrayLike | None = None,
    n_groups: int | None = None,
) -> Lives:
    """The lives, checked.

    `end`: age at failure or at the end of observation. `failed`: whether the life ended in failure. `entry`: age at
    which the life came under observation; None, or minus infinity for one life, means from its beginning.
    Raises FleetlensError where arrays don't match, a number is missing, or a life ends at or before its entry.
    """
    last = floats(end, "end")
    fails = np.asarray(failed).astype(np.bool_, copy=False)
    if fails.shape != last.shape:
        raise FleetlensError(f"'failed' has the shape {fails.shape}, not {last.shape}", do="give one value a row")
    first = np.full(len(last), -np.inf) if entry is None else floats(entry, "entry", len(last))
    wrong = np.empty(0, dtype=np.bool_) if entry is None else first >= last
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0])
        raise FleetlensError(
            f"{int(wrong.sum())} of {len(last)} lives end at or before their entry",
            where=f"row {row}: entry {first[row]:g}, end {last[row]:g}",
            do="leave out what fleetlens.reliability.lives.unusable marks, and list it",
        )
    codes, count = groups(group, n_groups, len(last))
    return Lives(last, fails, first, codes, count)
