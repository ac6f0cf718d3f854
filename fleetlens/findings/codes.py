"""Which fault codes keep coming back, on how many vehicles, and how often for the distance driven."""

import numpy as np
import polars as pl

from fleetlens.findings import changes, evidence, trend_notes
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.periods import NO_KM, PER_KM, periods
from fleetlens.reliability.rates import poisson_interval
from fleetlens.reliability.shrinkage import gamma_poisson
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary import codes as vocabulary

__all__ = ["code_rows", "recurring_codes"]


def recurring_codes(snapshot: Snapshot, filters: Filters = Filters()) -> Finding:  # noqa: B008 - frozen
    """Codes by episodes, with the rate per 100,000 km and its exact 95 % Poisson interval.

    `km` is what all kept vehicles ran under observation, also those that never showed the code. An episode is one
    fault: events of a code on a vehicle with no job between them that logged the code and repaired something.
    shrunken_rate is drawn towards what all codes share of their spread. change is the rate ratio of the last twelve
    months against the twelve before (or of two equal spans, as long as the record allows), with exact limits; q is its
    false discovery rate over all codes. Raises FleetlensError for a filter value that the store doesn't know. Source of
    the interval: Garwood 1936, Biometrika 28, 437-442.
    """
    check(snapshot, filters)
    km, excluded, assumed = evidence.exposure(snapshot, filters)
    outside, _ = evidence.jobs_left_out(snapshot, filters)
    found = snapshot.frame("findings/recurring_codes", components=list(filters.component) or None, **filters.bound())
    rows = found.select(
        "code",
        pl.col("code")
        .map_elements(vocabulary.description, return_dtype=pl.String, skip_nulls=True)
        .alias("description"),
        "events",
        "episodes",
        "vehicles",
        pl.lit(km, dtype=pl.Float64).alias("km"),
    )
    counted = periods(snapshot, "codes", "month", each=True, filters=filters)
    span = changes.year(counted, shorter=True)
    trend = changes.change(counted.rows.rename({"name": "code"}), span, ["code"])
    events, per = found["episodes"].to_numpy(), np.full(found.height, (km or 0.0) / PER_KM)
    rate, shrunken = poisson_interval(events, per), gamma_poisson(events, per).rows
    rows = rows.with_columns(
        rate_per_100k_km=rate["rate"],
        rate_low=rate["low"],
        rate_high=rate["high"],
        shrunken_rate=shrunken["rate"],
        shrunken_rate_low=shrunken["low"],
        shrunken_rate_high=shrunken["high"],
    ).join(trend, on="code", how="left", maintain_order="left")
    return Finding(
        question="recurring codes",
        rows=rows,
        method=(
            "Episodes per 100,000 km driven under observation, exact 95 % Poisson interval (Garwood 1936). "
            "One event is a "
            "vehicle, a job and a code; an episode ends with a job that logged the code and held a repairing action. "
            "Shrunken rate: drawn towards what all codes share, the more the fewer the episodes (gamma-Poisson). "
            f"Change: ratio of the rates {span.words if span else 'of two periods'}, exact conditional 95 % limits; q: "
            "false discovery rate (Benjamini and Hochberg 1995)."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("with at least one observed code", rows.height, "codes"),),
        excluded=outside + excluded,
        assumed=assumed + evidence.text_rows(snapshot),
        notes=(*changes.screened(rows, "codes"), *trend_notes.about_end(counted)) if km else (NO_KM,),
        filters=filters.named(),
    )


def code_rows(snapshot: Snapshot, code: str, filters: Filters = Filters()) -> Finding:  # noqa: B008 - frozen
    """The events of one code, each with its vehicle, job and episode."""
    check(snapshot, filters)
    known = vocabulary.normalise(code)
    rows = snapshot.frame("findings/code_rows", code=known.code if known else code, **filters.bound())
    outside, _ = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=f"events of {code}",
        rows=rows,
        method="One row is a vehicle and an observed job at which the code was read.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("observed", rows.height, "events"),),
        excluded=outside,
        filters=filters.named(),
    )
