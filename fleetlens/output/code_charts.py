"""Charts of codes over time: rates by period, changes, groups against chance, pairs, and what goes before a failure."""

from collections.abc import Sequence
from typing import Any

import altair as alt
import polars as pl

from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.finding import Finding
from fleetlens.output.drawing import PALETTE, SHAPES, finished, tip, tips
from fleetlens.output.funnel_chart import funnel
from fleetlens.output.groups import grouped
from fleetlens.output.words import harmless

__all__ = ["changed_rates", "forerunners", "pairs", "rates_by_group", "rates_by_period"]

MOST = 25
_LEGEND = alt.Legend(title=None, orient="bottom", columns=2, symbolOpacity=1)
_ROW = alt.Step(22)
_SIGNALS = ("within", "above", "below")
_MARKS = ("circle", "triangle-up", "triangle-down")
_BOTH = ("all visits", "without supply faults")
_TIMES = alt.Axis(format=".3~r")


def rates_by_period(finding: Finding, _: Sequence[str] = ()) -> alt.LayerChart:
    """The rate of each period with its interval, over the band of its control limits and the centre.

    A rate beyond the limits has another colour and another shape.
    """
    noun = _noun(finding)
    rows = finding.rows.with_columns(
        middle=pl.col("starts_on") + (pl.col("ends_on") - pl.col("starts_on")) / 2,
        after=pl.col("ends_on").dt.offset_by("1d"),
    )
    x = alt.X("middle:T", title=None, axis=alt.Axis(format="%Y-%m", labelAngle=0, labelOverlap=True))
    y = alt.Y("control_low:Q", title=f"{noun} per 100,000 km", scale=alt.Scale(zero=True))
    base = alt.Chart(rows)
    # A rectangle a period: limits belong to all of it, and widen where few km were run.
    band = base.mark_rect(opacity=0.22, color=PALETTE[0]).encode(
        x=alt.X("starts_on:T", title=None), x2="after:T", y=y, y2="control_high:Q"
    )
    centre = base.mark_rule(strokeDash=[6, 3], strokeWidth=2, color=PALETTE[0]).encode(
        x="starts_on:T", x2="after:T", y="centre_per_100k_km:Q"
    )
    reach = base.mark_rule(strokeWidth=1.5, opacity=0.7, color=PALETTE[2]).encode(x=x, y="rate_low:Q", y2="rate_high:Q")
    line = base.mark_line(strokeWidth=1.5, color=PALETTE[2]).encode(x=x, y="rate_per_100k_km:Q")
    point = base.mark_point(filled=True, size=70, opacity=1).encode(
        x=x,
        y="rate_per_100k_km:Q",
        color=alt.Color("signal:N", scale=_scale([PALETTE[2], PALETTE[1], PALETTE[1]]), legend=_signs()),
        shape=alt.Shape("signal:N", scale=_scale(_MARKS), legend=_signs()),
        tooltip=[
            tip("period"),
            *tips(",", noun.lower(), "vehicles"),
            tip("km", ",.0f"),
            *tips(",.3r", "rate_per_100k_km", "rate_low", "rate_high", "control_low", "control_high"),
            tip("signal"),
        ],
    )
    return finished(band, centre, reach.transform_filter("isValid(datum.rate_low)"), line, point)


def changed_rates(finding: Finding, _: Sequence[str] = ()) -> alt.LayerChart:
    """How many times the earlier rate the later one is, with limits, on a scale of doublings; the surest on top.

    Of a year against the year before where the record has both, else of the latest period against the one before.
    """
    stem = _stem(finding.rows)
    name = "code" if "code" in finding.rows.columns else "component"
    rows = finding.rows.rename({f"{stem}_low": "low", f"{stem}_high": "high"}).filter(
        (pl.col(stem) > 0) & (pl.col("low") > 0) & pl.col("high").is_not_null()
    )
    rows = rows.sort(f"{stem}_q", name).head(MOST)
    base = alt.Chart(rows).encode(y=_names(rows, name))
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(x=_doublings(stem, "no change"), x2="high:Q")
    ending = stem.removeprefix("change")
    point = base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]).encode(
        x=f"{stem}:Q",
        tooltip=[
            tip(name),
            *tips(",.2r", stem, "low", "high"),
            tip(f"{stem}_q", ".2g"),
            *tips(",", f"latest{ending}", f"earlier{ending}"),
        ],
    )
    return finished(_level(1.0), reach, point, height=_ROW)


