"""Groups on the bands that chance gives them."""

from typing import Any

import altair as alt
import polars as pl

from fleetlens.output.drawing import PALETTE, SHAPES, finished

__all__ = ["funnel"]

_SEEN = ["within chance", "outside the limits"]


def funnel(
    rows: pl.DataFrame,
    y: alt.Y,
    x: alt.X,
    *,
    figure: str,
    of_all: str,
    limits: str,
    legend: alt.Legend,
    told: list[Any],
) -> alt.LayerChart:
    """Each group's `figure` on its bands of 95 and 99.8 % (columns named by the stem `limits`), a tick at `of_all`.

    A group outside of the limits, by its `standing`, has another colour and another shape. `x` draws the lower end of
    the wide band and carries title and scale; `told` is the tooltip.
    """
    outside = pl.col("standing").str.contains("above|below")
    marked = rows.with_columns(seen=pl.when(outside).then(pl.lit(_SEEN[1])).otherwise(pl.lit(_SEEN[0])))
    base = alt.Chart(marked).encode(y=y)
    wide = base.mark_bar(size=16, opacity=0.18, color=PALETTE[0]).encode(x=x, x2=f"{limits}_high_998:Q")
    narrow = base.mark_bar(size=16, opacity=0.3, color=PALETTE[0]).encode(
        x=f"{limits}_low_95:Q", x2=f"{limits}_high_95:Q"
    )
    level = base.mark_tick(thickness=2, size=18, color=PALETTE[0]).encode(x=f"{of_all}:Q")
    point = base.mark_point(filled=True, size=110, opacity=1).encode(
        x=f"{figure}:Q",
        color=alt.Color("seen:N", scale=alt.Scale(domain=_SEEN, range=[PALETTE[2], PALETTE[1]]), legend=legend),
        shape=alt.Shape("seen:N", scale=alt.Scale(domain=_SEEN, range=[SHAPES[0], SHAPES[3]]), legend=legend),
        tooltip=told,
    )
    return finished(wide, narrow, level, point, height=alt.Step(34))
