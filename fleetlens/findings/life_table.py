"""Lives of a component as arrays ready for statistics, with those that can't count set apart."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding
from fleetlens.reliability import survival, weibull
from fleetlens.store.reader import Snapshot

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LifeTable:
    """The lives that count, their groups, and what was left out.

    `lives` has one row a life; `groups` one row a group, in the order of `group`. Ages are km since the life began:
    `entry` where it came under observation, `end` where it ended or was last observed, `known_good` the age at which it
    was last known to work (NaN unless the failure was found at an inspection).
    """

    lives: pl.DataFrame
    groups: pl.DataFrame
    group: npt.NDArray[np.int64]
    entry: Floats
    end: Floats
    known_good: Floats
    failed: npt.NDArray[np.bool_]
    excluded: tuple[Count, ...]
    assumed: tuple[str, ...]

    def without_unknown_starts(self) -> "LifeTable":
        """The same groups without the lives taken for original parts."""
        keep = ~self.lives["unknown_start"].to_numpy()
        return LifeTable(
            self.lives.filter(pl.Series(keep)),
            self.groups,
            self.group[keep],
            self.entry[keep],
            self.end[keep],
            self.known_good[keep],
            self.failed[keep],
            self.excluded,
            self.assumed,
        )

    @property
    def numbered(self) -> pl.DataFrame:
        """The groups with their number in front, as the frames of statistics have it."""
        return self.groups.with_row_index("group").with_columns(pl.col("group").cast(pl.Int64))

    @property
    def counted(self) -> tuple[Count, ...]:
        """The lives and failures that figures rest on."""
        return (
            Count("with distance under observation", self.lives.height, "lives"),
            Count("confirmed", int(self.failed.sum()), "failures"),
        )

    def weibull(self, shape: Floats | None = None) -> weibull.WeibullFit:
        """The Weibull fit of every group; `shape`: given by group, NaN where it is fitted."""
        return weibull.fit(
            self.end,
            self.failed,
            self.entry,
            self.known_good,
            self.group,
            n_groups=self.groups.height,
            shape=shape,
        )

    def kaplan_meier(self) -> survival.KaplanMeier:
        """The survival curve of every group."""
        return survival.kaplan_meier(self.end, self.failed, self.entry, self.group, n_groups=self.groups.height)

    @property
    def unknown_starts(self) -> int:
        """How many lives are taken for original parts though the record begins later."""
        return int(self.lives["unknown_start"].sum())


def life_table(
    snapshot: Snapshot,
    component: str | None,
    keys: list[str],
    filters: Filters,
    unknown_start: str,
    *,
    named: bool = False,
) -> LifeTable:
    """The lives of `component` (None: of every component kept), grouped by component and `keys`.

    `unknown_start` is "original" (a part whose start lies before the record is taken for the one the vehicle came
    with) or "leave-out". `named`: sorted, with vehicle, jobs and how failures were found, which figures don't need.
    Raises FleetlensError for another word, and for a component or filter value the store doesn't know.
    """
    if unknown_start not in ("original", "leave-out"):
        raise FleetlensError(f"unknown start can't be {unknown_start!r}", do="original or leave-out")
    components = kept_components(snapshot, component, filters)
    bound = {"components": components, **filters.bound()}
    rows = snapshot.frame("findings/life_rows" if named else "findings/life_ages", **bound)
    unplaced = evidence.one_row(snapshot, "findings/unplaced_endings", **bound)["endings"]
    excluded = [*evidence.some(unplaced, "by the table 'fitted' their model doesn't carry the component", "endings")]

    unread = rows["age_km"].is_null() | rows["entry_km"].is_null()
    excluded += evidence.some(int(unread.sum()), "the vehicle has no usable odometer reading", "lives")
    rows = rows.filter(~unread)
    unseen = rows["end_km"] <= rows["entry_km"]
    excluded += evidence.some(
        int(unseen.sum()),
        "no distance under observation (ended before the record began, or on the spot)",
        "lives",
    )
    rows = rows.filter(~unseen)
    assumed = [*evidence.readings(snapshot, filters)]
    unknown = int(rows["unknown_start"].sum())
    if unknown and unknown_start == "leave-out":
        rows = rows.filter(~pl.col("unknown_start"))
        excluded += evidence.some(unknown, "started before the record did; left out as asked", "lives")
    elif unknown:
        assumed.append(
            f"{unknown:,} of {rows.height:,} lives started before their vehicle's record and are taken for "
            "the original part, "
            "under observation from where the record begins."
        )
    estimated = int(rows["estimated"].sum())
    if estimated:
        assumed.append(
            f"{estimated:,} of {rows.height:,} lives start or end on an estimated odometer (the vehicle's "
            "usage at that date)."
        )
    late_found = int(rows["known_good_km"].is_not_null().sum())
    if late_found:
        assumed.append(
            f"{late_found:,} failures were found at an inspection: the Weibull fit places them since the last look, "
            "Kaplan–Meier at the inspection."
        )
    assumed += evidence.text_rows(snapshot)
    groups, group = evidence.numbered(rows, ["component", *keys])
    start = rows["start_km"].to_numpy()
    return LifeTable(
        lives=rows,
        groups=groups,
        group=group.to_numpy(),
        entry=rows["entry_km"].to_numpy() - start,
        end=rows["age_km"].to_numpy(),
        known_good=(rows["known_good_km"] - rows["start_km"]).fill_null(float("nan")).to_numpy(),
        failed=(rows["ended"] == "failed").to_numpy(),
        excluded=tuple(excluded),
        assumed=tuple(assumed),
    )


def answer(
    snapshot: Snapshot,
    table: LifeTable,
    filters: Filters,
    *,
    question: str,
    rows: pl.DataFrame,
    method: str,
    counted: tuple[Count, ...] | None = None,
    assumed: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
) -> Finding:
    """An answer about these lives; `counted` in place of all lives and failures, `assumed` beside what they assume."""
    return Finding(
        question=question,
        rows=rows,
        method=method,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=table.counted if counted is None else counted,
        excluded=table.excluded,
        assumed=(*table.assumed, *assumed),
        notes=notes,
        filters=filters.named(),
        cautions=cautions,
    )


def kept_components(snapshot: Snapshot, component: str | None, filters: Filters) -> list[str] | None:
    """The components asked for; None keeps all. Raises FleetlensError for one the store doesn't know."""
    asked = (component,) if component else filters.component
    check(snapshot, Filters(filters.model, filters.duty, filters.depot, tuple(asked)))
    return list(asked) or None
