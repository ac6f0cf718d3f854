"""What policies and options cost, as charts."""

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
    group_tip,
    tip,
    tips,
)
from fleetlens.output.groups import grouped, title

__all__ = ["POLICIES", "option_costs", "policy_costs"]

# The columns of a policy's costs, in words.
POLICIES = {
    "cost_per_1000km_run_to_failure": "run to failure",
    "cost_per_1000km_replace_only": "replace only",
    "cost_per_1000km_clean_only": "clean only",
    "cost_per_1000km": "as advised",
}


def policy_costs(finding: Finding, by: Sequence[str] = (), *, currency: str = "currency") -> alt.LayerChart:
    """Long-run cost of running to failure, of replacing only, of cleaning only and of what is advised, by group.

    Raises FleetlensError for more groups than can be told apart.
    """
    wide = grouped(finding.rows, by)
    rows = pl.concat(
        wide.select("group", pl.col(column).alias("cost"), pl.lit(words).alias("way"))
        for column, words in POLICIES.items()
    ).filter(pl.col("cost").is_not_null())
    ways = list(POLICIES.values())
    legend = alt.Legend(title="Way", orient="bottom", columns=COLUMNS_OF_LEGEND, symbolOpacity=1)
    # What is advised costs as much as one of the others: hollow marks let both be seen.
    point = (
        alt.Chart(rows)
        .mark_point(size=110, strokeWidth=2.5, opacity=1)
        .encode(
            x=alt.X("cost:Q", title=f"Cost ({currency} per 1,000 km)", scale=alt.Scale(zero=True)),
            y=alt.Y("group:N", title=title(by), sort=wide["group"].to_list(), axis=alt.Axis(labelLimit=240)),
            color=alt.Color("way:N", scale=alt.Scale(domain=ways, range=PALETTE[:4]), legend=legend),
            shape=alt.Shape("way:N", scale=alt.Scale(domain=ways, range=SHAPES[:4]), legend=legend),
            tooltip=[group_tip(by), tip("way", name="Way"), tip("cost", ",.2f", f"Cost ({currency} per 1,000 km)")],
        )
    )
    return finished(point, height=alt.Step(30))


def option_costs(finding: Finding, by: Sequence[str] = (), *, currency: str = "currency") -> alt.LayerChart:  # noqa: ARG001 - drawn as all charts are
    """Expected cost of each option with its 95 % limits."""
    rows = finding.rows.filter(pl.col("expected_cost").is_not_null()).rename(
        {"expected_cost_low": "low", "expected_cost_high": "high"}
    )
    base = alt.Chart(rows).encode(
        y=alt.Y("option:N", title="Option", sort=finding.rows["option"].to_list()),
        tooltip=[
            tip("option"),
            tip("expected_cost", ",.0f", f"Expected cost ({currency})"),
            *tips(",.0f", "low", "high"),
            tip("price_now", ",.0f", f"Price now ({currency})"),
        ],
    )
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(
        x=alt.X("low:Q", title=f"Expected cost to the horizon ({currency})", scale=alt.Scale(zero=True)), x2="high:Q"
    )
    point = base.mark_point(filled=True, size=90, opacity=1, color=PALETTE[0]).encode(x="expected_cost:Q")
    return finished(reach.transform_filter(HAS_LIMITS), point, height=alt.Step(36))
