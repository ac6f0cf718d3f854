"""Two-by-two tables with fixed margins: exact tails at any odds ratio, many tables at once."""

import numpy as np
from scipy.special import gammaln

from fleetlens.reliability.lives import BoolArray, FloatArray, IntArray
from fleetlens.reliability.roots import falling_root

__all__ = ["Tables", "chance_tails"]

_REACH = 60.0  # log odds ratios sought: beyond e^60 there is no limit


class Tables:
    """Tables with the cell `both` in the row `first` and the column `second`, of `total` in all.

    Given the margins the cell is hypergeometric, weighted by odds ratio^cell. Its possible values of all tables stand
    in one flat array, table after table, so that a wide table costs the others nothing.
    """

    def __init__(self, both: FloatArray, first: FloatArray, second: FloatArray, total: FloatArray) -> None:
        least = np.maximum(0.0, first + second - total)
        widths = (np.minimum(first, second) - least + 1).astype(np.int64)
        self.both, self.widths = both, widths
        self.at_least, self.at_most = both <= least, both >= least + widths - 1
        self._starts = np.cumsum(widths) - widths
        cell = np.arange(widths.sum()) - np.repeat(self._starts - least.astype(np.int64), widths)
        n1, n2, n = (np.repeat(margin, widths) for margin in (first, second, total))
        self._cell, self._observed = cell.astype(np.float64), np.repeat(both, widths)
        parts = (self._cell, n1 - cell, n2 - cell, n - n1 - n2 + cell)
        self._log_weight = -np.sum([gammaln(part + 1) for part in parts], axis=0)

    def tails(self, log_odds: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Probabilities of a cell as small as the one seen, and of one as large."""
        chance = self._chances(np.arange(len(self.both)), log_odds)[1]
        small = np.add.reduceat(np.where(self._cell <= self._observed, chance, 0.0), self._starts)
        large = np.add.reduceat(np.where(self._cell >= self._observed, chance, 0.0), self._starts)
        return np.minimum(small, 1.0), np.minimum(large, 1.0)

    def limit(self, side: int, tail: float, start: FloatArray) -> FloatArray:
        """Log odds ratio at which the tail on `side` (-1: cells as large, the lower limit; 1: as small) is `tail`.

        Minus or plus infinity where the cell is already the least or the greatest that the margins allow.
        """
        found = np.full(len(self.both), side * np.inf)
        open_ended = self.at_least if side < 0 else self.at_most
        ids = np.flatnonzero(~open_ended)

        def excess(at: IntArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
            # Seen from the observed cell outwards, the tail falls with the distance from it.
            tables = ids[at]
            rows, chance, starts = self._chances(tables, side * place)
            cell, seen = self._cell[rows], self._observed[rows]
            inside = np.where(cell * side <= seen * side, chance, 0.0)
            total = np.maximum(np.add.reduceat(inside, starts), 1e-300)
            slope = np.add.reduceat(inside * cell, starts) / total - np.add.reduceat(chance * cell, starts)
            return np.log(total / tail), side * slope

        if len(ids):
            bound = np.full(len(ids), _REACH)
            found[ids] = side * falling_root(excess, side * start[ids], -bound, bound)[0]
        return found

    def _chances(self, ids: IntArray, log_odds: FloatArray) -> tuple[BoolArray | slice, FloatArray, IntArray]:
        """Rows of the tables `ids`, the chance of each cell there, and where each table begins among them."""
        widths = self.widths[ids]
        starts = np.cumsum(widths) - widths
        if len(ids) == len(self.widths):
            rows: BoolArray | slice = slice(None)
        else:
            wanted = np.zeros(len(self.widths), dtype=np.bool_)
            wanted[ids] = True
            rows = np.repeat(wanted, self.widths)
        weight = self._log_weight[rows] + np.repeat(log_odds, widths) * self._cell[rows]
        weight = np.exp(weight - np.repeat(np.maximum.reduceat(weight, starts), widths))
        return rows, weight / np.repeat(np.add.reduceat(weight, starts), widths), starts


def chance_tails(
    both: FloatArray, first: FloatArray, second: FloatArray, total: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Probabilities by chance alone of a cell as small as `both`, and of one as large, table by table.

    Summed from the cell outwards, away from the likeliest one: each step is less likely than the one before, so that
    few steps do, however wide the table is.
    """
    rest = total - first - second
    parts = (both, first - both, second - both, rest + both)
    ways = gammaln(total + 1) + np.sum([gammaln(part + 1) for part in parts], axis=0)
    chance = np.exp(np.sum([gammaln(n + 1) for n in (first, second, total - first, total - second)], axis=0) - ways)
    up = both >= np.floor((first + 1) * (second + 1) / (total + 2))
    outwards, term, cell = chance.copy(), chance.copy(), both.copy()
    left = np.arange(len(both))
    while len(left):
        n1, n2, spare, x, rises = first[left], second[left], rest[left], cell[left], up[left]
        # The numerator is 0 at the last cell that the margins allow.
        above = (n1 - x) * (n2 - x) / ((x + 1) * np.maximum(spare + x + 1, 1))
        below = x * (spare + x) / np.maximum((n1 - x + 1) * (n2 - x + 1), 1)
        term[left] *= np.where(rises, above, below)
        cell[left] += np.where(rises, 1, -1)
        outwards[left] += term[left]
        left = left[term[left] > 1e-17 * outwards[left]]
    inwards = 1 - outwards + chance
    small, large = np.where(up, inwards, outwards), np.where(up, outwards, inwards)
    return np.clip(small, 0.0, 1.0), np.clip(large, 0.0, 1.0)
