"""Counting who is at risk when, for all groups in one sweep."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.reliability.lives import FloatArray, IntArray

__all__ = ["Clock", "RiskSet", "Tally", "clock", "nullable", "per_group", "running", "segment_starts"]

# A table of all keys is counted where it is at most so many times as long as the rows; else the keys are sorted.
_ROOM = 4
Keys = npt.NDArray[np.signedinteger]


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Times as whole numbers from 0 to `span` - 1 in the same order; 0 stands for minus infinity.

    A key is `group` x `span` + number: keys of one group stand together, in order of time.
    """

    span: int
    ages: FloatArray | None
    origin: float

    def key(self, group: IntArray, codes: IntArray, n_groups: int) -> Keys:
        """Keys of rows of `group` at the times `codes`; four bytes each where that is enough."""
        keys = group * self.span + codes if n_groups > 1 else codes
        return keys.astype(np.int32) if n_groups * self.span < 2**31 else keys

    def group(self, keys: Keys) -> IntArray:
        """Group of each key."""
        return keys.astype(np.int64) // self.span

    def time(self, keys: Keys) -> FloatArray:
        """Time of each key."""
        codes = keys.astype(np.int64) % self.span
        if self.ages is None:
            return (codes + (self.origin - 1)).astype(np.float64)
        return self.ages[codes - 1]


def _whole(values: FloatArray) -> IntArray | None:
    """`values` as whole numbers; None where they aren't."""
    if len(values) and max(abs(values.min()), abs(values.max())) >= 2.0**52:
        return None
    numbers = values.astype(np.int64)
    return numbers if bool((numbers == values).all()) else None


def clock(*times: FloatArray) -> tuple[Clock, list[IntArray]]:
    """One clock for several arrays of times, and each array on it.

    Whole numbers are their own ranks, so nothing is sorted; else every distinct time gets its rank.
    """
    here = [None if each.min(initial=0.0) > -np.inf else each > -np.inf for each in times]
    finite = [each if mask is None else each[mask] for each, mask in zip(times, here, strict=True)]
    numbers = [_whole(each) for each in finite]
    low = min((float(each.min()) for each in finite if len(each)), default=0.0)
    high = max((float(each.max()) for each in finite if len(each)), default=low)
    whole = [each for each in numbers if each is not None]
    if len(whole) == len(times) and high - low < 2**40:
        found = Clock(int(high - low) + 2, None, low)
        ranked = [each - (int(low) - 1) for each in whole]
    else:
        ages, ranks = np.unique(np.concatenate(finite), return_inverse=True)
        found = Clock(len(ages) + 1, ages, 0.0)
        ranked = np.split(ranks.astype(np.int64) + 1, np.cumsum([len(each) for each in finite])[:-1])
    codes = []
    for each, mask in zip(ranked, here, strict=True):
        if mask is None:
            codes.append(each)
        else:
            codes.append(np.zeros(len(mask), dtype=np.int64))
            codes[-1][mask] = each
    return found, codes


class Tally:
    """How many keys lie below a key: by a table where the keys are dense, else by sorting."""

    def __init__(self, keys: Keys, size: int) -> None:
        self.dense = size <= _ROOM * len(keys) + 1000
        self._counts = np.bincount(keys, minlength=size) if self.dense else np.empty(0, dtype=np.int64)
        self.ordered = np.concatenate(([0], np.cumsum(self._counts))) if self.dense else np.sort(keys)

    def below(self, keys: Keys) -> IntArray:
        """Number of keys below each of `keys`."""
        return self.ordered[keys] if self.dense else np.searchsorted(self.ordered, keys)

    def distinct(self) -> tuple[Keys, IntArray]:
        """The distinct keys in order, and how often each occurs."""
        if self.dense:
            keys = np.flatnonzero(self._counts)
            return keys, self._counts[keys]
        first = np.flatnonzero(np.diff(self.ordered, prepend=-1))
        return self.ordered[first], np.diff(first, append=len(self.ordered))


class RiskSet:
    """Who is under observation at a time t: entry < t <= end.

    The number at risk at a key is the entries below it less the ends below it. Counting over all groups at once
    leaves the key's own: groups before it have entered and ended, those after it have done neither.
    """

    def __init__(self, entry: Keys, end: Keys, size: int) -> None:
        self.entered, self.ended = Tally(entry, size), Tally(end, size)

    def emptied(self) -> Keys:
        """Keys at which the last one under observation ended."""
        if self.entered.dense:
            left = np.diff(self.ended.ordered) > 0
            return np.flatnonzero(left & (self.entered.ordered[1:] == self.ended.ordered[1:]))
        # The risk set is empty after the i-th end just where the entry after the i-th comes later still.
        later = np.append(self.entered.ordered[1:], np.iinfo(self.entered.ordered.dtype).max)
        return self.ended.ordered[later > self.ended.ordered]


def per_group(reduce: np.ufunc, values: FloatArray, lengths: IntArray, empty: float) -> FloatArray:
    """`reduce` over the values of each group, which stand together in groups of `lengths`."""
    found = np.full(len(lengths), empty)
    filled = lengths > 0
    if filled.any():
        found[filled] = reduce.reduceat(values, (np.cumsum(lengths) - lengths)[filled])
    return found


def segment_starts(groups: IntArray) -> IntArray:
    """Index of the first row of each group in rows ordered by group."""
    return np.flatnonzero(np.diff(groups, prepend=-1))


def running(values: FloatArray, starts: IntArray) -> FloatArray:
    """Running sums that begin anew at each of `starts`."""
    if not len(values):
        return values
    steps = values.copy()
    steps[starts[1:]] -= np.add.reduceat(values, starts)[:-1]
    return np.cumsum(steps)


def nullable(values: FloatArray) -> pl.Series:
    """`values` for a frame, NaN as null."""
    return pl.Series(values, dtype=pl.Float64, nan_to_null=True)
