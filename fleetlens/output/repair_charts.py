"""Charts of repairs and money: comebacks compared, the funnel, cost, claims, and a campaign's before and after."""

from collections.abc import Sequence

import altair as alt
import polars as pl

from fleetlens.findings.finding import Finding
from fleetlens.output.drawing import (
    COLUMNS_OF_LEGEND,
    HAS_LIMITS,
    PALETTE,
    SHAPES,
    finished,
    percent,
    ranked,
    tip,
    tips,
)
from fleetlens.output.funnel_chart import funnel
from fleetlens.output.groups import grouped

__all__ = ["campaign", "claims", "comeback_differences", "comeback_funnel", "costs"]

MOST = 25
_ROW = alt.Step(26)
_LEGEND = alt.Legend(title=None, orient="bottom", columns=COLUMNS_OF_LEGEND, symbolOpacity=1)


def comeback_differences(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """How much oftener each group comes back than all others, with 95 % intervals around a line at no difference.

    Raises FleetlensError for more groups than can be told apart.
    """
    rows = grouped(finding.rows, by).filter(pl.col("share_difference").is_not_null())
    rows = rows.rename({"share_difference_low": "low", "share_difference_high": "high"})
    base = alt.Chart(rows).encode(y=_names(rows))
    x = alt.X("low:Q", title="Share that came back, less that of all others", axis=alt.Axis(format="+.0%"))
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(x=x, x2="high:Q")
    point = base.mark_point(filled=True, size=80, opacity=1, color=PALETTE[0]).encode(
        x="share_difference:Q",
        tooltip=[
            tip("group", name="Group"),
            *tips("+.1%", "share_difference", "low", "high"),
            tip("comeback_share", ".1%"),
            *tips(",", "repairs", "comebacks"),
            *tips(",.1f", "expected_comebacks", "expected_within"),
            *tips(".2g", "p", "p_within"),
        ],
    )
    level = alt.Chart(pl.DataFrame({"none": [0.0]})).mark_rule(strokeDash=[4, 4], opacity=0.6).encode(x="none:Q")
    return finished(level, reach.transform_filter(HAS_LIMITS), point, height=_ROW)


def comeback_funnel(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Each group's share of comebacks on the bands that chance gives its number of repairs; most repairs on top.

    Raises FleetlensError for more groups than can be told apart.
    """
    rows = grouped(finding.rows, by).with_columns(told=pl.format("{} of {}", "comebacks", "repairs"))
    return funnel(
        rows,
        _names(rows),
        alt.X("share_low_998:Q", title="Share of repairs that came back", scale=alt.Scale(zero=True), axis=percent()),
        figure="comeback_share",
        of_all="share_of_all",
        limits="share",
        legend=_LEGEND,
        told=[
            tip("group", name="Group"),
            tip("told", name="Came back"),
            *tips(".1%", "comeback_share", "share_of_all", "share_low_95", "share_high_95"),
            *tips(".1%", "share_low_998", "share_high_998"),
            tip("standing"),
            tip("expected_within", ",.1f"),
            tip("standing_within"),
        ],
    )


def costs(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Cost per 1,000 km with intervals, highest first; the MOST highest are drawn. `by` names the groups' column."""
    rows = finding.rows.rename({"per_1000km": "rate", "per_1000km_low": "low", "per_1000km_high": "high"})
    name = by[0]
    rows = rows.with_columns(pl.col(name).fill_null("not recorded"))
    return ranked(rows, name, "Cost per 1,000 km (currency)", ("jobs", "vehicles", "total_cost", "fault_cost"), MOST)


def claims(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:
    """Money of failures inside their term, parts and labour, highest first; the MOST highest groups are drawn."""
    top = finding.rows.filter(pl.col("claim_value").is_not_null()).head(MOST)
    rows = grouped(top, by)
    split = pl.concat(
        rows.select(
            *("group", "fitted", "parts_failed", "in_term", "claim_value"),
            pl.lit(kind).alias("money"),
            pl.col(column).fill_null(0).alias("amount"),
        )
        for kind, column in (("parts", "parts_cost"), ("labour", "labour_cost"))
    )
    bars = (
        alt.Chart(split)
        .mark_bar(size=16)
        .encode(
            y=_names(rows),
            x=alt.X("amount:Q", title="Labour and parts of the failing jobs (currency)", stack="zero"),
            color=alt.Color(
                "money:N",
                scale=alt.Scale(domain=["parts", "labour"], range=[PALETTE[0], PALETTE[4]]),
                legend=_LEGEND,
            ),
            order=alt.Order("money:N", sort="descending"),
            tooltip=[
                tip("group", name="Group"),
                tip("money", name="Money"),
                tip("amount", ",.0f", "Amount (currency)"),
                *tips(",", "fitted", "parts_failed", "in_term"),
            ],
        )
    )
    return finished(bars, height=_ROW)


def campaign(finding: Finding, _: Sequence[str] = ()) -> alt.LayerChart:
    """Failure rates before and after, with intervals, of the treated and of the untreated vehicles side by side."""
    sides = finding.rows.filter(pl.col("vehicles").is_not_null())
    rows = pl.concat(
        sides.select(
            *("side", "vehicles"),
            pl.lit(period).alias("period"),
            *(
                pl.col(f"{name}_{period}{end}").alias(alias)
                for name, end, alias in (
                    *(("rate", "", "rate"), ("rate", "_low", "low"), ("rate", "_high", "high")),
                    *(("failures", "", "failures"), ("km", "", "km")),
                )
            ),
        )
        for period in ("before", "after")
    )
    domain = sides["side"].to_list()
    base = alt.Chart(rows).encode(
        x=alt.X("period:O", title="The day of the campaign", sort=["before", "after"], axis=alt.Axis(labelAngle=0)),
        xOffset=alt.XOffset("side:N", sort=domain),
        color=alt.Color("side:N", scale=alt.Scale(domain=domain, range=list(PALETTE[:2])), legend=_LEGEND),
    )
    reach = base.mark_rule(strokeWidth=2).encode(
        y=alt.Y("low:Q", title="Failures per 100,000 km", scale=alt.Scale(zero=True)), y2="high:Q"
    )
    point = base.mark_point(filled=True, size=100, opacity=1).encode(
        y="rate:Q",
        shape=alt.Shape("side:N", scale=alt.Scale(domain=domain, range=list(SHAPES[:2])), legend=_LEGEND),
        tooltip=[
            *(tip("side"), tip("period", name="Period")),
            tip("rate", ",.3r", "Failures per 100,000 km"),
            *tips(",.3r", "low", "high"),
            *tips(",.0f", "failures", "km", "vehicles"),
        ],
    )
    return finished(reach.transform_filter(HAS_LIMITS), point)


def _names(rows: pl.DataFrame) -> alt.Y:
    """The groups down the side, in the order of the rows."""
    axis = alt.Axis(labelLimit=240, labelFlush=False)
    return alt.Y("group:N", title=None, sort=rows["group"].to_list(), axis=axis)
