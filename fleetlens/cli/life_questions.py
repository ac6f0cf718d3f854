"""The commands about how parts live and fail, what a code turned out to be, and what was measured."""

from collections.abc import Mapping
from typing import Annotated, TypeVar

import typer

from fleetlens.advice.bench import PARTS, cause_split
from fleetlens.cli.answers import Asked, question
from fleetlens.errors import FleetlensError
from fleetlens.findings import measurements as measuring
from fleetlens.findings.causes import cause_rows
from fleetlens.findings.finding import Finding

T = TypeVar("T")


@question()
def causes(
    asked: Asked,
    *,
    code: Annotated[list[str], typer.Argument(metavar="CODE...", help="One fault code or several.")],
    show: Annotated[
        str, typer.Option(help=f"{', '.join(PARTS)}: what it was, what told it apart, what was done and held.")
    ] = PARTS[0],
) -> Finding:
    """Causes: what a code turned out to be on this fleet, the checks that told it, the remedies that held.

    With --model the shares lean on the other models, and the answer says how much.

    \b
    Example: fleetlens causes P0404 P0401 --model Fell
    Example: fleetlens causes P0401 --show checks
    Example: fleetlens causes P0401 --rows
    """
    if asked.rows:
        return cause_rows(asked.snapshot, code, asked.filters)
    return cause_split(asked.snapshot, code, show, asked.filters)


@question()
def measurements(
    asked: Asked,
    *,
    show: Annotated[
        str,
        typer.Option(
            help="limits: every check against its limits; drift: how values move before a failure; distance: the same "
            "by stretches of distance."
        ),
    ] = "limits",
    within: Annotated[
        float, typer.Option(metavar="KM", help="With drift and distance: how far before a failure.")
    ] = measuring.WITHIN_KM,
) -> Finding:
    """Measurements: checks against the limits of their job, and values on the way to a failure.

    \b
    Example: fleetlens measurements --component egr_valve
    Example: fleetlens measurements --component brakes --show drift --within 40000
    """
    snapshot, filters = asked.snapshot, asked.filters
    drifting = _chosen(show, {"limits": False, "drift": True, "distance": True})
    if asked.rows:
        if drifting:
            return measuring.drift_rows(snapshot, within_km=within, filters=filters)
        return measuring.check_rows(snapshot, filters=filters)
    if not drifting:
        return measuring.measurements(snapshot, filters=filters)
    ask = measuring.drift if show == "drift" else measuring.drift_by_distance
    return ask(snapshot, within_km=within, filters=filters)


def _chosen(show: str, answers: Mapping[str, T]) -> T:
    """The answer that --show names. Raises FleetlensError for another word."""
    if show not in answers:
        raise FleetlensError(
            f"there is nothing to show as {show!r}", where="--show", do=f"one of: {', '.join(answers)}"
        )
    return answers[show]
