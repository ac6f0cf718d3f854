"""Whether groups of parts fail alike: the log-rank test, each group against the others, and two curves compared."""

from collections.abc import Sequence

import numpy as np
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen, named, places
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS, round_distances
from fleetlens.reliability.comparison import LogRank, difference_at, log_rank
from fleetlens.reliability.multiplicity import false_discovery
from fleetlens.store.reader import Snapshot

__all__ = ["compared_lives", "two_groups"]

SURE = 0.05  # common practice, no source


def compared_lives(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    within: Sequence[str] = (),
    *,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The failures of each group of `by` against those expected if all failed alike (log-rank).

    Lives are compared only with those of the same component and the same keys of `within`, so that a group isn't blamed
    for its mix. `ratio` is failures over expected; `p` tests the group against all others, `q` is its false discovery
    rate among the groups. Raises FleetlensError where `by` and `within` share a key, for no key, and as component_lives
    does.
    """
    keys, strata = chosen(by, LIFE_KEYS), chosen(within, LIFE_KEYS)
    if not keys:
        raise FleetlensError("nothing to compare by", do=f"one or more of: {', '.join(LIFE_KEYS)}")
    if both := [key for key in keys if key in strata]:
        raise FleetlensError(
            f"{', '.join(both)} can't be what is compared and what is kept equal",
            do="another key to compare within",
        )
    table = life_table(snapshot, component, keys, filters, unknown_start)
    groups, group = evidence.numbered(table.lives, keys)
    layers, stratum = evidence.numbered(table.lives, ["component", *strata])
    test = log_rank(
        table.end, table.failed, group.to_numpy(), table.entry, stratum.to_numpy(), n_groups=max(groups.height, 1)
    )
    found = test.rows.head(groups.height)
    expected = found["expected"]
    rows = groups.with_columns(
        lives=found["lives"],
        failures=found["observed"],
        expected=expected,
        ratio=pl.Series(found["observed"] / expected).set(expected <= 0, None),
        p=found["p"],
        q=false_discovery(found["p"].fill_null(np.nan).to_numpy())
        if groups.height
        else pl.Series([], dtype=pl.Float64),
    )
    kept = _within(["component"] if layers["component"].n_unique() > 1 else [], strata)
    return answer(
        snapshot,
        table,
        filters,
        question="whether groups fail alike",
        rows=rows,
        method=(
            f"Log-rank test with late entry{kept}: failures of each group against those expected if all failed alike. "
            "p: the group against all others; q: false discovery rate among the groups (Benjamini–Hochberg)."
        ),
        notes=(_told(test, rows, keys), *_mix(strata)),
    )


def two_groups(
    snapshot: Snapshot,
    component: str | None,
    key: str,
    first: str,
    second: str,
    *,
    at: Sequence[float] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """Share failed by these km (round ones without) in the group `first` of `key` and in `second`, and the difference.

    From the two Kaplan–Meier curves; null where one isn't known. Raises FleetlensError for a group that has no life,
    for more than one component, and as component_lives does.
    """
    keys = chosen([key], LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    if table.lives["component"].n_unique() > 1:
        raise FleetlensError("a difference is of one component's lives", do="name one with --component")
    mine, other = places(table.groups[key].to_list(), key, (first, second), "life")
    curve = table.kaplan_meier()
    both = min(float(table.end[table.group == number].max()) for number in (mine, other))
    found = difference_at(curve, sorted(set(at)) or round_distances(both), group=mine, other=other)
    rows = found.select(
        pl.lit(table.lives["component"][0]).alias("component"),
        km="time",
        share_first="risk",
        share_second="risk_other",
        difference="difference",
        difference_low="low",
        difference_high="high",
        p="p",
    )
    return answer(
        snapshot,
        table,
        filters,
        question=f"share failed, {first} less {second}",
        rows=rows,
        method=(
            f"Share failed by each distance (one minus Kaplan–Meier with late entry) of {key} {first}, of {second}, "
            "and the difference with 95 % limits put together from those of the curves (Newcombe; Zou & Donner); p on "
            "the log–log scale."
        ),
        counted=tuple(_counts(table, place, f"of {key} {name}") for place, name in ((mine, first), (other, second))),
        notes=("It compares what ran, not like with like: duty and age of the record may differ too.",),
    )


def _counts(table: LifeTable, group: int, words: str) -> Count:
    mine = table.group == group
    return Count(f"{words}, {int(table.failed[mine].sum()):,} failed", int(mine.sum()), "lives")


def _within(component: list[str], strata: list[str]) -> str:
    kept = [*component, *strata]
    return f", within the same {' and '.join(kept)}" if kept else ""


def _mix(strata: list[str]) -> tuple[str, ...]:
    if strata:
        return ()
    return ("Groups may differ in their mix, as of duty: compare within the same duty before you blame one.",)


def _told(test: LogRank, rows: pl.DataFrame, keys: list[str]) -> str:
    """What the test says of all groups, and which one stands out."""
    if test.p is None:
        return "There is nothing to compare: no failure happened while lives of two groups were under observation."
    words = "They don't fail alike" if test.p < SURE else "A difference can't be told from chance"
    told = f"{words}: chi-squared {test.chi_squared:.2f} on {test.degrees} degrees of freedom, p {_p(test.p)}."
    apart = rows.filter(pl.col("q") < SURE).sort("ratio", descending=True)
    if apart.is_empty() or rows.height < 3:
        return told
    who = [f"{named(row, keys)} ({row['ratio']:.2f} times the expected)" for row in apart.iter_rows(named=True)]
    return f"{told} Against the others stand out: {'; '.join(who)}."


def _p(value: float) -> str:
    return "below 0.0001" if value < 1e-4 else f"{value:.2g}"
