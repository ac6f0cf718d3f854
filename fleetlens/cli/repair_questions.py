"""The commands about repairs and money: comebacks, warranty, cost, and whether a campaign changed anything."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from fleetlens.advice.costs import preferences_of
from fleetlens.cli.answers import Asked, question
from fleetlens.cli.options import day, several
from fleetlens.errors import FleetlensError
from fleetlens.findings import campaign as campaigns
from fleetlens.findings import comebacks as repairs
from fleetlens.findings import cost as money
from fleetlens.findings import warranty as claims
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.treatments import Treatment
from fleetlens.vocabulary.actions import done_actions

SHOWS = {"figures": repairs.comebacks, "comparison": comeback_differences, "funnel": comeback_funnel}


@question()
def comebacks(
    asked: Asked,
    *,
    by: Annotated[
        str | None,
        typer.Option(
            "--by",
            metavar="KEYS",
            help=f"Split by: {', '.join(repairs.COMEBACK_KEYS)}. Commas between; '' for none. By default action, and "
            "workshop in the funnel.",
        ),
    ] = None,
    show: Annotated[
        str,
        typer.Option(
            help="figures: shares by 30, 60 and 90 days; comparison: each group against all others, also at equal mix; "
            "funnel: which groups lie outside chance for their number of repairs."
        ),
    ] = "figures",
    days: Annotated[int, typer.Option(help="Window in days.")] = 90,
    km: Annotated[float, typer.Option(help="Window in km; whichever comes first.")] = 5000,
) -> Finding:
    """Comebacks: the share of repairs after which the same fault returned.

    \b
    Example: fleetlens comebacks --component egr_valve --by action --days 90 --km 5000
    Example: fleetlens comebacks --by checks_after --show comparison
    Example: fleetlens comebacks --by workshop --show funnel
    """
    if show not in SHOWS:
        raise FleetlensError(f"can't show {show!r}", where="--show", do=f"one of: {', '.join(SHOWS)}")
    technicians = preferences_of(asked.snapshot).people.name_technicians
    if asked.rows:
        return repairs.repair_rows(asked.snapshot, days=days, km=km, filters=asked.filters, technicians=technicians)
    keys = several([("workshop" if show == "funnel" else "action") if by is None else by])
    return SHOWS[show](asked.snapshot, by=keys, days=days, km=km, filters=asked.filters, technicians=technicians)


@question()
def warranty(
    asked: Asked,
    *,
    by: Annotated[
        str,
        typer.Option(
            "--by", metavar="KEYS", help=f"Split by: {', '.join(claims.WARRANTY_KEYS)}. Commas between; '' for none."
        ),
    ] = "part_grade",
    months: Annotated[int | None, typer.Option(help="Term in months; 24 where nothing is set.")] = None,
    km: Annotated[float | None, typer.Option(help="Term in km; with months, whichever comes first.")] = None,
    term: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=TERM", help="Term of a component or part grade: turbo=36, used=/20000, dpf=24/100000."
        ),
    ] = None,
) -> Finding:
    """Warranty: parts that failed inside their own term, with what a claim needs.

    \b
    Example: fleetlens warranty --months 24 --km 100000
    Example: fleetlens warranty --term reconditioned=12 --rows --out claims.xlsx
    """
    general = claims.Term(months, km) if months is not None or km is not None else None
    terms = claims.Terms.preferred(preferences_of(asked.snapshot), general, dict(_term(each) for each in several(term)))
    if asked.rows:
        return claims.warranty_claims(asked.snapshot, terms=terms, filters=asked.filters)
    return claims.warranty_totals(asked.snapshot, by=several([by]), terms=terms, filters=asked.filters)


@question()
def cost(
    asked: Asked,
    *,
    by: Annotated[
        str, typer.Option("--by", metavar="KEY", help=f"One of: {', '.join(money.COST_KEYS)}.")
    ] = "component",
    downtime_rate: Annotated[
        float | None, typer.Option(help="Price of an hour of downtime; else as the preferences say, 0 without.")
    ] = None,
) -> Finding:
    """Cost: labour, parts and downtime, and cost per 1,000 km.

    \b
    Example: fleetlens cost --by model --downtime-rate 20
    Example: fleetlens cost --by code --component egr_valve
    """
    if asked.rows:
        return money.cost_rows(asked.snapshot, by, asked.filters)
    prices = preferences_of(asked.snapshot).money
    rate = prices.downtime_rate if downtime_rate is None else downtime_rate
    return money.costs(asked.snapshot, by, downtime_rate=rate, currency=prices.currency, filters=asked.filters)


@question()
def campaign(
    asked: Asked,
    *,
    treated_by: Annotated[
        str | None,
        typer.Option(
            metavar="COMPONENT:ACTION",
            help="Treated are vehicles with a job that did this, such as egr_valve:clean. Without it: with a job whose "
            "reason is campaign.",
        ),
    ] = None,
    treated_depot: Annotated[
        str | None, typer.Option(metavar="NAME", help="Treated are the vehicles of this depot; needs --from.")
    ] = None,
    vehicles: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Treated are the vehicles in this list, one a line; needs --from."),
    ] = None,
    from_on: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="One day for all; else each vehicle's own.")
    ] = None,
    days: Annotated[int, typer.Option(help="Days to look at before and after.")] = 365,
) -> Finding:
    """Campaign check: whether a campaign changed the failure rate.

    \b
    Example: fleetlens campaign --component egr_valve
    Example: fleetlens campaign --component egr_valve --treated-depot Osmere --from 2023-03-01
    """
    component, filters = _one_component(asked)
    part, action = _action(treated_by) if treated_by is not None else (None, None)
    treatment = Treatment(part, action, treated_depot, _listed(vehicles), day(from_on, "--from"))
    ask = campaigns.campaign_failures if asked.rows else campaigns.campaign
    return ask(asked.snapshot, component, treatment, days=days, filters=filters)


def _one_component(asked: Asked) -> tuple[str | None, Filters]:
    """The component asked about, if it is one, and the filters without it."""
    if len(asked.filters.component) == 1:
        return asked.filters.component[0], replace(asked.filters, component=())
    return None, asked.filters


def _term(text: str) -> tuple[str, claims.Term]:
    """A name and its term in months, km, or both: turbo=36, used=/20000, dpf=24/100000."""
    name, _, told = text.partition("=")
    months, _, km = told.partition("/")
    try:
        return name.strip(), claims.Term(int(months) if months.strip() else None, float(km) if km.strip() else None)
    except ValueError:
        raise FleetlensError(
            f"this term can't be read: {text!r}", where="--term", do="NAME=MONTHS, NAME=/KM or NAME=MONTHS/KM"
        ) from None


def _action(text: str) -> tuple[str, str]:
    component, _, action = text.partition(":")
    known = done_actions()
    if not component or action not in known:
        raise FleetlensError(
            f"this treatment can't be read: {text!r}",
            where="--treated-by",
            do=f"COMPONENT:ACTION, with an action such as {', '.join(known[:6])}",
        )
    return component, action


def _listed(path: Path | None) -> tuple[str, ...]:
    """The vehicles named in a file, one a line; blank lines don't count."""
    if path is None:
        return ()
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise FleetlensError(
            f"the list of vehicles can't be read: {error}", where=str(path), do="a text file in UTF-8, a vehicle a line"
        ) from None
    named = tuple(dict.fromkeys(line.strip() for line in lines if line.strip()))
    if not named:
        raise FleetlensError("the list names no vehicle", where=str(path), do="one vehicle a line")
    return named
