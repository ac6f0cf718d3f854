"""What happens to the parts: failed, renewed before they failed, taken out of use, or still in use, by distance."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS, round_distances
from fleetlens.reliability.competing import CumulativeIncidence, cumulative_incidence
from fleetlens.reliability.rates import proportion_exact
from fleetlens.reliability.survival import KaplanMeier, kaplan_meier
from fleetlens.store.reader import Snapshot

__all__ = ["FATES", "RUNNING", "fate_curves", "fates"]

FATES = ("failed", "preventive", "removed")  # as a life's `ended` says; cause 1, 2, 3 of the estimate
RUNNING = "still in use"
METHOD = (
    "Share of lives that ended in each way by a distance: cumulative incidence (Aalen–Johansen) with late entry and "
    "95 % log–log limits. A part renewed in time can't fail any more, so these shares tell what happens under the "
    "present practice; how long parts would last is the Kaplan–Meier curve's answer. Lives of vehicles that left, or "
    "that still run, are censored."
)


def fates(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    at: Sequence[float] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """A row for each group and fate, with the share of lives that met it `at` these km (round ones without).

    The shares of a group add up to 1. One that nobody met yet is 0 with the exact upper limit for the lives then under
    observation; null beyond the last one. Raises FleetlensError as component_lives does.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    distances = sorted(set(at)) or round_distances(float(table.end.max()) if table.end.size else 0.0)
    ended, running = _estimates(table)
    shares = _shares_at(ended, running, distances)
    counts = (
        pl.DataFrame({"group": table.group, "ended": table.lives["ended"]})
        .group_by("group")
        .agg(
            pl.len().cast(pl.Int64).alias("lives"),
            *((pl.col("ended") == fate).sum().cast(pl.Int64).alias(fate) for fate in FATES),
            (~pl.col("ended").is_in(FATES)).sum().cast(pl.Int64).alias(RUNNING),
        )
        .unpivot(index=["group", "lives"], variable_name="fate", value_name="ended_so")
    )
    rows = (
        table.numbered.join(counts, on="group", how="left", maintain_order="left")
        .join(shares, on=["group", "fate"], how="left", maintain_order="left")
        .filter((pl.col("ended_so") > 0) | (pl.col("fate") != "removed"))
        .sort("group", pl.col("fate").replace_strict(_ORDER, return_dtype=pl.Int64))
        .drop("group")
    )
    return _finding(
        snapshot,
        table,
        filters,
        question="what happens to parts",
        rows=rows,
        notes=() if table.failed.any() else ("No life has ended in failure yet.",),
    )


def fate_curves(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The steps of each fate's share, a row a group, fate and distance at which a life met it, from 0 at 0 km.

    The last row of a curve stands where the last life of its group was under observation.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    ended, _ = _estimates(table)
    met = ended.steps.select(
        "group",
        fate=_fate(),
        km="time",
        at_risk="at_risk",
        events="events",
        share_ended="incidence",
        low="low",
        high="high",
    )
    last = pl.DataFrame({"group": table.group, "end": table.end}).group_by("group").agg(pl.col("end").max())
    every = met.select("group", "fate").unique().join(last, on="group")
    nobody = {"at_risk": pl.lit(None, pl.Int64), "events": pl.lit(0, pl.Int64)}
    fresh = every.select("group", "fate", km=pl.lit(0.0), **nobody).with_columns(share_ended=0.0, low=0.0, high=0.0)
    level = every.select("group", "fate", km="end", **nobody).with_columns(
        pl.lit(None, pl.Float64).alias(name) for name in ("share_ended", "low", "high")
    )
    steps = (
        pl.concat([fresh, met.with_columns(pl.col("at_risk", "events").cast(pl.Int64)), level], how="vertical_relaxed")
        .sort("group", "fate", "km", "events", descending=[False, False, False, True], nulls_last=True)
        .unique(["group", "fate", "km"], keep="first", maintain_order=True)
        .with_columns(pl.col("share_ended", "low", "high").forward_fill().over("group", "fate"))
    )
    rows = (
        table.numbered.join(steps, on="group", how="inner", maintain_order="left")
        .sort("group", pl.col("fate").replace_strict(_ORDER, return_dtype=pl.Int64), "km")
        .drop("group")
    )
    return _finding(snapshot, table, filters, question="shares by fate", rows=rows)


_ORDER = {fate: place for place, fate in enumerate((*FATES, RUNNING))}


def _fate() -> pl.Expr:
    return pl.col("cause").replace_strict(dict(enumerate(FATES, 1)), return_dtype=pl.String)


def _estimates(table: LifeTable) -> tuple[CumulativeIncidence, KaplanMeier]:
    """The incidence of each fate, and the share that none has met."""
    numbers = {fate: number for number, fate in enumerate(FATES, 1)}
    cause = table.lives["ended"].replace_strict(numbers, default=0, return_dtype=pl.Int64).to_numpy()
    lives, n_groups = (table.entry, table.group), table.groups.height
    ended = cumulative_incidence(table.end, cause, *lives, n_groups=n_groups, n_causes=len(FATES))
    return ended, kaplan_meier(table.end, cause > 0, *lives, n_groups=n_groups)


def _shares_at(ended: CumulativeIncidence, running: KaplanMeier, distances: Sequence[float]) -> pl.DataFrame:
    """For each group and fate the shares at these distances, as a list."""
    if not distances:
        return pl.DataFrame(schema={"group": pl.Int64, "fate": pl.String, "incidence": _SHARES})
    still = running.at(distances)
    none_yet = proportion_exact(np.zeros(still.height), still["at_risk"].to_numpy())["high"]
    seen = still.select("group", "time", none_yet=none_yet)
    share, low, high = pl.col("incidence"), pl.col("low"), pl.col("high")
    met = (
        ended.at(distances)
        .join(seen, on=["group", "time"], how="left", maintain_order="left")
        .select(
            "group",
            "time",
            _fate().alias("fate"),
            share=share,
            low=pl.when(share == 0).then(0.0).otherwise(low),
            high=pl.when(share == 0).then("none_yet").otherwise(high),
        )
    )
    left = still.select("group", "time", pl.lit(RUNNING).alias("fate"), share="survival", low="low", high="high")
    return (
        pl.concat([met, left])
        .sort("group", "fate", "time")
        .group_by("group", "fate", maintain_order=True)
        .agg(pl.struct(km="time", share="share", low="low", high="high").alias("incidence"))
    )


_SHARES = pl.List(pl.Struct({"km": pl.Float64, "share": pl.Float64, "low": pl.Float64, "high": pl.Float64}))


def _finding(
    snapshot: Snapshot,
    table: LifeTable,
    filters: Filters,
    *,
    question: str,
    rows: pl.DataFrame,
    notes: tuple[str, ...] = (),
) -> Finding:
    ended = table.lives["ended"]
    return answer(
        snapshot,
        table,
        filters,
        question=question,
        rows=rows,
        method=METHOD,
        counted=(
            table.counted[0],
            *(Count(words, int((ended == fate).sum()), "lives") for fate, words in _SAID.items()),
        ),
        notes=notes,
    )


_SAID = {
    "failed": "ended in failure",
    "preventive": "renewed before they failed",
    "removed": "taken out of use",
}
