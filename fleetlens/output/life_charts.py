"""Charts of how parts and vehicles fail: fates, probability plot, hazard, repeat failures, causes, drift."""

from collections.abc import Sequence
from math import log, log1p

import altair as alt
import polars as pl

from fleetlens.findings.finding import Finding
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
    shown,
    tip,
    tips,
    touch,
)
from fleetlens.output.groups import MOST_ROWS, grouped, thinned

__all__ = ["cause_shares", "cumulative_hazard", "drift", "fates", "mean_failures", "probability_plot"]

_SINCE = "Distance since the life began (km)"
_FAILED = (0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99, 0.999)
_LEAST = 0.0005  # lower points would stretch the plot for a failure or two


def fates(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Share of lives that met each fate by distance, with 95 % bands; a curve a group and fate.

    Raises FleetlensError for more curves than can be told apart.
    """
    return _curves(finding, [*by, "fate"], "share_ended", "Share of lives ended so", _SINCE, share=True)


def cumulative_hazard(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Cumulative hazard by distance with 95 % bands. Raises FleetlensError for too many groups."""
    return _curves(finding, by, "hazard", "Cumulative hazard (failures)", _SINCE)


def mean_failures(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Mean failures per vehicle by odometer with 95 % bands. Raises FleetlensError for too many groups."""
    return _curves(finding, by, "mean_events", "Mean failures per vehicle", "Odometer (km)", risk="vehicles_at_risk")


def probability_plot(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Share failed at each failure beside the fitted Weibull, on scales where a Weibull is a straight line.

    Raises FleetlensError for more groups than can be told apart.
    """
    rows = thinned(grouped(finding.rows, by).filter(pl.col("share_failed_by") > _LEAST)).with_columns(
        y=_stretched("share_failed_by"), line=_stretched("share_fitted")
    )
    ticks = [log(-log1p(-share)) for share in _FAILED]
    axis = alt.Axis(values=ticks, labelExpr="format(1 - exp(-exp(datum.value)), '.1~%')", labelOverlap=True)
    scale = alt.Scale(domain=[log(-log1p(-_LEAST)), log(-log1p(-_FAILED[-1]))], zero=False, clamp=True)
    base = alt.Chart(rows).encode(
        x=alt.X(
            "km:Q", title=_SINCE, scale=alt.Scale(type="log", nice=False), axis=alt.Axis(format=",.0f", tickCount=5)
        ),
        color=colour(rows, by, line=False),
    )
    line = base.mark_line(strokeWidth=1.5).encode(y=alt.Y("line:Q", title="Share failed", scale=scale, axis=axis))
    point = base.mark_point(filled=True, size=40, opacity=0.8).encode(
        y=alt.Y("y:Q", scale=scale, axis=axis),
        shape=marks(alt.Shape, rows, SHAPES, by, line=False),
        tooltip=[group_tip(by), tip("km", ",.0f"), *tips(".1%", "share_failed_by", "share_fitted")],
    )
    return finished(line.transform_filter("isValid(datum.line)"), point)


def cause_shares(finding: Finding, most: int = 20) -> alt.LayerChart:
    """Confirmed causes by their share with 95 % limits, most likely first; the `most` likeliest are drawn."""
    rows = finding.rows.head(most).select(
        pl.format("{} · {}", "component", "cause").alias("what"),
        "jobs",
        share="share_of_causes",
        low="share_of_causes_low",
        high="share_of_causes_high",
    )
    axis = alt.Axis(labelFlush=False, labelLimit=260)
    base = alt.Chart(rows).encode(y=alt.Y("what:N", title="Confirmed cause", sort=rows["what"].to_list(), axis=axis))
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(
        x=alt.X("low:Q", title="Share of confirmed causes", scale=alt.Scale(zero=True), axis=percent()), x2="high:Q"
    )
    point = base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]).encode(
        x="share:Q",
        tooltip=[
            tip("what", name="Confirmed cause"),
            *(tip("share", ".1%", "Share of causes"), *tips(".1%", "low", "high"), tip("jobs", ",")),
        ],
    )
    return finished(reach.transform_filter(HAS_LIMITS), point, height=alt.Step(22))


