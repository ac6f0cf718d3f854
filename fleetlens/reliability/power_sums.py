"""Sums of powers of ages per group, at any exponent, from few passes over the lives."""

from math import log

import numpy as np

from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray, per_group

__all__ = ["PowerSums"]

# Cells of exponents: neighbours stand in this ratio, so an exponent is at most 12 % off the middle of its cell; the
# remainder of the Taylor series is then negligible (tests hold it to 1e-12 of the sum).
_RATIO = 1.25
_TERMS = 16
_FACTORIALS = np.cumprod(np.concatenate(([1.0], np.arange(1.0, _TERMS))))


class PowerSums:
    """Sum over a group's lives of x^b ln^k x less e^b ln^k e, with end x and entry e.

    A cell of exponents is expanded once per group, on demand, into its first sums over ln^k; from them every exponent
    of the cell follows by Taylor's series, without another pass over the lives. Lives of a group stand together, in
    groups of `lengths`, and the largest end of each is 1: no power overflows, and ln x is small where x^b counts, so
    that the series is short. An age of 0 or below adds nothing.
    """

    def __init__(self, end: FloatArray, entry: FloatArray, lengths: IntArray) -> None:
        self._n_groups, self._parts = len(lengths), []
        for sign, ages in ((1.0, end), (-1.0, entry)):
            counts = ages > 0
            kept = per_group(np.add, counts.astype(np.float64), lengths, 0.0).astype(np.int64)
            self._parts.append((sign, np.log(ages[counts]), kept))
        self._cells: dict[int, FloatArray] = {}

    def at(self, ids: IntArray, exponent: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The sums with k = 0, 1, 2 of the groups `ids`, each at its own exponent."""
        sums = np.zeros((3, len(ids)))
        cells = np.rint(np.log(exponent) / log(_RATIO)).astype(np.int64)
        for cell in np.unique(cells):
            rows = np.flatnonzero(cells == cell)
            expanded = self._expanded(int(cell), ids[rows])
            powers = np.vander(exponent[rows] - _RATIO ** float(cell), _TERMS, increasing=True) / _FACTORIALS
            for k in range(3):
                sums[k, rows] = np.einsum("ij,ij->i", expanded[:, k:], powers[:, : _TERMS - k])
        return sums[0], sums[1], sums[2]

    def _expanded(self, cell: int, ids: IntArray) -> FloatArray:
        """Sums over ln^k at the middle of `cell`, of the groups `ids`; worked out for those not met there before."""
        if cell not in self._cells:
            self._cells[cell] = np.full((self._n_groups, _TERMS), np.nan)
        table = self._cells[cell]
        wanted = np.zeros(self._n_groups, dtype=np.bool_)
        wanted[ids] = np.isnan(table[ids, 0])
        if wanted.any():
            table[wanted] = self._expand(_RATIO ** float(cell), wanted)
        return table[ids]

    def _expand(self, exponent: float, wanted: BoolArray) -> FloatArray:
        """One pass over the lives of the groups that `wanted` marks."""
        found = np.zeros((self._n_groups, _TERMS))
        for sign, all_logs, lengths in self._parts:
            logs = all_logs if wanted.all() else all_logs[np.repeat(wanted, lengths)]
            filled = wanted & (lengths > 0)
            if not filled.any():
                continue
            starts = np.cumsum(lengths[filled]) - lengths[filled]
            terms = np.exp(exponent * logs)
            for k in range(_TERMS):
                found[filled, k] += sign * np.add.reduceat(terms, starts)
                terms *= logs
        return found[wanted]
