"""Charts of findings: a finding in, an Altair chart out. No figure is computed here.

Each group has a colour and a second mark of its own (dash or shape), so that nobody depends on colour. Text and
grid take the page's colours: nothing is drawn in black or white, and the background is transparent.
"""

from collections.abc import Sequence
from typing import Any

import altair as alt
import polars as pl

from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.finding import Finding
from fleetlens.output.descriptions import describe
from fleetlens.output.flat import heading
from fleetlens.output.groups import grouped, least_cost, thinned, title
from fleetlens.output.words import UNKNOWN

__all__ = ["comeback_shares", "cost_curve", "describe", "failures", "quality", "rates", "survival"]

# Okabe and Ito 2008, "Color universal design", values from memory; their black and yellow are left out, for they
# vanish on a dark or a light page.
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [12, 4])  # five and six: thirty pairs before one comes again
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
SHARE_DAYS = (30, 60, 90)
COLUMNS_OF_LEGEND = alt.ExprRef("width > 600 ? 3 : 1")  # three names don't fit a telephone
HAS_LIMITS = "isValid(datum.low) && isValid(datum.high)"


def rates(finding: Finding, most: int = 25) -> alt.LayerChart:
    """Recurring codes by episodes per 100,000 km, highest first, with intervals; the `most` highest are drawn."""
    rows = finding.rows.rename({"rate_per_100k_km": "rate", "rate_low": "low", "rate_high": "high"})
    return _ranked(rows, "code", "Episodes per 100,000 km", ("description", "episodes", "vehicles"), most)


def failures(finding: Finding, most: int = 25) -> alt.LayerChart:
    """Failing components by failures per 100,000 km, highest first, with intervals; the `most` highest are drawn."""
    rows = finding.rows.rename({"per_100k_km": "rate"})
    return _ranked(rows, "component", "Failures per 100,000 km", ("failures", "vehicles"), most)


def survival(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Survival curves with their 95 % band, one a group of the columns `by`, from the finding of the curve's steps.

    Raises FleetlensError for more groups than can be told apart.
    """
    rows = thinned(grouped(finding.rows, by)).with_columns(_shown("at_risk"))
    base = alt.Chart(rows).encode(
        x=alt.X("km:Q", title="Distance since the life began (km)", axis=alt.Axis(format=",.0f")),
        color=_colour(rows, by),
    )
    faint = min(0.2, 0.4 / max(rows["group"].n_unique(), 1))  # many bands over each other would hide the lines
    band = base.mark_area(interpolate="step-after", opacity=faint).encode(
        y=alt.Y("low:Q", title="Share surviving", scale=alt.Scale(domain=[0, 1]), axis=_percent()), y2="high:Q"
    )
    line = base.mark_line(interpolate="step-after", point=_touch()).encode(
        y=alt.Y("share:Q"),
        strokeDash=_marks(alt.StrokeDash, rows, DASHES, by),
        tooltip=[_group_tip(by), _tip("km", ",.0f"), *_tips(".1%", "share", "low", "high"), _tip("at_risk")],
    )
    return _finished(band, line)


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
        color=_colour(wide, by, line=False),
    )
    reach = base.mark_rule(strokeWidth=2).encode(
        y=alt.Y("low:Q", title="Share of repairs that came back", scale=alt.Scale(zero=True), axis=_percent()),
        y2="high:Q",
    )
    point = base.mark_point(filled=True, size=80, opacity=1).encode(
        y="share:Q",
        shape=_marks(alt.Shape, wide, SHAPES, by, line=False),
        tooltip=[
            *(_group_tip(by), _tip("days", name="Days since the repair")),
            *(_tip("share", ".1%", "Share that came back"), *_tips(".1%", "low", "high")),
            *_tips("", "repairs", "comebacks"),
        ],
    )
    return _finished(reach.transform_filter(HAS_LIMITS), point)


def cost_curve(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Long-run cost against the cleaning interval, one curve a group; a dot marks the least cost where a curve has one.

    A curve that is lowest at its end has no dot: within what is drawn, no interval beats running on.
    Raises FleetlensError for more groups than can be told apart.
    """
    whole = grouped(finding.rows, by).filter(pl.col("cost_per_1000km").is_not_null())
    x = alt.X("km:Q", title="Cleaning interval (km)", axis=alt.Axis(format=",.0f"))
    y = alt.Y("cost_per_1000km:Q", title="Cost (currency per 1,000 km)", scale=alt.Scale(zero=False))
    tips = [_group_tip(by), _tip("km", ",.0f", "Cleaning interval (km)"), _tip("cost_per_1000km", ",.2f")]
    shared = {"x": x, "y": y, "color": _colour(whole, by), "tooltip": tips}
    line = (
        alt.Chart(thinned(whole))
        .mark_line(point=_touch())
        .encode(strokeDash=_marks(alt.StrokeDash, whole, DASHES, by), **shared)
    )
    dot = alt.Chart(least_cost(whole)).mark_point(filled=True, size=120, opacity=1).encode(**shared)
    return _finished(line, dot)


def quality(finding: Finding) -> alt.LayerChart:
    """The share of rows refused, load after load; a load without rows has no point."""
    rows = finding.rows.filter(pl.col("share_refused").is_not_null())
    base = alt.Chart(rows).encode(
        x=alt.X("load_id:O", title="Load", axis=alt.Axis(labelAngle=0, labelOverlap=True)),
        y=alt.Y("share_refused:Q", title="Share of rows refused", scale=alt.Scale(zero=True), axis=_percent()),
        tooltip=[
            *(_tip("load_id"), alt.Tooltip("loaded_at:T", title=heading("loaded_at"), format="%Y-%m-%d %H:%M")),
            *(_tip("share_refused", ".2%"), *_tips(",", "refused", "rows_in")),
        ],
    )
    return _finished(
        base.mark_line(color=PALETTE[0]), base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]), height=260
    )


