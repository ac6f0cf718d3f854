"""Recurrent failures: how many a unit has had by an age, on average."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.special import ndtr, ndtri

from fleetlens.reliability.counted import garwood
from fleetlens.reliability.counting import RiskSet, Tally, clock, nullable, running, segment_starts
from fleetlens.reliability.histories import owners
from fleetlens.reliability.lives import FloatArray, IntArray, Lives, check, floats

__all__ = ["MeanCumulative", "difference", "mean_cumulative"]


@dataclass(frozen=True, slots=True, eq=False)
class MeanCumulative:
    """Mean number of events of a unit, by age and group.

    `steps`: a row per group and distinct event time: group, time, at_risk (units under observation), events, mean,
    se, low, high. Limits mean x exp(-/+ z se / mean). se and limits are null while the units haven't differed: one unit
    alone says nothing about the spread.
    """

    steps: pl.DataFrame
    level: float
    _units: Lives = field(repr=False)

    def at(self, times: npt.ArrayLike) -> pl.DataFrame:
        """The curve at `times`, a row per group and time: group, time, mean, se, low, high.

        mean is 0 before the first event, null before any unit was under observation and after the last was.
        """
        asked = np.sort(np.atleast_1d(np.asarray(times, dtype=np.float64)))
        first, last = self._units.bounds()
        grid = pl.DataFrame({"group": np.arange(self._units.n_groups), "first": first, "last": last})
        values = ("mean", "se", "low", "high")
        known = pl.col("time").is_between("first", "last")
        return (
            grid.join(pl.DataFrame({"time": asked}), how="cross")
            .sort("time")
            .join_asof(
                self.steps.select("group", "time", *values).sort("time"),
                on="time",
                by="group",
                check_sortedness=False,
            )
            .with_columns(pl.col("mean").fill_null(0.0))
            .with_columns(pl.when(known).then(pl.col(name)).alias(name) for name in values)
            .sort("group", "time")
            .select("group", "time", *values)
        )


def mean_cumulative(
    unit: npt.ArrayLike,
    time: npt.ArrayLike,
    start: npt.ArrayLike | None,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    n_groups: int | None = None,
    level: float = 0.95,
) -> MeanCumulative:
    """Mean cumulative number of events of all groups, with robust variance.

    `unit` and `time`: one event an index, `unit` being the index into `start`, `end` and `group`, which have one unit
    an index. A unit is under observation with start < t <= end; `start` None: from the beginning, events at 0 too.
    Events of one unit may depend on each other: the variance is the sum of the squared influences of the units.
    Raises FleetlensError for arrays that don't match, units that end at or before their start, and events outside
    their unit's time under observation.

    Nelson 1995, Technometrics 37, 147-157; variance by Lawless & Nadeau 1995, Technometrics 37, 158-168.
    """
    last = floats(end, "end")
    units = check(last, np.zeros(len(last), dtype=np.bool_), start, group, n_groups)
    times = floats(time, "time")
    owner = owners(unit, times, units)
    ticks, (ends, entries, happened) = clock(units.end, units.entry, times, n_groups=units.n_groups)
    size = units.n_groups * ticks.span
    end_keys = ticks.key(units.group, ends, units.n_groups)
    entry_keys = ticks.key(units.group, entries, units.n_groups)
    event_keys = ticks.key(units.group[owner], happened, units.n_groups)
    keys, events = Tally(event_keys, size).distinct()
    observed = RiskSet(entry_keys, end_keys, size, units.lengths)
    groups, times_of_steps = ticks.split(keys)
    at_risk, starts = observed.entered.below(keys) - observed.ended.below(keys), segment_starts(groups)
    step = _Steps(at_risk, events, starts, np.searchsorted(groups, units.group, "right"))
    variance = step.variance(
        owner,
        np.searchsorted(keys, event_keys),
        since=np.searchsorted(keys, entry_keys, "right"),
        until=np.searchsorted(keys, end_keys, "right"),
    )
    mean = running(events / at_risk, starts)
    se = np.sqrt(np.where(variance > 1e-14 * mean**2, variance, np.nan))
    widen = np.exp(ndtri(0.5 + level / 2) * se / mean)
    steps = pl.DataFrame(
        {
            "group": groups,
            "time": times_of_steps,
            "at_risk": at_risk,
            "events": events,
            "mean": mean,
            "se": nullable(se),
            "low": nullable(mean / widen),
            "high": nullable(mean * widen),
        }
    )
    return MeanCumulative(steps, level, units)


def difference(curve: MeanCumulative, times: npt.ArrayLike, *, group: int = 0, other: int = 1) -> pl.DataFrame:
    """Mean events by each age in `group` less those in `other`: time, mean, mean_other, difference, low, high, p.

    The units of the two groups are different ones. Limits put together from those of the two curves, p from their
    variances; where a group has had no event yet its limits are 0 and the exact one of a Poisson count over the units
    then under observation. p is null there, and while the units of a group haven't differed so are the limits; all is
    null where one of the curves isn't known.
    Nelson 2003, Recurrent Events Data Analysis, chapter 5; limits: Zou & Donner 2008, Statistics in Medicine 27,
    1693-1702.
    """
    at, units = curve.at(times), curve._units
    found = []
    for number in (group, other):
        rows = at.filter(pl.col("group") == number)
        mean, se, low, high = (rows[name].fill_null(np.nan).to_numpy() for name in ("mean", "se", "low", "high"))
        mine = units.group == number
        ages = rows["time"].to_numpy()
        watched = (np.searchsorted(np.sort(x[mine]), ages) for x in (units.entry, units.end))
        under = np.subtract(*watched)
        most = garwood(np.zeros(1), curve.level)[1] / np.maximum(under, 1)
        found.append((mean, np.where(mean == 0, 0.0, low), np.where(mean == 0, most, high), se))
    (mean, low, high, se), (mean_other, low_other, high_other, se_other) = found
    gap = mean - mean_other
    columns = {
        "mean": mean,
        "mean_other": mean_other,
        "difference": gap,
        "low": gap - np.hypot(mean - low, high_other - mean_other),
        "high": gap + np.hypot(high - mean, mean_other - low_other),
        "p": 2 * ndtr(-np.abs(gap) / np.hypot(se, se_other)),
    }
    asked = at.filter(pl.col("group") == group)["time"]
    return pl.DataFrame({"time": asked, **{name: nullable(values) for name, values in columns.items()}})


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """Distinct event times in order of group and time; `beyond` is the index after the last step of a unit's group."""

    at_risk: IntArray
    events: IntArray
    starts: IntArray
    beyond: IntArray

    def running(self, values: FloatArray) -> FloatArray:
        """Running sums up to and with each step, of its group."""
        return running(values, self.starts)

    def landed(self, place: IntArray, values: FloatArray) -> FloatArray:
        """Sum of `values` of the units that reach each step at `place`; a place beyond the group's last is dropped."""
        lands = place < self.beyond
        return np.bincount(place[lands], values[lands], minlength=len(self.at_risk)).astype(np.float64)

    def variance(self, owner: IntArray, place: IntArray, *, since: IntArray, until: IntArray) -> FloatArray:
        """Sum of the squared influences of all units at each step, in time n log n.

        A unit under observation has the influence U = A - (h - h at its start): A sums 1 / at_risk over its own
        events, h the mean's increments / at_risk. A step adds (its events - increment) / at_risk to each U, and so
        2 U x that + its square to the sum; running sums of A and of h at the start over those at risk do the rest.
        `owner`, `place`: unit and step of each event; `since`, `until`: first step after a unit's start, its end.
        """
        steps = len(self.at_risk)
        pairs, times = np.unique(owner * steps + place, return_counts=True)
        unit, step = pairs // max(steps, 1), pairs % max(steps, 1)
        increment = self.events / self.at_risk
        passed = self.running(increment / self.at_risk) - increment / self.at_risk
        at_start = np.zeros(len(since))
        seen = since < self.beyond
        at_start[seen] = passed[since[seen]]
        weight = times / self.at_risk[step]
        own_before = running(weight, segment_starts(unit)) - weight
        own_total = np.bincount(unit, weight, minlength=len(since)).astype(np.float64)
        added = np.bincount(step, weight, minlength=steps).astype(np.float64)
        of_those_at_risk = (
            (self.running(added) - added - self.running(self.landed(until, own_total)))
            - self.at_risk * passed
            + self.running(self.landed(since, at_start) - self.landed(until, at_start))
        )
        of_those_failing = np.bincount(step, times * (own_before - passed[step] + at_start[unit]), minlength=steps)
        squares = np.bincount(step, times**2, minlength=steps) - increment * self.events
        return self.running(
            2 * (of_those_failing - increment * of_those_at_risk) / self.at_risk + squares / self.at_risk**2
        )
