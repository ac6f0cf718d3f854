"""How full the weeks of a plan are, as a chart."""

from collections.abc import Sequence

import altair as alt

from fleetlens.findings.finding import Finding
from fleetlens.output.drawing import PALETTE, finished, tip, tips

__all__ = ["weeks"]


def weeks(finding: Finding, by: Sequence[str] = ()) -> alt.LayerChart:  # noqa: ARG001 - drawn as all charts are
    """Hours planned in each week as bars, with a line over each bar where its room ends."""
    base = alt.Chart(finding.rows).encode(
        x=alt.X(
            "week_from:O", title="Week from", timeUnit="yearmonthdate", axis=alt.Axis(format="%Y-%m-%d", labelAngle=0)
        ),
        tooltip=[
            tip("week_from"),
            *tips(",.1f", "hours", "hours_room"),
            *tips("", "vehicles", "vehicles_room", "tasks"),
        ],
    )
    bars = base.mark_bar(color=PALETTE[0]).encode(y=alt.Y("hours:Q", title="Hours (h)"))
    room = base.mark_tick(thickness=3, color=PALETTE[1], opacity=1).encode(y="hours_room:Q")
    return finished(bars, room)
