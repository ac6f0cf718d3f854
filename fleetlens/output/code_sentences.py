"""Sentences for the charts of codes over time, for those who can't see them."""

from collections.abc import Sequence

import polars as pl

from fleetlens.output.groups import grouped
from fleetlens.output.telling import Sentence, few, figure
from fleetlens.output.words import interval, say

__all__ = ["SENTENCES"]

_RATE = ("rate_per_100k_km", "rate_low", "rate_high")


def _periods(rows: pl.DataFrame, _: Sequence[str]) -> str:
    noun = "Episodes" if "episodes" in rows.columns else "Failures"
    known = rows.filter(pl.col(_RATE[0]).is_not_null())
    start = f"{noun} per 100,000 km of {rows.height:,} periods with 95 % intervals and control limits"
    if known.is_empty():
        return f"{start}: no distance, so no rate."
    last, out = known.row(-1, named=True), known.filter(pl.col("signal") != "within")
    named = [f"{row['period']} {row['signal']}" for row in out.to_dicts()]
    return (
        f"{start}: centre {say(last['centre_per_100k_km'])}, last {last['period']} with "
        f"{interval(*(last[name] for name in _RATE))}; "
        + (f"beyond the limits: {few(named[::-1])}." if named else "none lies beyond the limits.")
    )


def _changes(rows: pl.DataFrame, _: Sequence[str]) -> str:
    name = "code" if "code" in rows.columns else "component"
    stem = "change_12m" if rows["change_12m"].drop_nulls().len() else "change"
    span = "in twelve months" if stem == "change_12m" else "in the latest period"
    known = rows.filter(pl.col(stem).is_not_null()).sort(f"{stem}_q", name)
    told = [f"{row[name]} {figure(row, stem)} times, q {say(row[f'{stem}_q'], 'p')}" for row in known.to_dicts()]
    start = f"Change of {rows.height:,} {'rate' if rows.height == 1 else 'rates'} {span} with 95 % intervals"
    return f"{start}; the surest: {few(told)}." if told else f"{start}: nothing can be compared."


def _groups(rows: pl.DataFrame, by: Sequence[str]) -> str:
    named = grouped(rows, by)
    outside = [
        f"{row['group']} {row['standing']} with {interval(*(row[name] for name in _RATE))}"
        for row in named.filter(pl.col("standing").str.contains("above|below")).to_dicts()
    ]
    told = f"outside the limits: {few(outside)}" if outside else "none lies outside the limits"
    whole = say(rows["rate_of_all"][0])
    return f"Rates per 100,000 km of {rows.height:,} groups against what chance gives; of all {whole}; {told}."


def _pairs(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{row['code']} with {row['with_code']} {figure(row, 'lift')} times in {row['together']:,} visits"
        for row in rows.to_dicts()
    ]
    return f"Lift of {rows.height:,} pairs of codes with 95 % intervals, the surest first: {few(told)}."


def _signs(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{row['sign']} {figure(row, 'times')} times, {row['preceded']:,} of {row['happenings']:,}, "
        f"{say(row['lead_days'], 'd')} days ahead"
        for row in rows.to_dicts()
    ]
    return f"What goes before, times chance, with 95 % intervals, the surest first: {few(told)}."


SENTENCES: tuple[tuple[set[str], Sentence], ...] = (
    ({"period", "centre_per_100k_km"}, _periods),
    ({"change_12m", "change"}, _changes),
    ({"rate_of_all", "standing"}, _groups),
    ({"lift", "with_code"}, _pairs),
    ({"sign", "times"}, _signs),
)