def drift(finding: Finding, points: pl.DataFrame) -> alt.LayerChart:
    """One measurement before failures: its values, the median and quartiles of each stretch, and the job's limits.

    `finding` has the stretches of one check, `points` the single measurements. The failure stands at the right end.
    """
    rows = finding.rows
    unit = rows["unit"][0]
    name = f"{rows['check'][0]} ({unit})" if unit else rows["check"][0]
    far = float(rows["stretch_to_km"].max() or 1.0)  # type: ignore[arg-type]
    x = alt.X(
        "before_km:Q",
        title="Distance left to the failure (km)",
        scale=alt.Scale(domain=[far, 0], nice=False),
        axis=alt.Axis(format=",.0f"),
    )
    y = alt.Y("value_median:Q", title=name, scale=alt.Scale(zero=False))
    told = [tip("before_km", ",.0f"), *tips(",.4~g", "value_median", "value_25", "value_75"), *tips(",", "measured")]
    middle = alt.Chart(rows.select(pl.exclude("component", "unit"))).encode(x=x)
    band = middle.mark_area(opacity=0.25, color=PALETTE[0]).encode(y=alt.Y("value_25:Q", title=name), y2="value_75:Q")
    line = middle.mark_line(color=PALETTE[0], point=True, strokeWidth=2.5).encode(y=y, tooltip=told)
    few = points.sample(MOST_ROWS, seed=1) if points.height > MOST_ROWS else points
    single = (
        alt.Chart(few.select("before_km", "value", "job_id"))
        .mark_point(size=22, opacity=0.45, color=PALETTE[1])
        .encode(
            x=x,
            y=alt.Y("value:Q", title=name),
            tooltip=[tip("before_km", ",.0f"), tip("value", ",.4~g"), tip("job_id")],
        )
    )
    ends = pl.DataFrame({"limit": [rows["limit_low"].min(), rows["limit_high"].max()]}, schema={"limit": pl.Float64})
    limit = (
        alt.Chart(ends.drop_nulls())
        .mark_rule(strokeDash=[6, 4], color=PALETTE[2], strokeWidth=2)
        .encode(y=alt.Y("limit:Q", title=name), tooltip=[tip("limit", ",.4~g", "Limit of the jobs")])
    )
    return finished(single, band, line, limit)


def _curves(
    finding: Finding,
    by: Sequence[str],
    figure: str,
    title: str,
    across: str,
    *,
    share: bool = False,
    risk: str = "at_risk",
) -> alt.LayerChart:
    """Steps of `figure` with their band, one a group."""
    rows = thinned(grouped(finding.rows, by)).with_columns(shown(risk))
    number = ".1%" if share else ",.3~r"
    scale = alt.Scale(domain=[0, 1]) if share else alt.Scale(zero=True)
    base = alt.Chart(rows).encode(x=alt.X("km:Q", title=across, axis=alt.Axis(format=",.0f")), color=colour(rows, by))
    faint = min(0.2, 0.4 / max(rows["group"].n_unique(), 1))  # many bands over each other would hide the lines
    axis = percent() if share else alt.Axis()
    band = base.mark_area(interpolate="step-after", opacity=faint).encode(
        y=alt.Y("low:Q", title=title, scale=scale, axis=axis), y2="high:Q"
    )
    line = base.mark_line(interpolate="step-after", point=touch()).encode(
        y=f"{figure}:Q",
        strokeDash=marks(alt.StrokeDash, rows, DASHES, by),
        tooltip=[group_tip(by), tip("km", ",.0f"), *tips(number, figure, "low", "high"), tip(risk)],
    )
    return finished(band.transform_filter(HAS_LIMITS), line)


def _stretched(name: str) -> pl.Expr:
    """ln(-ln(1 - share)), on which a Weibull is a straight line; null at 0 and 1, and beyond what is drawn."""
    share = pl.col(name)
    least, most = log(-log1p(-_LEAST)), log(-log1p(-_FAILED[-1]))
    placed = (-(1 - share).log()).log()
    return pl.when((share > 0) & (share < 1) & placed.is_between(least, most)).then(placed)
