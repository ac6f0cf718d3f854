"""Whether rates changed: a period against the one before, and a year against the year before."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from fleetlens.findings.periods import PER_KM, Periods
from fleetlens.reliability.multiplicity import false_discovery
from fleetlens.reliability.rates import rate_ratio

__all__ = ["YEAR", "Span", "change", "latest", "screened", "year"]

YEAR = 12  # months
SURE = 0.05


@dataclass(frozen=True, slots=True)
class Span:
    """Which periods are compared: their first days, and in words."""

    later: tuple[date, ...]
    earlier: tuple[date, ...]
    words: str


def latest(counted: Periods) -> Span | None:
    """The last period and the one before it; None where there is one only."""
    return _span(counted, 1)


def year(counted: Periods, *, shorter: bool = False) -> Span | None:
    """The last twelve months and the twelve before them.

    Where the record is too short for both, None; with `shorter` two equal spans as long as it allows, by whole periods.
    """
    have, wanted = len(counted.comparable) // 2, YEAR // counted.months
    return _span(counted, min(have, wanted)) if shorter or have >= wanted else None


def _span(counted: Periods, size: int) -> Span | None:
    starts = counted.comparable
    if not 0 < size <= len(starts) // 2:
        return None
    later, earlier = starts[-size:], starts[-2 * size : -size]
    return Span(tuple(later), tuple(earlier), f"{_words(counted, later)} against {_words(counted, earlier)}")


def _words(counted: Periods, starts: Sequence[date]) -> str:
    first, last = counted.label(starts[0]), counted.label(starts[-1])
    return first if first == last else f"{first} to {last}"


def change(rows: pl.DataFrame, span: Span | None, keys: Sequence[str], ending: str = "") -> pl.DataFrame:
    """For each group of `rows` (as those of Periods): latest, earlier (events), change (rate ratio) with limits and q.

    One row a group in the order of `keys`. q is the false discovery rate among all groups of the frame. All are null
    where there is nothing to compare. Names get the `ending`.
    """
    later, earlier = (_part(rows, starts, keys) for starts in ((span.later, span.earlier) if span else ((), ())))
    ratio = rate_ratio(
        later["events"].to_numpy(),
        later["km"].to_numpy() / PER_KM,
        earlier["events"].to_numpy(),
        earlier["km"].to_numpy() / PER_KM,
    )
    none = later["events"] + earlier["events"] == 0
    found = later.select(keys).with_columns(
        latest=later["events"],
        earlier=earlier["events"],
        change=ratio["ratio"],
        change_low=ratio["low"].set(none, None),
        change_high=ratio["high"],
        change_q=false_discovery(ratio["p"].to_numpy()),
    )
    figures = [name for name in found.columns if name not in keys]
    if span is None:
        found = found.with_columns(pl.lit(None, found.schema[name]).alias(name) for name in figures)
    return found.rename({name: _ended(name, ending) for name in figures})


def _ended(name: str, ending: str) -> str:
    """change_low with the ending _12m is change_12m_low: limits stand by their figure."""
    stem, mark, end = name.partition("_")
    return f"{stem}{ending}{mark}{end}"


def _part(rows: pl.DataFrame, starts: Sequence[date], keys: Sequence[str]) -> pl.DataFrame:
    """Events and km of each group in the periods that begin at `starts`."""
    inside = pl.col("starts_on").is_in(starts)
    return (
        rows.group_by(keys)
        .agg(pl.col("events", "km").filter(inside).sum())
        .sort(keys, nulls_last=True)
        .with_columns(pl.col("events").cast(pl.Int64), pl.col("km").cast(pl.Float64))
    )


def screened(rows: pl.DataFrame, what: str) -> tuple[str, ...]:
    """How many rows were compared at once, and how many of them changed beyond that; nothing for one."""
    told = []
    for name, words in (("change_q", "in the latest period"), ("change_12m_q", "in twelve months")):
        asked = rows[name].len() - rows[name].null_count() if name in rows.columns else 0
        if asked > 1:
            changed = int((rows[name] <= SURE).sum())
            told.append(
                f"{asked:,} {what} were screened at once for a change {words}: without any, about {SURE * asked:.1f} "
                f"would lie outside their own 95 % limits by chance. {changed:,} changed by q, which allows for that "
                f"({SURE} or less)."
            )
    return tuple(told)
