"""Episodes or failures of each month or quarter, with the distance that was run in it: every period, none left out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary import codes as vocabulary

__all__ = ["EVERY", "NO_KM", "OF", "PER_KM", "Periods", "asked_for", "in_period", "known_code", "period_of", "periods"]

OF = ("codes", "failures")
EVERY = {"month": 1, "quarter": 3}
PER_KM = 100_000
NO_KM = "No vehicle kept has a distance, so there is no rate."
_ALIKE = ("model", "duty", "depot")


@dataclass(frozen=True, slots=True)
class Periods:
    """What was counted in each period.

    `rows`: name (code or component; null where they aren't told apart), the keys, starts_on, ends_on (last day that
    counts), events, vehicles, km, carried_km; for each group all periods from the first with distance or event to the
    last. `noun` is what the events are: episodes or failures.
    """

    rows: pl.DataFrame
    noun: str
    months: int
    until: date | None

    @property
    def total(self) -> int:
        """All events."""
        return int(self.rows["events"].sum())

    @property
    def starts(self) -> list[date]:
        """The first days of the periods, in time."""
        return self.rows["starts_on"].unique().sort().to_list()

    @property
    def comparable(self) -> list[date]:
        """The same without those at the end in which nothing was run yet, as when the record ends on a first day."""
        run = self.rows.filter(pl.col("km") > 0).select("starts_on").unique()
        last = max(run["starts_on"].to_list(), default=date.min)
        return [start for start in self.starts if start <= last]

    @property
    def broken_off(self) -> date | None:
        """The last day of the record where it isn't the last of its period."""
        starts = self.starts
        if not starts or self.until is None:
            return None
        return self.until if self.until < _last_day(starts[-1], self.months) else None

    def label(self, start: date) -> str:
        """A period in words: 2026-03, or 2026 Q1."""
        return period_of(start, "month" if self.months == 1 else "quarter")


def periods(
    snapshot: Snapshot,
    of: str,
    every: str,
    *,
    codes: Sequence[str] = (),
    each: bool = False,
    by: Sequence[str] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Periods:
    """Code episodes or component failures by period; `each` code or component apart, and split `by` keys.

    An episode counts in the period in which it began, a failure in that of the job that confirmed it. Km are those of
    all vehicles kept, for failures of those that carry the component. Raises FleetlensError for a word outside OF and
    EVERY, for codes asked of failures, and for a code or filter value that the store doesn't know.
    """
    names = asked_for(snapshot, of, every, codes, filters)
    apart = {f"each_{name}": name in by for name in _ALIKE}
    bound = {"months": EVERY[every], "components": list(filters.component) or None, **apart, **filters.bound()}
    if of == "codes":
        events = snapshot.frame("findings/code_periods", names=names, each_name=each, **bound)
        km = snapshot.frame("findings/km_periods", **{key: bound[key] for key in bound if key != "components"})
    else:
        events = snapshot.frame("findings/failure_periods", each_name=each, **bound)
        km = snapshot.frame("findings/carrier_km_periods", each_name=each, **bound)
    until = evidence.period(snapshot).end
    return Periods(
        rows=_filled(events, km, EVERY[every], until),
        noun="episodes" if of == "codes" else "failures",
        months=EVERY[every],
        until=until,
    )


def period_of(day: date, every: str) -> str:
    """The month or quarter of a day in words: 2026-03, or 2026 Q1."""
    return f"{day:%Y-%m}" if every == "month" else f"{day:%Y} Q{(day.month + 2) // 3}"


def in_period(day: str, every: str) -> pl.Expr:
    """The same of a whole column of days, as the column period."""
    if every == "month":
        return pl.col(day).dt.strftime("%Y-%m").alias("period")
    return pl.format("{} Q{}", pl.col(day).dt.year(), pl.col(day).dt.quarter()).alias("period")


def asked_for(snapshot: Snapshot, of: str, every: str, codes: Sequence[str], filters: Filters) -> list[str] | None:
    """The codes asked for as the store spells them, None for all.

    Raises FleetlensError for a word outside OF and EVERY, for codes asked of failures, and for what the store doesn't
    know.
    """
    if of not in OF:
        raise FleetlensError(f"there are no trends of {of!r}", do=f"one of: {', '.join(OF)}")
    if every not in EVERY:
        raise FleetlensError(f"there is no trend by {every!r}", do=f"one of: {', '.join(EVERY)}")
    check(snapshot, filters)
    if codes and of == "failures":
        raise FleetlensError("failures are of components, not of codes", do="name components, or ask for codes")
    return [known_code(snapshot, code) for code in codes] or None


def known_code(snapshot: Snapshot, code: str) -> str:
    """The code as the store spells it. Raises FleetlensError for one that it has never seen."""
    normal = vocabulary.normalise(code)
    spelt = normal.code if normal else code
    known = snapshot.frame("findings/known_codes")["code"]
    if spelt not in known:
        raise FleetlensError(
            f"no job in this store logs the code {code!r}",
            do=f"one of those it does, such as {', '.join(known.head(5))}" if len(known) else "load codes first",
        )
    return spelt


def _filled(events: pl.DataFrame, km: pl.DataFrame, months: int, until: date | None) -> pl.DataFrame:
    """Events and km of every group in every period, 0 where there are none."""
    keys = [key for key in ("name", *_ALIKE) if key in km.columns]
    groups = pl.concat([events.select("name", *_ALIKE), _with_names(km, events).select("name", *_ALIKE)]).unique()
    seen = pl.concat([events["starts_on"], km.filter(pl.col("km") > 0)["starts_on"]])
    days = seen.unique().sort().to_list()
    starts = _starts(days[0], days[-1], months) if days else []
    ends = [min(_last_day(start, months), until) if until else None for start in starts]
    grid = pl.DataFrame({"starts_on": starts, "ends_on": ends}, schema={"starts_on": pl.Date, "ends_on": pl.Date})
    whole = groups.join(grid, how="cross")
    told = whole.join(events, on=["name", *_ALIKE, "starts_on"], how="left", nulls_equal=True)
    told = told.join(km, on=[*keys, "starts_on"], how="left", nulls_equal=True)
    return told.with_columns(pl.col("events", "vehicles").fill_null(0), pl.col("km", "carried_km").fill_null(0.0)).sort(
        "name", *_ALIKE, "starts_on", nulls_last=True
    )


def _with_names(km: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Km of all vehicles belong to each of the names."""
    if "name" in km.columns:
        return km
    return (
        km.join(events.select("name").unique(), how="cross")
        if events.height
        else km.with_columns(name=pl.lit(None, pl.String))
    )


def _starts(first: date, last: date, months: int) -> list[date]:
    """The first days of all periods from one to another."""
    numbers = range(first.year * 12 + first.month - 1, last.year * 12 + last.month, months)
    return [date(number // 12, number % 12 + 1, 1) for number in numbers]


def _last_day(start: date, months: int) -> date:
    """The last day of the period of so many months."""
    number = start.year * 12 + start.month - 1 + months
    return date(number // 12, number % 12 + 1, 1) - timedelta(1)