def rates_by_group(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Each group's rate on the bands that chance gives its distance; in the order of their names, which is no rank.

    Raises FleetlensError for more groups than can be told apart.
    """
    noun = _noun(finding)
    rows = grouped(finding.rows, by).filter(pl.col("rate_per_100k_km").is_not_null())
    return funnel(
        rows,
        _names(rows, "group"),
        alt.X("chance_low_998:Q", title=f"{noun} per 100,000 km", scale=alt.Scale(zero=False)),
        figure="rate_per_100k_km",
        of_all="rate_of_all",
        limits="chance",
        legend=_LEGEND,
        told=[
            tip("group", name="Group"),
            *tips(",", noun.lower()),
            tip("km", ",.0f"),
            *tips(",.3r", "rate_per_100k_km", "rate_low", "rate_high", "shrunken_rate", "rate_of_all"),
            tip("standing"),
        ],
    )


def pairs(finding: Finding, _: Sequence[str] = ()) -> alt.LayerChart:
    """Lift of the surest pairs with limits, in all visits and without those with a fault of the voltage supply."""
    top = finding.rows.filter(pl.col("lift_low") > 0).head(MOST)
    top = top.with_columns(pair=pl.format("{} + {}", "code", "with_code"))
    rows = pl.concat(
        top.select(
            *("pair", "pairing"),
            pl.lit(visits).alias("visits"),
            pl.col(count).alias("together"),
            *(pl.col(f"{stem}{end}").alias(name) for end, name in (("", "lift"), ("_low", "low"), ("_high", "high"))),
        )
        for visits, stem, count in ((_BOTH[0], "lift", "together"), (_BOTH[1], "plain_lift", "plain_together"))
    ).filter(pl.col("low") > 0)
    base = alt.Chart(rows).encode(
        y=_names(rows, "pair", "Codes"),
        yOffset=alt.YOffset("visits:N", sort=list(_BOTH)),
        color=_either(alt.Color, (PALETTE[0], PALETTE[1])),
    )
    reach = base.mark_rule(strokeWidth=2).encode(x=_doublings("lift", "chance"), x2="high:Q")
    point = base.mark_point(filled=True, size=70, opacity=1).encode(
        x="lift:Q",
        shape=_either(alt.Shape, (SHAPES[0], SHAPES[3])),
        tooltip=[
            *(tip("pair", name="Codes"), tip("visits", name="Counted in"), tip("together", ",")),
            *tips(",.3r", "lift", "low", "high"),
            tip("pairing"),
        ],
    )
    return finished(_level(1.0), reach, point, height=alt.Step(14))


def forerunners(finding: Finding, _: Sequence[str] = ()) -> alt.LayerChart:
    """How many times as often as chance each sign goes before, with limits; the surest on top."""
    rows = finding.rows.rename({"times_low": "low", "times_high": "high"}).filter(pl.col("low") > 0).head(MOST)
    base = alt.Chart(rows).encode(y=_names(rows, "sign"))
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(x=_doublings("times", "chance"), x2="high:Q")
    kinds = ["code", "component"]
    legend = alt.Legend(title=COLUMNS["sign_is"].label, orient="bottom", columns=2, symbolOpacity=1)
    point = base.mark_point(filled=True, size=80, opacity=1).encode(
        x="times:Q",
        color=alt.Color("sign_is:N", scale=alt.Scale(domain=kinds, range=list(PALETTE[:2])), legend=legend),
        shape=alt.Shape("sign_is:N", scale=alt.Scale(domain=kinds, range=[SHAPES[0], SHAPES[1]]), legend=legend),
        tooltip=[
            *(tip("sign"), tip("sign_is"), *tips(",", "preceded", "happenings", "followed", "begun")),
            *tips(".1%", "ahead_share", "chance_share"),
            *tips(",.3r", "times", "low", "high"),
            tip("times_q", ".2g"),
            *tips(",.0f", "lead_days", "lead_km"),
        ],
    )
    return finished(_level(1.0), reach, point, height=_ROW)


def _noun(finding: Finding) -> str:
    """What was counted: episodes or failures."""
    return "Episodes" if "episodes" in finding.rows.columns else "Failures"


def _stem(rows: pl.DataFrame) -> str:
    """Which change is drawn: of a year where it is known."""
    return "change_12m" if rows["change_12m"].drop_nulls().len() else "change"


def _names(rows: pl.DataFrame, column: str, title: str | None = None) -> alt.Y:
    """One line for each name, in the order of the rows."""
    names = [harmless(name) for name in rows[column].unique(maintain_order=True)]
    axis = alt.Axis(labelFlush=False, labelLimit=240)  # flush would push the first name off its line
    words = title or (None if column == "group" else COLUMNS[column].label)
    return alt.Y(f"{column}:N", title=words, sort=names, axis=axis)


def _doublings(name: str, one: str) -> alt.X:
    """The axis of a ratio: half and twice lie as far from 1, which is `one`."""
    title = f"{COLUMNS[name].label}, 1 is {one}"
    return alt.X("low:Q", title=title, scale=alt.Scale(type="log", base=2), axis=_TIMES)


def _level(at: float) -> alt.Chart:
    """A line where nothing but chance would put a figure."""
    line: alt.Chart = (
        alt.Chart(pl.DataFrame({"level": [at]})).mark_rule(strokeDash=[4, 4], opacity=0.6).encode(x="level:Q")
    )
    return line


def _scale(looks: Sequence[str]) -> alt.Scale:
    return alt.Scale(domain=list(_SIGNALS), range=list(looks))


def _signs() -> alt.Legend:
    return alt.Legend(title="Against the limits", orient="bottom", columns=3, symbolOpacity=1)


def _either(channel: Any, looks: Sequence[str]) -> Any:
    return channel("visits:N", scale=alt.Scale(domain=list(_BOTH), range=list(looks)), legend=_LEGEND)