def _ranked(rows: pl.DataFrame, name: str, rate: str, told: Sequence[str], most: int) -> alt.LayerChart:
    """Points with their interval on horizontal lines, highest first; `rows` have rate, low and high."""
    top = rows.filter(pl.col("rate").is_not_null()).sort("rate", name, descending=[True, False]).head(most)
    top = top.select(name, "rate", "low", "high", *(_shown(column) for column in told))
    axis = alt.Axis(labelFlush=False, labelLimit=240)  # flush would push the first name off its line
    y = alt.Y(f"{name}:N", title=COLUMNS[name].label, sort=top[name].to_list(), axis=axis)
    base = alt.Chart(top).encode(y=y)
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(
        x=alt.X("low:Q", title=rate, scale=alt.Scale(zero=True)), x2="high:Q"
    )
    point = base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]).encode(
        x="rate:Q", tooltip=[*_tips("", name, *told), _tip("rate", ",.3r", rate), *_tips(",.3r", "low", "high")]
    )
    return _finished(reach.transform_filter(HAS_LIMITS), point, height=alt.Step(22))


def _shown(name: str) -> pl.Expr:
    """The column as text, with a dash for unknown: a tooltip would say null."""
    return pl.col(name).cast(pl.String).fill_null(UNKNOWN)


def _colour(rows: pl.DataFrame, by: Sequence[str], *, line: bool = True) -> Any:
    return _marks(alt.Color, rows, PALETTE, by, line=line)


def _marks(channel: Any, rows: pl.DataFrame, marks: Sequence[Any], by: Sequence[str], *, line: bool = True) -> Any:
    """A channel that gives each group a mark, in the same order in each layer; a legend if there are two groups.

    The channels of a chart have the same legend, so that they become one; it shows pieces of line, or points.
    """
    groups = rows["group"].unique(maintain_order=True).to_list()
    scale = alt.Scale(domain=groups, range=[marks[at % len(marks)] for at in range(len(groups))])
    if len(groups) < 2:
        return channel("group:N", scale=scale, legend=None)
    look: dict[str, Any] = {"symbolType": "stroke", "symbolSize": 400, "symbolStrokeWidth": 2.5} if line else {}
    look |= {"columns": COLUMNS_OF_LEGEND, "labelLimit": 220, "symbolOpacity": 1}
    legend = alt.Legend(title=title(by), orient="bottom", **look)
    return channel("group:N", scale=scale, legend=legend)


def _group_tip(by: Sequence[str]) -> alt.Tooltip:
    return _tip("group", name=title(by))


def _tips(number: str, *columns: str) -> list[alt.Tooltip]:
    return [_tip(column, number) for column in columns]


def _tip(column: str, number: str = "", name: str = "") -> alt.Tooltip:
    """A line of the tooltip: a number in the given format, or text."""
    words = name or heading(column)
    return alt.Tooltip(f"{column}:Q", title=words, format=number) if number else alt.Tooltip(f"{column}:N", title=words)


def _touch() -> alt.OverlayMarkDef:
    """Points that can't be seen but answer to the pointer: a line alone tells only its first value."""
    return alt.OverlayMarkDef(opacity=0, size=90)


def _percent() -> alt.Axis:
    return alt.Axis(format=".0%")


def _finished(*layers: Any, height: Any = 400) -> alt.LayerChart:
    chart: alt.LayerChart = alt.LayerChart(layer=list(layers)).properties(width="container", height=height)
    finished: alt.LayerChart = chart.configure(background="transparent", view=alt.ViewConfig(stroke=None))
    return finished
