"""What a back-test expected and what happened, as a chart."""

from collections.abc import Sequence

import altair as alt
import polars as pl

from fleetlens.findings.finding import Finding
from fleetlens.output.drawing import PALETTE, finished, tip, tips

__all__ = ["calibration"]


def calibration(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:  # noqa: ARG001 - drawn as all charts are
    """Failures by fifths of the parts by risk: observed as points with their limits, expected as bars."""
    rows = finding.rows.with_columns(
        pl.col("until").cast(pl.String),
        pl.col("fifth").cast(pl.String),
        low=pl.col("failures_low"),
        high="failures_high",
    )
    told = [tip("until"), tip("fifth"), tip("parts"), tip("failures"), *tips(".1f", "low", "high", "foreseen")]
    base = alt.Chart(rows).encode(
        x=alt.X("fifth:O", title="Fifth of the parts, from the least at risk", axis=alt.Axis(labelAngle=0)),
        xOffset=alt.XOffset("until:N"),
        tooltip=told,
    )
    bars = base.mark_bar(color=PALETTE[5], opacity=0.6).encode(
        y=alt.Y("foreseen:Q", title="Failures: expected (bars), observed (points)")
    )
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[1]).encode(y="low:Q", y2="high:Q")
    points = base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[1]).encode(y="failures:Q")
    return finished(bars, reach, points)
