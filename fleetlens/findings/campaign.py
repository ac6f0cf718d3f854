"""Whether a campaign changed the failure rate: treated vehicles before and after, against untreated ones then."""

from typing import Any

import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.treatments import CAMPAIGN, Treatment, around
from fleetlens.reliability.rates import poisson_interval, rate_ratio, ratio_of_ratios
from fleetlens.store.reader import Snapshot

__all__ = ["campaign", "campaign_failures", "campaign_vehicles"]

PER_KM = 100_000
SIDES = ("treated", "untreated")
PERIODS = ("before", "after")
RATIO = {"ratio": "", "low": "_low", "high": "_high"}
FEW = 10  # failures of the treated in both periods. Common practice, no source: with fewer nothing but a miracle shows.
MANY = 0.1  # of the treated, treated for a failure: then they were chosen by what is measured
AGAINST = "treated against untreated"

Counted = dict[str, dict[str, Any]]


def campaign(
    snapshot: Snapshot,
    component: str | None = None,
    treatment: Treatment = CAMPAIGN,
    *,
    days: int = 365,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Failures per 100,000 km before and after, of treated and untreated vehicles, and the ratio of the two changes.

    Rows: treated, untreated, and the one against the other, of which only the ratio is told. A vehicle counts for at
    most `days` days on each side of its day, and only if it was under observation on both; the untreated ones are cut
    on the common day, or else on the median day of the treated ones. Failures on the very day count on neither side.
    Ratios have exact limits. No rows where nothing was treated or nothing is left untreated. Raises FleetlensError for
    fewer than one day, and for names that the store doesn't know.

    Ratio: Przyborowski & Wilenski 1940; ratio of ratios: Cox & Snell 1989, section 2.3.
    """
    vehicles, failures, left_out = around(snapshot, component, treatment, days, filters)
    counts = _counts(vehicles)
    lacking = [side for side in SIDES if not counts[side]["vehicles"]]
    rows = _rows(counts).clear() if lacking else _rows(counts)
    on_the_day = failures.filter(pl.col("period") == "on the day").height
    _, excluded, assumed = evidence.exposure(snapshot, filters)
    outside, _ = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question="campaign check",
        rows=rows,
        method=(
            f"Treated: {treatment}. Confirmed failures per 100,000 km in up to {days:,} days before and after, exact "
            "95 % limits; after over before with exact conditional limits; and the treated ones' change over the "
            "untreated ones', exact given the totals."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            *(
                Count(f"{side}, under observation on both sides of the day", counts[side]["vehicles"], "vehicles")
                for side in SIDES
            ),
            Count("in the two periods", sum(counts[side][period] for side in SIDES for period in PERIODS), "failures"),
        ),
        excluded=(
            *left_out,
            *evidence.some(on_the_day, "on the very day, so neither before nor after", "failures"),
            *outside,
            *excluded,
        ),
        assumed=assumed,
        notes=_lacking(lacking, treatment) if lacking else (_verdict(rows), *_pitfalls(vehicles, failures, counts)),
        filters=filters.named(),
    )


def campaign_failures(
    snapshot: Snapshot,
    component: str | None = None,
    treatment: Treatment = CAMPAIGN,
    *,
    days: int = 365,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The failures that `campaign` counts, and those on the very day, each with its vehicle's side and period."""
    _, failures, left_out = around(snapshot, component, treatment, days, filters)
    return _behind(snapshot, "failures", failures, treatment, filters=filters, excluded=left_out)


def campaign_vehicles(
    snapshot: Snapshot,
    component: str | None = None,
    treatment: Treatment = CAMPAIGN,
    *,
    days: int = 365,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The vehicles that `campaign` counts, with their day, the distances on both sides of it, and their failures."""
    vehicles, _, left_out = around(snapshot, component, treatment, days, filters)
    return _behind(snapshot, "vehicles", vehicles, treatment, filters=filters, excluded=left_out)


def _behind(
    snapshot: Snapshot,
    what: str,
    rows: pl.DataFrame,
    treatment: Treatment,
    *,
    filters: Filters,
    excluded: tuple[Count, ...],
) -> Finding:
    return Finding(
        question=f"{what} around the campaign",
        rows=rows,
        method=f"Treated: {treatment}.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("around the day", rows.height, what),),
        excluded=excluded,
        filters=filters.named(),
    )


def _counts(vehicles: pl.DataFrame) -> Counted:
    """For each side its vehicles, and failures and km of each period."""
    found: Counted = {}
    for side in SIDES:
        mine = vehicles.filter(pl.col("side") == side)
        found[side] = {"vehicles": mine.height}
        for period in PERIODS:
            found[side] |= {
                period: int(mine[f"failures_{period}"].sum()),
                f"km_{period}": float(mine[f"km_{period}"].sum()),
            }
    return found


def _rows(counts: Counted) -> pl.DataFrame:
    """The two sides with their rates and ratio, and the ratio of the one to the other."""
    of = {name: [counts[side][name] for side in SIDES] for name in ("vehicles", *PERIODS, "km_before", "km_after")}
    rates = {period: poisson_interval(of[period], [km / PER_KM for km in of[f"km_{period}"]]) for period in PERIODS}
    ratios = rate_ratio(of["after"], of["km_after"], of["before"], of["km_before"])
    sides = pl.DataFrame(
        {
            "side": SIDES,
            "vehicles": of["vehicles"],
            **{f"rate_ratio{end}": ratios[name] for name, end in RATIO.items()},
            "p": ratios["p"],
            **{
                name: values
                for period in PERIODS
                for name, values in (
                    (f"failures_{period}", of[period]),
                    (f"km_{period}", of[f"km_{period}"]),
                    (f"rate_{period}", rates[period]["rate"]),
                    (f"rate_{period}_low", rates[period]["low"]),
                    (f"rate_{period}_high", rates[period]["high"]),
                )
            },
        }
    )
    mine, theirs = (counts[side] for side in SIDES)
    change = ratio_of_ratios(
        mine["after"],
        mine["before"],
        theirs["after"],
        theirs["before"],
        exposure_treated_after=mine["km_after"],
        exposure_treated_before=mine["km_before"],
        exposure_untreated_after=theirs["km_after"],
        exposure_untreated_before=theirs["km_before"],
    )
    against = change.select(
        pl.lit(AGAINST).alias("side"), *(pl.col(name).alias(f"rate_ratio{end}") for name, end in RATIO.items()), "p"
    )
    return pl.concat([sides, against], how="diagonal_relaxed")


def _lacking(sides: list[str], treatment: Treatment) -> tuple[str, ...]:
    """Why nothing can be compared."""
    return (
        f"There is no {' and no '.join(sides)} vehicle that was under observation on both sides of its day. "
        f"Treated: {treatment}.",
    )


def _verdict(rows: pl.DataFrame) -> str:
    """What the ratio of the changes says, in words."""
    row = rows.filter(pl.col("side") == AGAINST).row(0, named=True)
    ratio, low, high = row["rate_ratio"], row["rate_ratio_low"], row["rate_ratio_high"]
    if row["p"] is None:
        return "Too few failures to compare the changes."
    reach = f"95 % limits {low:.2f} to {high:.2f}" if high is not None else f"95 % limits from {low:.2f}, no upper one"
    told = (
        f"The treated vehicles' failure rate changed by the factor {ratio:.2f} beside the untreated ones' ({reach})"
        if ratio is not None
        else f"The treated vehicles' change beside the untreated ones' has no estimate ({reach})"
    )
    if high is not None and high < 1:
        return f"{told}: fewer failures than the untreated ones' change lets expect."
    if low > 1:
        return f"{told}: more failures than the untreated ones' change lets expect."
    return f"{told}: no change can be told from chance. That is no proof that there was none."


def _pitfalls(vehicles: pl.DataFrame, failures: pl.DataFrame, counts: Counted) -> list[str]:
    """What can make the comparison mislead, with the figures that tell how likely it is here."""
    treated, others = (vehicles.filter(pl.col("side") == side) for side in SIDES)
    hit, hit_others = ((side["failures_before"] > 0).sum() for side in (treated, others))
    on_the_day = failures.filter((pl.col("period") == "on the day") & (pl.col("side") == "treated"))
    told = [
        "Regression to the mean: vehicles treated because they had failed get better by themselves. "
        f"{hit:,} of {treated.height:,} treated vehicles had failed before their day, {hit_others:,} of "
        f"{others.height:,} untreated ones; {on_the_day['vehicle_id'].n_unique():,} were treated for a failure on the "
        "very day."
    ]
    if on_the_day["vehicle_id"].n_unique() > treated.height * MANY:
        told.append("So many were treated for a failure that the change can't be read as the treatment's doing.")
    days = treated["split_on"].unique().sort().to_list()
    if len(days) > 1:
        told.append(
            f"The treated vehicles' days run from {days[0]} to {days[-1]}; the untreated ones are all cut on "
            f"{others['split_on'][0]}. What else changed meanwhile falls on them unlike."
        )
    apart = [model for model in others["model"].unique().sort().to_list() if model not in set(treated["model"])]
    if apart:
        unlike = others.filter(pl.col("model").is_in(apart)).height
        told.append(
            f"{unlike:,} of {others.height:,} untreated vehicles are of models of which none was treated: set a filter "
            "by model to compare like with like."
        )
    short = treated.filter(pl.col("km_after") < pl.col("km_before") / 2).height
    if short:
        told.append(
            f"{short:,} treated vehicles ran less than half as far after their day as before: late failures are still "
            "to come."
        )
    told.append(
        "Same-period events: a new tool, workshop, fuel or duty that came with the campaign can't be told from it. Ask "
        "what else changed for these vehicles."
    )
    if counts["treated"]["before"] + counts["treated"]["after"] < FEW:
        told.append(
            f"Only {counts['treated']['before'] + counts['treated']['after']:,} failures of treated vehicles in both "
            "periods: the interval tells more than the figure."
        )
    return told
