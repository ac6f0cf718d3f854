"""The commands that ask for advice: cleaning intervals, cleaning policies, clean or replace."""

from typing import Annotated

import typer

from fleetlens.advice.choose import choose as clean_or_replace
from fleetlens.advice.costs import Given
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.policies import POLICY_KEYS
from fleetlens.advice.policies import policies as cleaning_policies
from fleetlens.cli.answers import Asked, question
from fleetlens.cli.life_questions import LivesBy, UnknownStart
from fleetlens.cli.options import several
from fleetlens.findings.finding import Finding
from fleetlens.findings.lives import life_rows

PoliciesBy = Annotated[
    str, typer.Option("--by", metavar="KEYS", help=f"Split by: {', '.join(POLICY_KEYS)}. Commas between; '' for none.")
]
_ELSE = "without it, as set in fleetlens.toml, else the median of the record."
CleanPrice = Annotated[float | None, typer.Option(help=f"Price of a planned cleaning; {_ELSE}")]
ReplacePrice = Annotated[float | None, typer.Option(help=f"Price of a planned replacement; {_ELSE}")]
FailurePrice = Annotated[float | None, typer.Option(help=f"Price of a failure on the road; {_ELSE}")]
DowntimeRate = Annotated[
    float | None, typer.Option(help="Price of an hour of downtime; without it, as set in fleetlens.toml, else none.")
]


@question()
def intervals(
    asked: Asked,
    *,
    by: LivesBy = "model",
    clean_price: CleanPrice = None,
    failure_price: FailurePrice = None,
    downtime_rate: DowntimeRate = None,
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Cleaning intervals: whether cleaning on a schedule pays, and how often.

    \b
    Example: fleetlens intervals --component egr_valve --by model --downtime-rate 45
    """
    if asked.rows:
        return life_rows(asked.snapshot, filters=asked.filters, unknown_start=unknown_start)
    return cleaning_intervals(
        asked.snapshot,
        by=several([by]),
        given=Given(clean_price, None, failure_price, downtime_rate),
        filters=asked.filters,
        unknown_start=unknown_start,
    )


@question()
def policies(
    asked: Asked,
    *,
    by: PoliciesBy = "model",
    clean_price: CleanPrice = None,
    replace_price: ReplacePrice = None,
    failure_price: FailurePrice = None,
    downtime_rate: DowntimeRate = None,
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Cleaning policies: the first cleaning, the next ones, and after how many a part is replaced instead.

    \b
    Example: fleetlens policies --component egr_valve --by model --replace-price 420
    """
    if asked.rows:
        return life_rows(asked.snapshot, filters=asked.filters, unknown_start=unknown_start)
    return cleaning_policies(
        asked.snapshot,
        by=several([by]),
        filters=asked.filters,
        unknown_start=unknown_start,
        given=Given(clean_price, replace_price, failure_price, downtime_rate),
    ).finding


@question(filtered=False)
def choose(
    asked: Asked,
    *,
    vehicle_id: Annotated[str, typer.Argument(metavar="VEHICLE", help="The vehicle.")],
    part: Annotated[str, typer.Argument(metavar="COMPONENT", help="The component.")],
    position: Annotated[str | None, typer.Option(help="Which of several on the vehicle, as its jobs name it.")] = None,
    rule_out: Annotated[
        str,
        typer.Option(
            metavar="OPTIONS",
            help="Options that don't apply; commas between. 'leave': it has failed. 'clean': it leaks or is damaged.",
        ),
    ] = "",
    horizon_km: Annotated[
        float | None, typer.Option(help="Distance the vehicle is still meant to run (km); without it, as set.")
    ] = None,
    by: PoliciesBy = "model",
    clean_price: CleanPrice = None,
    replace_price: ReplacePrice = None,
    failure_price: FailurePrice = None,
    downtime_rate: DowntimeRate = None,
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Clean or replace: what leaving, cleaning and replacing a part now would cost, and at which price that turns.

    \b
    Example: fleetlens choose V000004 egr_valve --rule-out leave --replace-price 420
    """
    if asked.rows:
        return life_rows(asked.snapshot, part, unknown_start=unknown_start)
    return clean_or_replace(
        asked.snapshot,
        vehicle_id,
        part,
        position,
        rule_out=several([rule_out]),
        horizon_km=horizon_km,
        by=several([by]),
        unknown_start=unknown_start,
        given=Given(clean_price, replace_price, failure_price, downtime_rate),
    )
