"""The commands about codes over time: whether rates change, which codes come together, and what goes before what."""

from typing import Annotated

import typer

from fleetlens.cli.answers import Asked, question
from fleetlens.cli.options import several
from fleetlens.errors import FleetlensError
from fleetlens.findings import forerunners as ahead
from fleetlens.findings import together as pairs
from fleetlens.findings import trends as rates
from fleetlens.findings.finding import Finding

SHOWS = ("periods", "changes", "groups")


@question()
def trends(
    asked: Asked,
    *,
    of: Annotated[str, typer.Option(help="'codes' (episodes) or 'failures' (of components).")] = "codes",
    every: Annotated[str, typer.Option(help="Length of a period: 'month' or 'quarter'.")] = "month",
    code: Annotated[
        list[str] | None, typer.Option(metavar="CODE", help="Only these codes (again, or with commas).")
    ] = None,
    show: Annotated[
        str | None,
        typer.Option(
            help="periods: the rate of each period; changes: how each code or component changed; groups: the groups of "
            "--by against chance. By default periods, and groups where --by is given."
        ),
    ] = None,
    by: Annotated[
        str,
        typer.Option("--by", metavar="KEYS", help=f"Compare groups: {', '.join(rates.TREND_KEYS)}. Commas between."),
    ] = "",
) -> Finding:
    """Trends: code episodes or failures by month or quarter, per 100,000 km, with control limits; and where.

    \b
    Example: fleetlens trends --code P0401 --every quarter
    Example: fleetlens trends --show changes
    Example: fleetlens trends --of failures --component egr_valve --by depot
    """
    codes, keys = several(code), several([by])
    shown = show or ("groups" if keys else "periods")
    if shown not in SHOWS:
        raise FleetlensError(f"can't show {shown!r}", where="--show", do=f"one of: {', '.join(SHOWS)}")
    if keys and shown != "groups":
        raise FleetlensError("--by compares groups over the whole record", do="leave out --show, or --show groups")
    if asked.rows:
        return rates.trend_rows(asked.snapshot, of, every, codes=codes, filters=asked.filters)
    if shown == "groups":
        return rates.rates_by_group(asked.snapshot, of, keys or ("depot",), codes=codes, filters=asked.filters)
    ask = rates.changed_rates if shown == "changes" else rates.rates_by_period
    return ask(asked.snapshot, of, every, codes=codes, filters=asked.filters)


@question()
def together(
    asked: Asked,
    *,
    code: Annotated[
        list[str] | None, typer.Option(metavar="CODE", help="Only pairs with these codes (again, or with commas).")
    ] = None,
    join_days: Annotated[
        int | None, typer.Option(help="Jobs of a vehicle that follow each other within so many days are one visit.")
    ] = None,
    before: Annotated[
        str | None, typer.Option(metavar="NAME", help="A component or a code: tell what goes before it instead.")
    ] = None,
    days: Annotated[int | None, typer.Option(help="With --before: how many days to look back; 60 by default.")] = None,
    km: Annotated[float | None, typer.Option(help="With --before: how many km to look back, instead of days.")] = None,
    at_least: Annotated[
        int, typer.Option(help="Leave out codes on fewer visits, or signs that began fewer times.")
    ] = pairs.AT_LEAST,
) -> Finding:
    """Codes together: which codes are logged at one visit more than chance; and which go before a failure.

    \b
    Example: fleetlens together --code P0401
    Example: fleetlens together --join-days 14
    Example: fleetlens together --before egr_valve --days 60
    """
    codes = several(code)
    if before is None:
        if days is not None or km is not None:
            raise FleetlensError(
                "--days and --km look back from something", do="fleetlens together --before egr_valve --days 60"
            )
        if asked.rows:
            return pairs.together_rows(asked.snapshot, codes, join_days=join_days, filters=asked.filters)
        return pairs.codes_together(
            asked.snapshot, codes, join_days=join_days, at_least=at_least, filters=asked.filters
        )
    if codes or join_days is not None:
        raise FleetlensError("--code and --join-days are about pairs, not about --before", do="leave them out")
    if asked.rows:
        return ahead.forerunner_rows(asked.snapshot, before, days=days, km=km, filters=asked.filters)
    return ahead.forerunners(asked.snapshot, before, days=days, km=km, at_least=at_least, filters=asked.filters)
