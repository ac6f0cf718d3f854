"""One sentence for each chart, for those who can't see it."""

from collections.abc import Callable, Sequence

import polars as pl

from fleetlens.findings.finding import Finding
from fleetlens.output import advice_sentences, code_sentences, life_sentences, repair_sentences
from fleetlens.output.groups import grouped, least_cost
from fleetlens.output.telling import few
from fleetlens.output.words import harmless, interval, say


def describe(finding: Finding, by: Sequence[str] = ()) -> str:
    """What the chart of this finding shows, with its main figures, in one sentence."""
    columns = set(finding.rows.columns)
    for needed, told in _SENTENCES:
        if needed <= columns:
            return told(finding.rows, by) if finding.rows.height else f"{finding.question}: nothing to draw."
    return f"{finding.question}: {finding.rows.height:,} rows."


def _rates(rows: pl.DataFrame, _: Sequence[str]) -> str:
    return _highest(rows, "code", "Recurring codes by episodes", ("rate_per_100k_km", "rate_low", "rate_high"))


def _failures(rows: pl.DataFrame, _: Sequence[str]) -> str:
    return _highest(rows, "component", "Components by failures", ("per_100k_km", "low", "high"))


def _highest(rows: pl.DataFrame, name: str, what: str, figure: tuple[str, str, str]) -> str:
    known = rows.filter(pl.col(figure[0]).is_not_null()).sort(figure[0], name, descending=[True, False])
    start = f"{what} per 100,000 km with 95 % intervals: {rows.height:,} {name}s"
    if known.is_empty():
        return f"{start}, none with a known rate."
    top = known.row(0, named=True)
    return f"{start}, highest {harmless(top[name])} with {interval(*(top[each] for each in figure))}."


def _survival(rows: pl.DataFrame, by: Sequence[str]) -> str:
    ends = grouped(rows, by).filter(pl.col("share").is_not_null()).sort("km", maintain_order=True)
    ends = ends.unique("group", keep="last", maintain_order=True).sort("group")
    told = [f"{one['group']} {say(one['share'], 'share')} at {say(one['km'], 'km')} km" for one in ends.to_dicts()]
    return f"Share of lives surviving by distance with 95 % bands; at the end of each curve: {few(told)}."


def _comebacks(rows: pl.DataFrame, by: Sequence[str]) -> str:
    told = [
        f"{one['group']} {interval(one['share_90d'], one['share_90d_low'], one['share_90d_high'], 'share')}"
        f" ({one['comebacks']:,} of {one['repairs']:,} repairs so far)"
        for one in grouped(rows, by).to_dicts()
    ]
    return f"Share of repairs that came back by 30, 60 and 90 days; by 90 days: {few(told)}."


def _costs(rows: pl.DataFrame, by: Sequence[str]) -> str:
    curves = grouped(rows, by)
    least = {one["group"]: one for one in least_cost(curves).to_dicts()}
    told = [
        f"{group} is least at {say(least[group]['km'], 'km')} km with {say(least[group]['cost_per_1000km'])}"
        if group in least
        else f"{group} has no least cost within what is drawn"
        for group in curves["group"].unique(maintain_order=True)
    ]
    return f"Long-run cost per 1,000 km against the cleaning interval: {few(told)}."


def _quality(rows: pl.DataFrame, _: Sequence[str]) -> str:
    known = rows.filter(pl.col("share_refused").is_not_null()).sort("load_id")
    if known.is_empty():
        return "Share of rows refused by load: no load brought any rows."
    last, worst = (
        f"{row['refused']:,} of {row['rows_in']:,} rows in load {row['load_id']}"
        for row in (known.row(-1, named=True), known.sort("share_refused", "load_id").row(-1, named=True))
    )
    if known.height == 1:
        return f"Share of rows refused by load, 1 load: {last}."
    return f"Share of rows refused by load, {known.height:,} loads: last {last}; highest {worst}."


def _fifths(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"fifth {one['fifth']}: {one['failures']:,} failed, {say(one['foreseen'])} foreseen"
        for one in rows.group_by("fifth", maintain_order=True)
        .agg(pl.col("failures", "foreseen").sum())
        .sort("fifth")
        .to_dicts()
    ]
    return f"Failures observed and foreseen by fifths of the parts, from the least at risk: {'; '.join(told)}."


def _weeks(rows: pl.DataFrame, _: Sequence[str]) -> str:
    told = [
        f"{one['week_from']} {say(one['hours'])} of {say(one['hours_room'])} h, {one['vehicles']:,} of "
        f"{one['vehicles_room']:,} vehicles"
        for one in rows.to_dicts()
    ]
    return f"Hours planned by week, and the room for them: {'; '.join(told)}."


_SENTENCES: tuple[tuple[set[str], Callable[[pl.DataFrame, Sequence[str]], str]], ...] = (
    *code_sentences.SENTENCES,
    *life_sentences.SENTENCES,
    *repair_sentences.SENTENCES,
    *advice_sentences.SENTENCES,
    ({"code", "rate_per_100k_km"}, _rates),
    ({"component", "per_100k_km"}, _failures),
    ({"share", "at_risk", "km"}, _survival),
    ({"share_90d", "repairs"}, _comebacks),
    ({"km", "cost_per_1000km"}, _costs),
    ({"load_id", "share_refused"}, _quality),
    ({"week_from", "hours_room"}, _weeks),
    ({"fifth", "foreseen"}, _fifths),
)
