"""Sentences for the charts of how parts and vehicles fail, for those who can't see them."""

from collections.abc import Sequence

import polars as pl

from fleetlens.output.groups import grouped
from fleetlens.output.telling import MOST_NAMED, Sentence, few
from fleetlens.output.words import harmless, interval, say


def _fates(rows: pl.DataFrame, by: Sequence[str]) -> str:
    told = _ends(rows, [*by, "fate"], "share_ended", "share")
    return f"Share of lives that met each fate by distance, with 95 % bands; at the end of each curve: {told}."


def _hazard(rows: pl.DataFrame, by: Sequence[str]) -> str:
    return f"Cumulative hazard by distance with 95 % bands; at the end of each curve: {_ends(rows, by, 'hazard', '')}."


def _mean_failures(rows: pl.DataFrame, by: Sequence[str]) -> str:
    told = _ends(rows, by, "mean_events", "")
    return f"Mean failures per vehicle by odometer with 95 % bands; at the end of each curve: {told}."


def _probability(rows: pl.DataFrame, by: Sequence[str]) -> str:
    apart = (
        grouped(rows, by)
        .filter(pl.col("share_fitted").is_not_null())
        .with_columns(apart=(pl.col("share_failed_by") - pl.col("share_fitted")).abs())
        .sort("apart", descending=True)
        .unique("group", keep="first", maintain_order=True)
        .sort("group")
    )
    told = [
        f"{one['group']} at {say(one['km'], 'km')} km, {say(one['share_failed_by'], 'share')} where the line has "
        f"{say(one['share_fitted'], 'share')}"
        for one in apart.to_dicts()
    ]
    start = "Share failed at each failure, on scales where a Weibull is a straight line"
    return f"{start}; farthest from its line is {few(told)}." if told else f"{start}; no group has a fit."


def _causes(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{one['component']}, {one['cause']} "
        + interval(one["share_of_causes"], one["share_of_causes_low"], one["share_of_causes_high"], "share")
        + f" ({one['jobs']:,} jobs)"
        for one in rows.head(MOST_NAMED).to_dicts()
    ]
    return f"Confirmed causes by their share with 95 % limits, {rows.height:,} in all: {few(told)}."


def _drift(rows: pl.DataFrame, _: Sequence[str]) -> str:
    near, far = rows.sort("before_km").row(0, named=True), rows.sort("before_km").row(-1, named=True)
    unit = f" {near['unit']}" if near["unit"] else ""
    told = [
        f"median {say(one['value_median'])}{unit} of {one['measured']:,} values {say(one['before_km'], 'km')} km before"
        for one in (far, near)
    ]
    return harmless(f"{near['check']} of {near['component']} by distance left to the failure: {'; '.join(told)}.")


def _ends(rows: pl.DataFrame, by: Sequence[str], figure: str, unit: str) -> str:
    """Where each curve ends."""
    ends = grouped(rows, by).filter(pl.col(figure).is_not_null()).sort("km", maintain_order=True)
    ends = ends.unique("group", keep="last", maintain_order=True).sort("group")
    return few(
        [
            f"{one['group']} {interval(one[figure], one['low'], one['high'], unit)} at {say(one['km'], 'km')} km"
            for one in ends.to_dicts()
        ]
    )


SENTENCES: tuple[tuple[set[str], Sentence], ...] = (
    ({"fate", "share_ended"}, _fates),
    ({"hazard", "km"}, _hazard),
    ({"mean_events", "km"}, _mean_failures),
    ({"share_failed_by", "share_fitted"}, _probability),
    ({"cause", "share_of_causes"}, _causes),
    ({"before_km", "value_median"}, _drift),
)
