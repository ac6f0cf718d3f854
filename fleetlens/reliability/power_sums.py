"""Sums of powers of ages per group, at any exponent, from few passes over the lives."""

from itertools import pairwise
from math import log

import numpy as np

from fleetlens.reliability.lives import FloatArray, IntArray

__all__ = ["PowerSums"]

# Cells of exponents: neighbours stand in this ratio, so an exponent is at most 18 % off the middle of its cell; the
# remainder of the Taylor series is then negligible (tests hold it to 1e-12 of the sum).
_RATIO = 1.4
_LOW, _HIGH = 4, 5
_TERMS = _LOW * _HIGH
_BLOCK = 2**14  # lives
_FACTORIALS = np.cumprod(np.concatenate(([1.0], np.arange(1.0, _TERMS))))


Ages = tuple[FloatArray, IntArray]


class PowerSums:
    """Sum over a group's lives of x^b ln^k x less e^b ln^k e, with end x and entry e.

    A cell of exponents is expanded once per group, on demand, into its first sums over ln^k; from them every exponent
    of the cell follows by Taylor's series, without another pass over the lives. `ends` and `entries`: ages above 0 and
    how many of them each group has; those of a group stand together. They are scaled by the logarithm `log_unit` so
    that the largest end of each group is 1: no power overflows, and ln x is small where x^b counts, so that the series
    is short. `centre`: an exponent of each group that its cells are laid around.
    """

    def __init__(self, ends: Ages, entries: Ages, log_unit: FloatArray, centre: FloatArray) -> None:
        self._parts = [(sign, *part) for sign, part in ((1.0, ends), (-1.0, entries)) if len(part[0])]
        self._log_unit, self._centre = log_unit, centre
        self._cells: dict[int, FloatArray] = {}
        self._last: tuple[IntArray, FloatArray, list[FloatArray]] | None = None

    def at(self, ids: IntArray, exponent: FloatArray) -> list[FloatArray]:
        """The sums with k = 0, 1, 2 of the groups `ids`, each at its own exponent."""
        if self._last is not None and np.array_equal(self._last[0], ids) and np.array_equal(self._last[1], exponent):
            return self._last[2]  # a slope is often asked for right after a value
        sums = np.zeros((3, len(ids)))
        centre = self._centre[ids]
        cells = np.rint(np.log(exponent / centre) / log(_RATIO)).astype(np.int64)
        for cell in np.unique(cells):
            rows = np.flatnonzero(cells == cell)
            middle = centre[rows] * _RATIO ** float(cell)
            expanded = self._expanded(int(cell), ids[rows])
            away = exponent[rows] - middle
            powers = np.empty((_TERMS, len(rows)))
            powers[0] = 1.0
            np.multiply.accumulate(np.broadcast_to(away, (_TERMS - 1, len(rows))), axis=0, out=powers[1:])
            powers /= _FACTORIALS[:, None]
            for k in range(3):
                sums[k, rows] = np.einsum("ij,ij->j", expanded[k:], powers[: _TERMS - k])
        self._last = ids.copy(), exponent.copy(), list(sums)
        return self._last[2]

    def _expanded(self, cell: int, ids: IntArray) -> FloatArray:
        """Sums over ln^k at the middle of `cell`, of the groups `ids`; worked out for those not met there before."""
        if cell not in self._cells:
            self._cells[cell] = np.full((_TERMS, len(self._centre)), np.nan)
        table = self._cells[cell]
        new = ids[np.isnan(table[0, ids])]
        if len(new):
            wanted = np.unique(new)
            table[:, wanted] = self._expand(self._centre[wanted] * _RATIO ** float(cell), wanted)
        return table[:, ids]

    def _expand(self, exponent: FloatArray, wanted: IntArray) -> FloatArray:
        """One pass over the lives of the groups `wanted`."""
        found = np.zeros((len(wanted), _TERMS))
        for sign, ages, lengths in self._parts:
            owner, begins, mine = _pieces((np.cumsum(lengths) - lengths)[wanted], lengths[wanted])
            batches = _batches(mine)
            room = np.empty((_LOW + _HIGH, max((len(groups) * int(mine[groups[0]]) for groups in batches), default=0)))
            for groups in batches:
                shape = len(groups), int(mine[groups[0]])
                here = room[:, : shape[0] * shape[1]].reshape(-1, *shape)
                low, high = here[:_LOW], here[_LOW:]
                logs, terms = low[1], high[0]
                first, even = int(begins[groups[0]]), bool(mine[groups[-1]] == shape[1])
                if even and begins[groups[-1]] - first == (len(groups) - 1) * shape[1]:
                    np.log(ages[first : first + logs.size].reshape(shape), out=logs)
                else:
                    place = begins[groups][:, None] + np.arange(shape[1])
                    np.log(ages.take(place, mode="clip"), out=logs)
                logs -= self._log_unit[wanted[owner[groups]]][:, None]
                np.exp(np.multiply(exponent[owner[groups]][:, None], logs, out=terms), out=terms)
                if not even:  # what was filled up counts nothing
                    held = np.arange(shape[1]) < mine[groups][:, None]
                    logs *= held
                    terms *= held
                np.add.at(found, owner[groups], sign * _moments(low, high))
        return found.T


def _pieces(begins: IntArray, lengths: IntArray) -> tuple[IntArray, IntArray, IntArray]:
    """Groups cut into pieces no longer than a block: place in `lengths`, first life and length of each."""
    count = -(-lengths // _BLOCK)
    owner = np.repeat(np.arange(len(lengths)), count)
    passed = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)) * _BLOCK
    return owner, begins[owner] + passed, np.minimum(lengths[owner] - passed, _BLOCK)


def _batches(lengths: IntArray) -> list[IntArray]:
    """Groups with any lives, those of like length together, as many at a time as the processor's own memory holds."""
    order = np.argsort(-lengths, kind="stable")  # the longest first
    order = order[lengths[order] > 0]
    if not len(order):
        return []
    # The longest of a batch, to which the others are filled up, is at most 1.2 times the shortest.
    new = (np.diff(np.cumsum(lengths[order]) // _BLOCK) > 0) | (np.diff(np.floor(4 * np.log2(lengths[order]))) != 0)
    cuts = [0, *(np.flatnonzero(new) + 1).tolist(), len(order)]
    return [order[begin:end] for begin, end in pairwise(cuts)]


def _moments(low: FloatArray, high: FloatArray) -> FloatArray:
    """Sums along each row of terms x logs^k for all k: powers below the fourth times those of the fourth.

    The logs come as `low[1]`, the terms as `high[0]`; the rest of both is room to work in.
    """
    low[0] = 1.0
    for k in range(2, _LOW):
        np.multiply(low[k - 1], low[1], out=low[k])
    for k in range(1, _HIGH):
        np.multiply(high[k - 1], low[1], out=high[k])
        high[k] *= low[-1]
    sums = np.matmul(high.transpose(1, 0, 2), low.transpose(1, 2, 0))
    return np.asarray(sums.reshape(-1, _TERMS))
