"""The power law where only the number of events in each stretch of age is known."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtri

from fleetlens.errors import FleetlensError
from fleetlens.reliability.counted import whole
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.lives import FloatArray, IntArray, floats, groups
from fleetlens.reliability.roots import falling_root

__all__ = ["power_law_grouped"]

_LOW, _HIGH = np.log(1e-3), np.log(1e3)


def power_law_grouped(
    events: npt.ArrayLike,
    since: npt.ArrayLike,
    until: npt.ArrayLike,
    units: npt.ArrayLike = 1.0,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
) -> pl.DataFrame:
    """Fit the power law to counts, all groups at once, a row per group.

    A row of the arrays is a stretch of age from `since` to `until` with its `events` and the number of `units` watched
    through it. Columns: group, events, shape, shape_low, shape_high (profile likelihood), scale, until, rate (events
    per unit of age of one unit at the greatest age). Null where fewer than two stretches hold events, which leaves the
    shape open; a limit is null where there is none between 0.001 and 1,000.
    Raises FleetlensError for counts that aren't, arrays that don't match, stretches that end before they begin.

    MIL-HDBK-189, 1981, appendix C, grouped data.
    """
    count = whole(events, "events")
    begun, ended = floats(since, "since", len(count)), floats(until, "until", len(count))
    watched = np.broadcast_to(np.asarray(units, dtype=np.float64), count.shape)
    if (begun < 0).any() or (ended <= begun).any() or not (watched >= 0).all():
        raise FleetlensError(
            "a stretch of age ends before it begins, or is watched by less than no unit", do="check it"
        )
    codes, many = groups(group, n_groups, len(count))
    total = np.bincount(codes, count, minlength=many).astype(np.float64)
    greatest = np.zeros(many)
    np.maximum.at(greatest, codes, ended)
    unit = np.where(greatest > 0, greatest, 1.0)[codes]
    stretches = _Stretches(codes, total, count, watched, ended / unit, begun / unit)
    ids = np.flatnonzero(np.bincount(codes, count > 0, minlength=many) > 1)
    low, high = np.full(len(ids), _LOW), np.full(len(ids), _HIGH)
    s, found = falling_root(lambda at, x: stretches.slope(ids[at], x), np.zeros(len(ids)), low, high)
    ids, s = ids[found], s[found]
    z, top = float(ndtri(0.5 + level / 2)), stretches.profile(ids, s)
    columns = {name: np.full(many, np.nan) for name in ("shape", "shape_low", "shape_high", "scale", "until", "rate")}
    for name, side in (("shape_low", -1), ("shape_high", 1)):

        def short(at: IntArray, x: FloatArray, side: int = side) -> tuple[FloatArray, FloatArray]:
            place = s[at] + side * x
            root = np.sqrt(np.maximum(2 * (top[at] - stretches.profile(ids[at], place)), 1e-12))
            return z - root, side * stretches.slope(ids[at], place)[0] / root

        first = np.full(len(ids), 0.1)
        reach = np.where(side < 0, s - _LOW, _HIGH - s)
        distance, there = falling_root(short, first, 0 * first, reach)
        columns[name][ids] = np.where(there, np.exp(s + side * distance), np.nan)
    shape = np.exp(s)
    exposed = stretches.exposed(ids, shape)[0]
    columns["shape"][ids] = shape
    columns["scale"][ids] = greatest[ids] * (exposed / total[ids]) ** (1 / shape)
    columns["until"][ids] = greatest[ids]
    columns["rate"][ids] = total[ids] / exposed * shape / greatest[ids]
    return pl.DataFrame(
        {
            "group": np.arange(many),
            "events": total.astype(np.int64),
            **{name: nullable(values) for name, values in columns.items()},
        }
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Stretches:
    """The profile likelihood of the log shape, ages scaled by the greatest of each group."""

    codes: IntArray
    total: FloatArray
    count: FloatArray
    watched: FloatArray
    until: FloatArray
    since: FloatArray

    def _sum(self, values: FloatArray, ids: IntArray) -> FloatArray:
        return np.bincount(self.codes, values, minlength=len(self.total))[ids].astype(np.float64)

    def _widths(self, ids: IntArray, shape: FloatArray) -> list[FloatArray]:
        """Width of each stretch on the scale age^shape, and its first two derivatives by the shape."""
        each = np.ones(len(self.total))
        each[ids] = shape
        power = each[self.codes]
        found = [np.zeros(len(power)) for _ in range(3)]
        for sign, age in ((1, self.until), (-1, self.since)):
            log_age = np.log(np.where(age > 0, age, 1.0))
            for k in range(3):
                found[k] += sign * age**power * log_age**k
        return found

    def exposed(self, ids: IntArray, shape: FloatArray) -> list[FloatArray]:
        """Units times width, summed, and its first two derivatives by the shape."""
        return [self._sum(self.watched * width, ids) for width in self._widths(ids, shape)]

    def profile(self, ids: IntArray, s: FloatArray) -> FloatArray:
        """Log-likelihood at the scale that fits best."""
        widths = self._widths(ids, np.exp(s))
        seen = np.where(self.count > 0, widths[0], 1.0)
        return self._sum(self.count * np.log(seen), ids) - self.total[ids] * np.log(
            self._sum(self.watched * widths[0], ids)
        )

    def slope(self, ids: IntArray, s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """First and second derivative of `profile` by the log shape."""
        shape = np.exp(s)
        d0, d1, d2 = self._widths(ids, shape)
        e0, e1, e2 = self.exposed(ids, shape)
        own = d1 / d0
        first = self._sum(self.count * own, ids) - self.total[ids] * e1 / e0
        second = self._sum(self.count * (d2 / d0 - own**2), ids) - self.total[ids] * (e2 / e0 - (e1 / e0) ** 2)
        return shape * first, shape * first + shape**2 * second
