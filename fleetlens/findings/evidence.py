"""What every answer tells of its record: the period, the distance behind it, and what was left out."""

from datetime import date
from typing import Any

import polars as pl

from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Period
from fleetlens.store.reader import Snapshot


def period(snapshot: Snapshot) -> Period:
    """From the first dated row of the record to its as-of date."""
    row = snapshot.frame("findings/record_end").row(0, named=True)
    start: date | None = row["started_on"]
    end: date | None = row["as_of"]
    return Period(start, end)


def one_row(snapshot: Snapshot, query: str, **values: Any) -> dict[str, Any]:
    """The only row of a query that yields one."""
    return snapshot.frame(query, **values).row(0, named=True)


def exposure(snapshot: Snapshot, filters: Filters) -> tuple[float | None, tuple[Count, ...], tuple[str, ...]]:
    """Kilometres under observation of the vehicles kept, what they leave out, and what they assume."""
    row = one_row(snapshot, "findings/exposure", **filters.bound())
    excluded = some(row["without_km"], "no usable odometer reading, so no distance", "vehicles")
    assumed = [*readings(snapshot, filters)]
    if row["without_start_km"]:
        assumed.append(
            f"{row['without_start_km']:,} vehicles have no odometer for the day they went into service; 0 km is taken."
        )
    if row["km"] and row["carried_km"] >= 1:
        assumed.append(
            f"{row['carried_km']:,.0f} of {row['km']:,.0f} km lie beyond the vehicles' last readings "
            "and are carried on at each one's own recent rate."
        )
    return row["km"], excluded, tuple(assumed)


def readings(snapshot: Snapshot, filters: Filters) -> tuple[str, ...]:
    """How many odometer readings of the vehicles kept are used, and how; nothing where there are none."""
    row = one_row(snapshot, "findings/reading_counts", **filters.bound())
    if not row["readings"]:
        return ()
    parts = []
    if row["set_aside"]:
        parts.append(f"{row['set_aside']:,} of {row['readings']:,} odometer readings set aside")
    if row["corrected"]:
        parts.append(f"{row['corrected']:,} of {row['readings']:,} used as corrected")
    if row["run_on"]:
        parts.append(f"{row['run_on']:,} vehicles run on after their odometer started anew")
    told = "; ".join(parts) or f"all {row['readings']:,} odometer readings are used as read"
    return (f"{told[0].upper()}{told[1:]}.",)


def jobs_left_out(snapshot: Snapshot, filters: Filters) -> tuple[tuple[Count, ...], tuple[str, ...]]:
    """Jobs outside their vehicle's observed time; jobs that don't say why the vehicle came, and rows from free text."""
    jobs = one_row(snapshot, "findings/job_counts", **filters.bound())
    reasonless = one_row(snapshot, "findings/reasonless_jobs", **filters.bound())["jobs"]
    told = [f"{reasonless:,} jobs say no reason and count as no fault job."] if reasonless else []
    assumed = (*told, *text_rows(snapshot))
    excluded = some(jobs["outside"], "before the vehicle's complete record or after it left the fleet", "jobs")
    copies = some(
        jobs["copies"], "repeat another job of the same vehicle, day, odometer, work, complaint and cost", "jobs"
    )
    return excluded + copies, assumed


def text_rows(snapshot: Snapshot) -> tuple[str, ...]:
    """What is said of rows that were read from free text, where there are any."""
    told = [
        f"{row['from_text']:,} of {row['rows']:,} rows of {row['table_name']}"
        for row in snapshot.from_text().iter_rows(named=True)
        if row["from_text"]
    ]
    if not told:
        return ()
    return (
        f"{' and '.join(told)} were read from free text" + ("." if snapshot.text else " and are left out, as asked."),
    )


def some(count: int, reason: str, what: str) -> tuple[Count, ...]:
    """The count as a tuple, empty for none."""
    return (Count(reason, count, what),) if count else ()


def numbered(rows: pl.DataFrame, keys: list[str]) -> tuple[pl.DataFrame, pl.Series]:
    """The groups of `rows` by `keys`, sorted with nulls last, and the number of its group for each row."""
    groups = rows.select(keys).unique().sort(keys, nulls_last=True).with_row_index("group")
    place = rows.select(keys).join(groups, on=keys, how="left", nulls_equal=True, maintain_order="left")
    return groups.drop("group"), place["group"].cast(pl.Int64)
