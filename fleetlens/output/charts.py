"""Charts of findings: a finding in, an Altair chart out. No figure is computed here."""

from collections.abc import Sequence

import altair as alt
import polars as pl

from fleetlens.findings.finding import Finding
from fleetlens.output.descriptions import describe
from fleetlens.output.drawing import (
    DASHES,
    HAS_LIMITS,
    PALETTE,
    SHAPES,
    colour,
    finished,
    group_tip,
    marks,
    percent,
    ranked,
    shown,
    tip,
    tips,
    touch,
)
from fleetlens.output.flat import heading
from fleetlens.output.groups import grouped, least_cost, thinned

__all__ = ["comeback_shares", "cost_curve", "describe", "failures", "quality", "rates", "survival"]

SHARE_DAYS = (30, 60, 90)


def rates(finding: Finding, most: int = 25) -> alt.LayerChart:
    """Recurring codes by episodes per 100,000 km, highest first, with intervals; the `most` highest are drawn."""
    rows = finding.rows.rename({"rate_per_100k_km": "rate", "rate_low": "low", "rate_high": "high"})
    return ranked(rows, "code", "Episodes per 100,000 km", ("description", "episodes", "vehicles"), most)


def failures(finding: Finding, most: int = 25) -> alt.LayerChart:
    """Failing components by failures per 100,000 km, highest first, with intervals; the `most` highest are drawn."""
    rows = finding.rows.rename({"per_100k_km": "rate"})
    return ranked(rows, "component", "Failures per 100,000 km", ("failures", "vehicles"), most)


def survival(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Survival curves with their 95 % band, one a group of the columns `by`, from the finding of the curve's steps.

    Raises FleetlensError for more groups than can be told apart.
    """
    rows = thinned(grouped(finding.rows, by)).with_columns(shown("at_risk"))
    base = alt.Chart(rows).encode(
        x=alt.X("km:Q", title="Distance since the life began (km)", axis=alt.Axis(format=",.0f")),
        color=colour(rows, by),
    )
    faint = min(0.2, 0.4 / max(rows["group"].n_unique(), 1))  # many bands over each other would hide the lines
    band = base.mark_area(interpolate="step-after", opacity=faint).encode(
        y=alt.Y("low:Q", title="Share surviving", scale=alt.Scale(domain=[0, 1]), axis=percent()), y2="high:Q"
    )
    line = base.mark_line(interpolate="step-after", point=touch()).encode(
        y=alt.Y("share:Q"),
        strokeDash=marks(alt.StrokeDash, rows, DASHES, by),
        tooltip=[group_tip(by), tip("km", ",.0f"), *tips(".1%", "share", "low", "high"), tip("at_risk")],
    )
    return finished(band, line)


def comeback_shares(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """The share of repairs that came back by 30, 60 and 90 days, with intervals, side by side for each group.

    Raises FleetlensError for more groups than can be told apart.
    """
    wide = grouped(finding.rows, by)
    rows = pl.concat(
        wide.select(
            *("group", "repairs", "comebacks", pl.lit(f"{days} days").alias("days")),
            *(
                pl.col(f"share_{days}d{end}").alias(name)
                for end, name in (("", "share"), ("_low", "low"), ("_high", "high"))
            ),
        )
        for days in SHARE_DAYS
    ).filter(pl.col("share").is_not_null())
    base = alt.Chart(rows).encode(
        x=alt.X(
            "days:O",
            title="Days since the repair",
            scale=alt.Scale(domain=[f"{days} days" for days in SHARE_DAYS]),
            axis=alt.Axis(labelAngle=0),
        ),
        xOffset=alt.XOffset("group:N"),
        color=colour(wide, by, line=False),
    )
    reach = base.mark_rule(strokeWidth=2).encode(
        y=alt.Y("low:Q", title="Share of repairs that came back", scale=alt.Scale(zero=True), axis=percent()),
        y2="high:Q",
    )
    point = base.mark_point(filled=True, size=80, opacity=1).encode(
        y="share:Q",
        shape=marks(alt.Shape, wide, SHAPES, by, line=False),
        tooltip=[
            *(group_tip(by), tip("days", name="Days since the repair")),
            *(tip("share", ".1%", "Share that came back"), *tips(".1%", "low", "high")),
            *tips("", "repairs", "comebacks"),
        ],
    )
    return finished(reach.transform_filter(HAS_LIMITS), point)


def cost_curve(finding: Finding, by: Sequence[str] = (), *, currency: str = "currency") -> alt.LayerChart:
    """Long-run cost against the cleaning interval, one curve a group; a dot marks the least cost where a curve has one.

    A curve that is lowest at its end has no dot: within what is drawn, no interval beats running on.
    Raises FleetlensError for more groups than can be told apart.
    """
    whole = grouped(finding.rows, by).filter(pl.col("cost_per_1000km").is_not_null())
    x = alt.X("km:Q", title="Cleaning interval (km)", axis=alt.Axis(format=",.0f"))
    y = alt.Y("cost_per_1000km:Q", title=f"Cost ({currency} per 1,000 km)", scale=alt.Scale(zero=False))
    told = [group_tip(by), tip("km", ",.0f", "Cleaning interval (km)"), tip("cost_per_1000km", ",.2f")]
    shared = {"x": x, "y": y, "color": colour(whole, by), "tooltip": told}
    line = (
        alt.Chart(thinned(whole))
        .mark_line(point=touch())
        .encode(strokeDash=marks(alt.StrokeDash, whole, DASHES, by), **shared)
    )
    dot = alt.Chart(least_cost(whole)).mark_point(filled=True, size=120, opacity=1).encode(**shared)
    return finished(line, dot)


def quality(finding: Finding) -> alt.LayerChart:
    """The share of rows refused, load after load; a load without rows has no point."""
    rows = finding.rows.filter(pl.col("share_refused").is_not_null())
    base = alt.Chart(rows).encode(
        x=alt.X("load_id:O", title="Load", axis=alt.Axis(labelAngle=0, labelOverlap=True)),
        y=alt.Y("share_refused:Q", title="Share of rows refused", scale=alt.Scale(zero=True), axis=percent()),
        tooltip=[
            *(tip("load_id"), alt.Tooltip("loaded_at:T", title=heading("loaded_at"), format="%Y-%m-%d %H:%M")),
            *(tip("share_refused", ".2%"), *tips(",", "refused", "rows_in")),
        ],
    )
    return finished(
        base.mark_line(color=PALETTE[0]), base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]), height=260
    )
