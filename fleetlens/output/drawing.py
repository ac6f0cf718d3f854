"""What charts are drawn with: marks told apart by more than colour, tooltips in words, axes, the finished look.

Each group has a colour and a second mark of its own (dash or shape), so that nobody depends on colour. Text and
grid take the page's colours: nothing is drawn in black or white, and the background is transparent.
"""

from collections.abc import Sequence
from typing import Any

import altair as alt
import polars as pl

from fleetlens.findings.columns import COLUMNS
from fleetlens.output.flat import heading
from fleetlens.output.groups import title
from fleetlens.output.words import UNKNOWN

# Okabe and Ito 2008, "Color universal design", values from memory; their black and yellow are left out, for they
# vanish on a dark or a light page.
PALETTE = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES = ([1, 0], [6, 3], [2, 2], [8, 3, 2, 3], [12, 4])  # five and six: thirty pairs before one comes again
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
COLUMNS_OF_LEGEND = alt.ExprRef("width > 600 ? 3 : 1")  # three names don't fit a telephone
HAS_LIMITS = "isValid(datum.low) && isValid(datum.high)"


def ranked(rows: pl.DataFrame, name: str, rate: str, told: Sequence[str], most: int) -> alt.LayerChart:
    """Points with their interval on horizontal lines, highest first; `rows` have rate, low and high."""
    top = rows.filter(pl.col("rate").is_not_null()).sort("rate", name, descending=[True, False]).head(most)
    top = top.select(name, "rate", "low", "high", *(shown(column) for column in told))
    axis = alt.Axis(labelFlush=False, labelLimit=240)  # flush would push the first name off its line
    y = alt.Y(f"{name}:N", title=COLUMNS[name].label, sort=top[name].to_list(), axis=axis)
    base = alt.Chart(top).encode(y=y)
    reach = base.mark_rule(strokeWidth=2, color=PALETTE[0]).encode(
        x=alt.X("low:Q", title=rate, scale=alt.Scale(zero=True)), x2="high:Q"
    )
    point = base.mark_point(filled=True, size=70, opacity=1, color=PALETTE[0]).encode(
        x="rate:Q", tooltip=[*tips("", name, *told), tip("rate", ",.3r", rate), *tips(",.3r", "low", "high")]
    )
    return finished(reach.transform_filter(HAS_LIMITS), point, height=alt.Step(22))


def shown(name: str) -> pl.Expr:
    """The column as text, with a dash for unknown: a tooltip would say null."""
    return pl.col(name).cast(pl.String).fill_null(UNKNOWN)


def colour(rows: pl.DataFrame, by: Sequence[str], *, line: bool = True) -> Any:
    """The channel that gives each group a colour."""
    return marks(alt.Color, rows, PALETTE, by, line=line)


def marks(channel: Any, rows: pl.DataFrame, looks: Sequence[Any], by: Sequence[str], *, line: bool = True) -> Any:
    """A channel that gives each group a mark, in the same order in each layer; a legend if there are two groups.

    The channels of a chart have the same legend, so that they become one; it shows pieces of line, or points.
    """
    groups = rows["group"].unique(maintain_order=True).to_list()
    scale = alt.Scale(domain=groups, range=[looks[at % len(looks)] for at in range(len(groups))])
    if len(groups) < 2:
        return channel("group:N", scale=scale, legend=None)
    symbol: dict[str, Any] = {"symbolType": "stroke", "symbolSize": 400, "symbolStrokeWidth": 2.5} if line else {}
    symbol |= {"columns": COLUMNS_OF_LEGEND, "labelLimit": 220, "symbolOpacity": 1}
    legend = alt.Legend(title=title(by), orient="bottom", **symbol)
    return channel("group:N", scale=scale, legend=legend)


def group_tip(by: Sequence[str]) -> alt.Tooltip:
    """The group in a tooltip, under the name of the keys."""
    return tip("group", name=title(by))


def tips(number: str, *columns: str) -> list[alt.Tooltip]:
    """Several columns in a tooltip, with one format."""
    return [tip(column, number) for column in columns]


def tip(column: str, number: str = "", name: str = "") -> alt.Tooltip:
    """A line of the tooltip: a number in the given format, or text."""
    words = name or heading(column)
    return alt.Tooltip(f"{column}:Q", title=words, format=number) if number else alt.Tooltip(f"{column}:N", title=words)


def touch() -> alt.OverlayMarkDef:
    """Points that can't be seen but answer to the pointer: a line alone tells only its first value."""
    return alt.OverlayMarkDef(opacity=0, size=90)


def percent() -> alt.Axis:
    """An axis of shares."""
    return alt.Axis(format=".0%")


def finished(*layers: Any, height: Any = 400) -> alt.LayerChart:
    """The layers as one chart, as wide as its place and without a ground of its own."""
    chart: alt.LayerChart = alt.LayerChart(layer=list(layers)).properties(width="container", height=height)
    done: alt.LayerChart = chart.configure(background="transparent", view=alt.ViewConfig(stroke=None))
    return done
