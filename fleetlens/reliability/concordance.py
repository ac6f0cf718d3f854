"""How well a risk told beforehand ranks what failed first."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.lives import floats

__all__ = ["Concordance", "concordance"]


@dataclass(frozen=True, slots=True)
class Concordance:
    """The share of comparable pairs in which the one at greater risk failed first; 0.5 is chance, 1 perfect.

    Null limits (None) where no pair is comparable.
    """

    share: float | None
    low: float | None
    high: float | None
    pairs: int


def concordance(end: npt.ArrayLike, failed: npt.ArrayLike, risk: npt.ArrayLike, level: float = 0.95) -> Concordance:
    """Harrell's concordance of `risk` with the times `end` at which units `failed` or were last observed.

    A pair is comparable when one fails while the other is still observed; equal risks count as half. A failure goes
    before a censoring at the same time; two failures at the same time aren't compared. Limits from each unit's share in
    all pairs (the infinitesimal jackknife of a ratio of sums over pairs), kept within 0 and 1.
    Harrell, Lee & Mark 1996, Statistics in Medicine 15, 361-387 (the measure, from memory).
    Raises FleetlensError for arrays of unequal length.
    """
    times, risks = floats(end, "end"), floats(risk, "risk")
    events = np.asarray(failed, dtype=bool)
    if not len(times) == len(risks) == len(events):
        raise FleetlensError("end, failed and risk differ in length", do="give one of each for every unit")
    right, all_pairs = np.zeros(len(times)), np.zeros(len(times))  # of each unit, over its pairs
    for unit in np.flatnonzero(events):
        later = (times > times[unit]) | ((times == times[unit]) & ~events)
        won = (risks[later] < risks[unit]) + 0.5 * (risks[later] == risks[unit])
        right[unit] += won.sum()
        all_pairs[unit] += len(won)
        right[later] += won
        all_pairs[later] += 1
    pairs = all_pairs.sum() / 2
    if not pairs:
        return Concordance(None, None, None, 0)
    share = float(right.sum() / 2 / pairs)
    error = float(np.sqrt((((right - share * all_pairs) / pairs) ** 2).sum()))
    reach = float(ndtri(0.5 + level / 2)) * error
    return Concordance(share, max(0.0, share - reach), min(1.0, share + reach), int(pairs))
