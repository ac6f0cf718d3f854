"""Sentences for the charts of repairs and money, for those who can't see them."""

from collections.abc import Sequence

import polars as pl

from fleetlens.output.groups import grouped
from fleetlens.output.telling import MOST_NAMED, Sentence, few, figure
from fleetlens.output.words import harmless, say

__all__ = ["SENTENCES"]


def _differences(rows: pl.DataFrame, by: Sequence[str]) -> str:
    known = grouped(rows, by).filter(pl.col("share_difference").is_not_null())
    told = [
        f"{one['group']} {figure(one, 'share_difference', 'share')} "
        f"({one['comebacks']:,} of {one['repairs']:,} repairs)"
        for one in known.sort("repairs", descending=True).to_dicts()
    ]
    start = "Share of repairs that came back less that of all others, with 95 % intervals"
    return f"{start}: {few(told)}." if told else f"{start}: no group can be compared."


def _funnel(rows: pl.DataFrame, by: Sequence[str]) -> str:
    outside = [
        f"{one['group']} {one['standing']} with {one['comebacks']:,} of {one['repairs']:,}"
        for one in grouped(rows, by).filter(pl.col("standing").str.contains("above|below")).to_dicts()
    ]
    start = f"Share of repairs that came back, {rows.height:,} groups against the limits for their numbers of repairs"
    share = say(rows["share_of_all"][0], "share")
    told = f"outside the limits: {few(outside)}" if outside else "none lies outside the limits"
    return f"{start}; of all {share} came back; {told}."


def _costs(rows: pl.DataFrame, _: Sequence[str]) -> str:
    name = rows.columns[0]
    known = rows.filter(pl.col("per_1000km").is_not_null()).sort("per_1000km", name, descending=[True, False])
    start = f"Cost per 1,000 km with 95 % intervals, {rows.height:,} groups"
    if known.is_empty():
        return f"{start}, none with a known cost."
    top = known.row(0, named=True)
    highest = figure(top, "per_1000km")
    return f"{start}, highest {harmless(str(top[name] or 'not recorded'))} with {highest}."


def _claims(rows: pl.DataFrame, by: Sequence[str]) -> str:
    told = [
        f"{one['group']} {say(one['claim_value'])} for {one['parts_failed']:,} of {one['fitted']:,} parts fitted"
        for one in grouped(rows.filter(pl.col("claim_value").is_not_null()).head(MOST_NAMED), by).to_dicts()
    ]
    start = "Labour and parts of failures inside the parts' terms, highest first"
    return f"{start}: {few(told)}." if told else f"{start}: none is recorded."


def _campaign(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{one['side']} {figure(one, 'rate_before')} before and {figure(one, 'rate_after')} after"
        for one in rows.filter(pl.col("vehicles").is_not_null()).to_dicts()
    ]
    return f"Failures per 100,000 km with 95 % intervals: {'; '.join(told)}."


# The columns that a chart's finding has, and its sentence.
SENTENCES: tuple[tuple[set[str], Sentence], ...] = (
    ({"share_difference", "repairs"}, _differences),
    ({"share_of_all", "standing"}, _funnel),
    ({"per_1000km", "total_cost"}, _costs),
    ({"claim_value", "fitted"}, _claims),
    ({"side", "rate_before"}, _campaign),
)
