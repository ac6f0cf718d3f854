"""Counting who is at risk when, for all groups in one sweep."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray, Lives
from fleetlens.reliability.sorting import sort_grouped

__all__ = ["Clock", "RiskSet", "Sweep", "Tally", "blocks", "clock", "nullable", "running", "segment_starts", "sweep"]

# A table of all keys is counted where it is at most so many times as long as the rows; else the keys are sorted.
_ROOM = 4
_BLOCK = 2**15
Keys = npt.NDArray[np.signedinteger]


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Times as whole numbers from 0 to `span` - 1 in the same order; 0 stands for minus infinity.

    A key is `group` x `span` + number: keys of one group stand together, in order of time.
    """

    span: int
    ages: FloatArray | None
    origin: float

    def key(self, group: IntArray, codes: Keys, n_groups: int) -> Keys:
        """Keys of rows of `group` at the times `codes`; `codes` itself where there is one group."""
        if n_groups == 1:
            return codes
        # Twice as many still fit, so that a key can carry a mark.
        wide = 2 * n_groups * self.span >= 2**31
        keys: Keys = group.astype(np.int64 if wide else codes.dtype)
        keys *= self.span
        keys += codes
        return keys

    def split(self, keys: Keys) -> tuple[IntArray, FloatArray]:
        """Group and time of each key."""
        if len(keys) and keys[-1] >= self.span:
            group = keys // self.span
            codes = keys - group * self.span
        else:
            group, codes = np.zeros(len(keys), dtype=np.int64), keys
        times = np.add(codes, self.origin - 1, dtype=np.float64) if self.ages is None else self.ages[codes - 1]
        return group.astype(np.int64, copy=False), times


def clock(*times: FloatArray, n_groups: int = 1) -> tuple[Clock, list[Keys]]:
    """One clock for several arrays of times, and each array on it.

    Whole numbers are their own ranks, so nothing is sorted; else every distinct time gets its rank.
    """
    lows = [float(each.min(initial=np.inf)) for each in times]
    here = [each > -np.inf if low == -np.inf else None for each, low in zip(times, lows, strict=True)]
    finite = [each if mask is None else np.compress(mask, each) for each, mask in zip(times, here, strict=True)]
    low = min((float(each.min()) for each in finite if len(each)), default=0.0)
    high = max((float(each.max()) for each in finite if len(each)), default=low)
    span = high - low + 2
    whole: list[Keys | None] = [None]
    if span < 2**40 and max(abs(low), abs(high)) < 2.0**52:
        # Eight bytes are counted without a copy, four are sorted faster.
        dense = n_groups * span <= _ROOM * len(times[0]) + 1000
        kind = np.int64 if dense or 2 * n_groups * span >= 2**31 else np.int32
        whole = [_whole(each, int(low) - 1, kind) for each in finite]
    ranked = [each for each in whole if each is not None]
    if len(ranked) == len(times):
        found = Clock(int(span), None, low)
    else:
        ages, ranks = np.unique(np.concatenate(finite), return_inverse=True)
        found = Clock(len(ages) + 1, ages, 0.0)
        ranked = list(np.split(ranks.astype(np.int64) + 1, np.cumsum([len(each) for each in finite])[:-1]))
    codes = []
    for each, mask in zip(ranked, here, strict=True):
        if mask is None:
            codes.append(each)
        else:
            codes.append(np.zeros(len(mask), dtype=each.dtype))
            codes[-1][np.flatnonzero(mask)] = each
    return found, codes


def _whole(values: FloatArray, origin: int, kind: type[np.int32] | type[np.int64]) -> Keys | None:
    """`values` less `origin` as whole numbers; None where they aren't."""
    found: Keys = np.empty(len(values), dtype=kind)
    for rows in blocks(len(values)):
        part, mine = values[rows], found[rows]
        if not (np.rint(part) == part).all():
            return None
        mine[:] = part
        mine -= origin
    return found


def blocks(length: int) -> Iterator[slice]:
    """Slices that cover `length` rows, each small enough to stay in the processor's own memory."""
    return (slice(begin, begin + _BLOCK) for begin in range(0, length, _BLOCK))


class Tally:
    """How many keys lie below a key: by a table where the keys are dense, else by sorting.

    `lengths`: how many keys each group has, where those of a group stand together; they are then sorted by group.
    """

    def __init__(self, keys: Keys, size: int, lengths: IntArray | None = None) -> None:
        self.dense = size <= _ROOM * len(keys) + 1000
        self.ordered = _upto(np.bincount(keys, minlength=size)) if self.dense else sort_grouped(keys, lengths)

    def below(self, keys: Keys) -> IntArray:
        """Number of keys below each of `keys`."""
        return self.ordered[keys] if self.dense else np.searchsorted(self.ordered, keys)

    def rank(self, keys: Keys) -> IntArray:
        """Number of distinct keys up to and with each of `keys`."""
        if self.dense:
            return _upto(self.ordered[1:] > self.ordered[:-1])[1:][keys]
        return np.searchsorted(self.distinct()[0], keys, "right")

    def distinct(self) -> tuple[Keys, IntArray]:
        """The distinct keys in order, and how often each occurs."""
        if self.dense:
            keys = _changes(self.ordered)[1:] - 1
            return keys, self.ordered[keys + 1] - self.ordered[keys]
        first = _changes(self.ordered)
        return self.ordered[first], _gaps(first, len(self.ordered))


