"""The fleet at a glance: how much was observed, which components fail, and how well the record was kept."""

from dataclasses import dataclass

import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding, Period
from fleetlens.reliability.rates import poisson_interval
from fleetlens.store.reader import Snapshot

__all__ = ["FleetOverview", "failing_components", "loads", "overview", "quality", "refused", "set_aside"]

PER_KM = 100_000
KINDS = ("unit", "tenths", "filler", "typo", "unsettled", "corrected")  # of readings that aren't used as read


@dataclass(frozen=True, slots=True)
class FleetOverview:
    """Counts of the vehicles kept; `km` is null where no vehicle has a distance."""

    vehicles: int
    jobs: int
    fault_jobs: int
    km: float | None
    period: Period
    components: Finding


def overview(snapshot: Snapshot, filters: Filters = Filters()) -> FleetOverview:  # noqa: B008 - frozen
    """Vehicles, observed jobs and distance, and the components by failures."""
    check(snapshot, filters)
    jobs = evidence.one_row(snapshot, "findings/job_counts", **filters.bound())
    distance = evidence.one_row(snapshot, "findings/exposure", **filters.bound())
    return FleetOverview(
        vehicles=distance["vehicles"],
        jobs=jobs["jobs"],
        fault_jobs=jobs["fault_jobs"],
        km=distance["km"],
        period=evidence.period(snapshot),
        components=failing_components(snapshot, filters),
    )


def failing_components(snapshot: Snapshot, filters: Filters = Filters()) -> Finding:  # noqa: B008 - frozen
    """Components by confirmed failures under observation, per 100,000 km of the vehicles that carry them."""
    bound = {"components": list(filters.component) or None, **filters.bound()}
    carried = snapshot.frame("findings/component_failures", **bound)
    failed = carried.filter(pl.col("failures") > 0)
    rows = failed.sort(["failures", "component"], descending=[True, False]).with_columns(pl.col("km").fill_null(0.0))
    rate = poisson_interval(rows["failures"].to_numpy(), rows["km"].to_numpy() / PER_KM)
    rows = rows.select("component", "failures", "vehicles", "km").with_columns(
        per_100k_km=rate["rate"], low=rate["low"], high=rate["high"]
    )
    _, excluded, assumed = evidence.exposure(snapshot, filters)
    outside = evidence.some(int(carried["outside"].sum()), "outside the vehicle's record", "failures")
    return Finding(
        question="failing components",
        rows=rows,
        method=(
            "Confirmed failures per 100,000 km driven under observation by the vehicles that carry the component, "
            "exact 95 % Poisson interval (Garwood 1936)."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("confirmed", int(rows["failures"].sum()), "failures"),),
        excluded=outside + excluded,
        assumed=assumed,
        filters=filters.named(),
    )


def loads(snapshot: Snapshot) -> Finding:
    """Every file that was loaded, newest first, with its row counts."""
    rows = snapshot.frame("findings/loads")
    return _kept(snapshot, "loads", rows, "Rows in = accepted + repeated + refused, for every file.", "files")


def quality(snapshot: Snapshot) -> Finding:
    """The share of rows refused in each load, in the order of the loads."""
    rows = snapshot.frame("findings/load_quality")
    method = "Rows refused, of the rows that came with the load. A refused row broke at least one rule."
    return _kept(snapshot, "data quality by load", rows, method, "loads")


def refused(snapshot: Snapshot) -> Finding:
    """The refused rows, one row a rule broken, with the reason."""
    rows = snapshot.frame("findings/refused")
    return _kept(snapshot, "refused rows", rows, "One row is a rule that a refused row broke.", "broken rules")


def set_aside(snapshot: Snapshot) -> Finding:
    """The odometer readings that contradict the ones around them, with their neighbours and what was made of each."""
    rows = snapshot.frame("findings/set_aside")
    counts = evidence.one_row(snapshot, "findings/reading_counts", **Filters().bound())
    every = counts["readings"]
    kinds = [f"{kind} {counts[kind]:,} ({100 * counts[kind] / every:.2g} %)" for kind in KINDS if counts[kind]]
    method = (
        f"{sum(counts[kind] for kind in KINDS):,} of {every:,} readings contradict those around them"
        f"{': ' if kinds else ''}{', '.join(kinds)}. {counts['set_aside']:,} are set aside, on {counts['vehicles']:,} "
        "vehicles. Used are as many readings as can be true together: that never fall, and never run more than "
        "2,000 km a day. An odometer that starts anew, for at least 3 readings over at least 30 days, runs on from the "
        f"one before ({counts['run_on']:,} vehicles). A contradiction accuses nobody."
    )
    return _kept(snapshot, "odometer readings set aside", rows, method, "readings")


def _kept(snapshot: Snapshot, question: str, rows: pl.DataFrame, method: str, what: str) -> Finding:
    return Finding(
        question=question,
        rows=rows,
        method=method,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("kept in the store", rows.height, what),),
    )
