"""Is it getting worse, and where: rates of code episodes and failures by period, their change, and groups by chance."""

from collections.abc import Sequence

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import changes, evidence, funnels, trend_notes
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.periods import NO_KM, PER_KM, Periods, asked_for, in_period, periods
from fleetlens.reliability.control import funnel_rate, overdispersion, u_chart
from fleetlens.reliability.rates import poisson_interval
from fleetlens.reliability.shrinkage import gamma_poisson
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary import codes as vocabulary

__all__ = ["TREND_KEYS", "changed_rates", "rates_by_group", "rates_by_period", "trend_rows"]

TREND_KEYS = ("model", "duty", "depot")


def rates_by_period(
    snapshot: Snapshot,
    of: str = "codes",
    every: str = "month",
    *,
    codes: Sequence[str] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Episodes (or failures) per 100,000 km of each period, with control limits around what all periods share.

    All codes (components) together, or those named. The rate has its exact Poisson interval; centre_per_100k_km is the
    rate of the whole record, control_low and control_high the limits of three standard deviations for the km of the
    period; signal: above, below or within them. Raises FleetlensError as `periods` does. Garwood 1936, Biometrika 28,
    437-442; Shewhart 1931.
    """
    counted = periods(snapshot, of, every, codes=codes, filters=filters)
    table = counted.rows
    events, per = table["events"].to_numpy(), table["km"].to_numpy() / PER_KM
    rate, chart = poisson_interval(events, per), u_chart(events, per)
    rows = pl.DataFrame(
        {
            "period": table.select(in_period("starts_on", every)).to_series(),
            "starts_on": table["starts_on"],
            "ends_on": table["ends_on"],
            counted.noun: table["events"],
            "vehicles": table["vehicles"],
            "km": table["km"],
            "rate_per_100k_km": rate["rate"],
            "rate_low": rate["low"],
            "rate_high": rate["high"],
            "centre_per_100k_km": chart["centre"],
            "control_low": chart["low"],
            "control_high": chart["high"],
        }
    ).with_columns(signal=pl.when(rate["rate"].is_not_null()).then(chart["signal"].fill_null("within")))
    name, began = _named(of, codes, filters), "began" if of == "codes" else "were confirmed"
    return _finding(
        snapshot,
        f"trend of {name} by {every}",
        rows,
        events=counted.total,
        noun=counted.noun,
        method=f"{counted.noun.capitalize()} of {name} by the {every} in which they {began}, per 100,000 km that "
        f"{_whose(of)} ran under observation in it, with exact 95 % Poisson intervals (Garwood 1936). Limits: the "
        "centre and three standard deviations of a count over the km of the period (u-chart, Shewhart 1931).",
        notes=(
            *trend_notes.about_change(counted),
            *trend_notes.about_chart(rows, counted),
            *trend_notes.about_end(counted),
        ),
        filters=filters,
    )


def changed_rates(
    snapshot: Snapshot,
    of: str = "codes",
    every: str = "month",
    *,
    codes: Sequence[str] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """For each code (component): its rate, and how it changed in the last period and in the last twelve months.

    latest and earlier are the events of the two periods, change their rate ratio with exact conditional limits and q
    the false discovery rate over all that were screened; the columns with 12m compare the last twelve months with the
    twelve before, null where the record is shorter. shrunken_rate borrows from what all codes (components) show of
    their spread. Those that changed most surely stand first. Przyborowski & Wilenski 1940; Benjamini & Hochberg 1995.
    """
    counted = periods(snapshot, of, every, codes=codes, each=True, filters=filters)
    key = "code" if of == "codes" else "component"
    table = counted.rows.filter(pl.col("events").sum().over("name") > 0).rename({"name": key})
    whole = table.group_by(key).agg(pl.col("events", "km").sum()).sort(key)
    short, long = changes.latest(counted), changes.year(counted)
    rows = (
        whole.select(key, pl.col("events").alias(counted.noun))
        .join(changes.change(table, long, [key], "_12m"), on=key, maintain_order="left")
        .join(changes.change(table, short, [key]), on=key, maintain_order="left")
        .join(_rates(whole, counted).drop(counted.noun), on=key, maintain_order="left")
        .sort("change_12m_q", "change_q", key, nulls_last=True)
    )
    if of == "codes":
        told = rows["code"].map_elements(vocabulary.description, return_dtype=pl.String, skip_nulls=True)
        rows.insert_column(1, told.alias("description"))
    what = "codes" if of == "codes" else "components"
    compared = [span.words for span in (short, long) if span]
    return _finding(
        snapshot,
        f"change of {what}",
        rows,
        events=counted.total,
        noun=counted.noun,
        method=f"{counted.noun.capitalize()} per 100,000 km that {_whose(of)} ran under observation. Change: ratio of "
        f"the rates {' and '.join(compared) or 'of two periods'}, exact conditional 95 % limits; q: false discovery "
        f"rate (Benjamini and Hochberg 1995). Shrunken rate: drawn towards what all {what} share, the more the fewer "
        "the events (gamma-Poisson).",
        notes=(
            *changes.screened(rows, what),
            *(() if long else trend_notes.about_length(counted)),
            *trend_notes.about_end(counted),
        ),
        filters=filters,
    )


def rates_by_group(
    snapshot: Snapshot,
    of: str = "codes",
    by: Sequence[str] = ("depot",),
    *,
    codes: Sequence[str] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The rate of each group of vehicles against that of all, and whether it lies outside what chance gives its km.

    Groups in the order of their names, not of their rates: no ranks. rate_of_all is theirs together; chance_low_95 to
    chance_high_998 are the exact Poisson limits around it for the group's km; standing says where the group lies.
    shrunken_rate is drawn towards the others' rate, the more the fewer its km. Raises FleetlensError as `periods` does,
    for a key outside TREND_KEYS, and without a key. Spiegelhalter 2005, Statistics in Medicine 24, 1185-1202.
    """
    keys = chosen(by, TREND_KEYS)
    if not keys:
        raise FleetlensError("there is nothing to compare", do=f"split by one or more of: {', '.join(TREND_KEYS)}")
    counted = periods(snapshot, of, "quarter", codes=codes, by=keys, filters=filters)
    whole = counted.rows.group_by(keys).agg(pl.col("events", "km").sum()).sort(keys, nulls_last=True)
    events, per = whole["events"].to_numpy(), whole["km"].to_numpy() / PER_KM
    funnel = funnel_rate(events, per, tuple(funnels.LEVELS))
    expected = funnel["target"] * whole["km"] / PER_KM
    rows = _rates(whole, counted).with_columns(
        rate_of_all=funnel["target"],
        **{f"chance_{limit}": funnel[limit] for limit in ("low_95", "high_95", "low_998", "high_998")},
        standing=funnels.standing(funnel, "rate", expected),
    )
    name = _named(of, codes, filters)
    return _finding(
        snapshot,
        f"{name} by {', '.join(keys)}",
        rows,
        events=counted.total,
        noun=counted.noun,
        method=f"{counted.noun.capitalize()} of {name} per 100,000 km that {_whose(of)} ran under observation, over "
        "the whole record, against the rate of all groups, with exact Poisson limits for the km of the group (funnel). "
        "Shrunken rate: drawn towards what all groups share, the more the fewer the events (gamma-Poisson).",
        notes=funnels.spread(overdispersion(events, per), whole.filter(pl.col("km") > 0).height),
        filters=filters,
    )


def trend_rows(
    snapshot: Snapshot,
    of: str = "codes",
    every: str = "month",
    *,
    codes: Sequence[str] = (),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The episodes (each with the job at which it began) or the failures behind the rates, with their period."""
    names = asked_for(snapshot, of, every, codes, filters)
    bound = {"components": list(filters.component) or None, **filters.bound()}
    if of == "codes":
        rows = snapshot.frame("findings/episode_rows", names=names, **bound)
        noun, method = "episodes", "One row is an episode of a code, with the job at which it began."
    else:
        rows = snapshot.frame("findings/failure_rows", **bound)
        noun, method = "failures", "One row is a confirmed failure of a part, with its job."
    rows = rows.with_columns(in_period("opened_on", every))
    question = f"{noun} behind the trends"
    return _finding(snapshot, question, rows, events=rows.height, noun=noun, method=method, filters=filters)


def _rates(whole: pl.DataFrame, counted: Periods) -> pl.DataFrame:
    """Rate and shrunken rate of each group, with limits."""
    events, per = whole["events"].to_numpy(), whole["km"].to_numpy() / PER_KM
    rate, shrunken = poisson_interval(events, per), gamma_poisson(events, per).rows
    return whole.rename({"events": counted.noun}).with_columns(
        rate_per_100k_km=rate["rate"],
        rate_low=rate["low"],
        rate_high=rate["high"],
        shrunken_rate=shrunken["rate"],
        shrunken_rate_low=shrunken["low"],
        shrunken_rate_high=shrunken["high"],
    )


def _finding(
    snapshot: Snapshot,
    question: str,
    rows: pl.DataFrame,
    *,
    events: int,
    noun: str,
    method: str,
    notes: tuple[str, ...] = (),
    filters: Filters,
) -> Finding:
    km, excluded, assumed = evidence.exposure(snapshot, filters)
    outside, reasonless = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=question,
        rows=rows,
        method=method,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("under observation", events, noun),),
        excluded=outside + excluded,
        assumed=assumed + reasonless,
        notes=notes if km else (*notes, NO_KM),
        filters=filters.named(),
    )


def _named(of: str, codes: Sequence[str], filters: Filters) -> str:
    """What the rates are of, in words."""
    if of == "failures":
        return ", ".join(filters.component) or "all components"
    return ", ".join(codes) or "all codes"


def _whose(of: str) -> str:
    return "the vehicles" if of == "codes" else "the vehicles that carry the component"