class RiskSet:
    """Who is under observation at a time t: entry < t <= end.

    The number at risk at a key is the entries below it less the ends below it. Counting over all groups at once
    leaves the key's own: groups before it have entered and ended, those after it have done neither.
    """

    def __init__(self, entry: Keys, end: Keys, size: int, lengths: IntArray | None = None) -> None:
        self.entered, self.ended = Tally(entry, size, lengths), Tally(end, size, lengths)

    def emptied(self) -> Keys:
        """Keys at which the last one under observation ended."""
        return _emptied(self.entered, self.ended.ordered[1:] if self.ended.dense else self.ended.ordered)


def _emptied(entered: Tally, ended: Keys) -> Keys:
    """Keys at which the last one under observation ended; `ended` as `entered.ordered`, but up to each key."""
    if entered.dense:
        nobody = np.flatnonzero(ended == entered.ordered[1:])
        return nobody[ended[nobody] > ended[np.maximum(nobody - 1, 0)]]
    # The risk set is empty after the i-th end just where the entry after the i-th comes later still.
    last = np.ones(len(ended), dtype=np.bool_)
    np.greater(entered.ordered[1:], ended[:-1], out=last[:-1])
    return ended[last]


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """Distinct failure times of all groups, in order of group and time.

    group, time, failures, and the lives of all groups that have `entered` and `ended` before: the difference is
    `at_risk`. `starts`: the first row of each group that has any. emptied_group, emptied_time: where the last life
    under observation ended.
    """

    group: IntArray
    time: FloatArray
    failures: IntArray
    entered: IntArray
    ended: IntArray
    at_risk: IntArray
    starts: IntArray
    emptied_group: IntArray
    emptied_time: FloatArray


def sweep(lives: Lives) -> Sweep:
    """Count the lives through; a failure comes before a censoring at one and the same age."""
    late = lives.entry.max(initial=-np.inf) > -np.inf
    many, lengths = lives.n_groups, lives.lengths
    ticks, codes = clock(lives.end, *([lives.entry] if late else []), n_groups=many)
    size = many * ticks.span
    # Twice the key, one more where the life didn't fail: one count, or one sorting, tells failures and ends.
    marked = ticks.key(lives.group, codes[0], many)
    marked *= 2
    marked += 1
    marked -= lives.failed
    if size <= _ROOM * len(marked) + 1000:
        counts = np.bincount(marked, minlength=2 * size)
        keys: Keys = np.flatnonzero(counts[::2])
        failures = counts[2 * keys]
        order = np.cumsum(counts, out=counts)[1::2]
        ended = counts[2 * keys] - failures
    else:
        order = sort_grouped(marked, lengths)
        first = _changes(order)
        of_failures = np.flatnonzero(order[first] & 1 == 0)
        keys, ended = order[first[of_failures]] >> 1, first[of_failures]
        failures = _gaps(first, len(order))[of_failures]
        order >>= 1
    group, time = ticks.split(keys)
    if late:
        tally = Tally(ticks.key(lives.group, codes[1], many), size, lengths)
        entered, nobody = tally.below(keys), ticks.split(_emptied(tally, order))
    else:  # all have been there from the beginning, so there is somebody until the last end
        entered, nobody = np.cumsum(lives.totals())[group], (group[:0], time[:0])
    return Sweep(group, time, failures, entered, ended, entered - ended, segment_starts(group), *nobody)


def _upto(counts: IntArray | BoolArray) -> IntArray:
    """Running sums from 0."""
    found = np.zeros(len(counts) + 1, dtype=np.int64)
    np.cumsum(counts, out=found[1:])
    return found


def _changes(ordered: Keys) -> IntArray:
    """Index of the first of each run of equal keys."""
    if not len(ordered):
        return np.empty(0, dtype=np.int64)
    new: BoolArray = np.ones(len(ordered), dtype=np.bool_)
    np.not_equal(ordered[1:], ordered[:-1], out=new[1:])
    return np.flatnonzero(new)


def _gaps(first: IntArray, length: int) -> IntArray:
    """Lengths of the runs that begin at `first`."""
    found = np.empty_like(first)
    np.subtract(first[1:], first[:-1], out=found[:-1])
    found[-1:] = length - first[-1:]
    return found


def segment_starts(groups: IntArray) -> IntArray:
    """Index of the first row of each group in rows ordered by group."""
    return _changes(groups)


def running(values: FloatArray, starts: IntArray) -> FloatArray:
    """Running sums that begin anew at each of `starts`."""
    if len(starts) < 2:
        return np.cumsum(values)
    steps = values.copy()
    steps[starts[1:]] -= np.add.reduceat(values, starts)[:-1]
    return np.cumsum(steps, out=steps)


def nullable(values: FloatArray) -> pl.Series:
    """`values` for a frame, NaN as null."""
    return pl.Series(values, dtype=pl.Float64, nan_to_null=True)
