"""The commands about how parts live and fail, what a code turned out to be, and what was measured."""

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, TypeVar

import typer

from fleetlens.advice.bench import PARTS, cause_split
from fleetlens.cli.answers import Asked, question
from fleetlens.cli.options import distances, several
from fleetlens.errors import FleetlensError
from fleetlens.findings import measurements as measuring
from fleetlens.findings.causes import cause_rows
from fleetlens.findings.fates import fates
from fleetlens.findings.finding import Finding
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.lives import LIFE_KEYS, component_lives, life_rows
from fleetlens.findings.recurrence import recurrent_failures

T = TypeVar("T")

UnknownStart = Annotated[
    str,
    typer.Option(help="Parts whose life began before the record: 'original' (as old as the vehicle) or 'leave-out'."),
]
LivesBy = Annotated[
    str, typer.Option("--by", metavar="KEYS", help=f"Split by: {', '.join(LIFE_KEYS)}. Commas between; '' for none.")
]
Between = Annotated[
    str, typer.Option(metavar="A,B", help="With --show difference: the two groups of --by whose difference to tell.")
]


@question()
def lives(
    asked: Asked,
    *,
    by: LivesBy = "model",
    show: Annotated[
        str,
        typer.Option(
            help="figures: lives, fit and B10; fates: failed, renewed in time, still in use; comparison: whether the "
            "groups fail alike; difference: two groups by distance."
        ),
    ] = "figures",
    at: Annotated[str, typer.Option(metavar="KM", help="Distances (km) at which to tell shares; commas between.")] = "",
    within: Annotated[
        str, typer.Option(metavar="KEYS", help="With --show comparison: compare only within the same of these keys.")
    ] = "",
    between: Between = "",
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Component life: how far a part runs before it fails.

    \b
    Example: fleetlens lives --component egr_valve --by model,duty --at 50000,100000
    Example: fleetlens lives --component egr_valve --show fates
    Example: fleetlens lives --component egr_valve --by model --show comparison --within duty
    Example: fleetlens lives --component egr_valve --by duty --show difference --between motorway,multi-drop
    """
    snapshot, keys = asked.snapshot, several([by])
    given: dict[str, Any] = {"filters": asked.filters, "unknown_start": unknown_start}
    answers: Mapping[str, Callable[[], Finding]] = {
        "figures": lambda: component_lives(snapshot, by=keys, at=distances(at), **given),
        "fates": lambda: fates(snapshot, by=keys, at=distances(at), **given),
        "comparison": lambda: compared_lives(snapshot, by=keys, within=several([within]), **given),
        "difference": lambda: two_groups(snapshot, None, *_pair(keys, between), at=distances(at), **given),
    }
    answer = _chosen(show, answers)
    return life_rows(snapshot, **given) if asked.rows else answer()


def _pair(keys: Sequence[str], between: str) -> tuple[str, str, str]:
    """The key and its two groups. Raises FleetlensError where they aren't one and two."""
    groups = several([between])
    if len(keys) != 1 or len(groups) != 2:
        raise FleetlensError(
            "a difference is between two groups of one key",
            where="--by and --between",
            do="such as --by duty --between motorway,idling",
        )
    return keys[0], groups[0], groups[1]


@question(opens=False)
def recurrence(asked: Asked) -> Finding:
    """Recurrent failures: the mean number of failures per vehicle by odometer.

    \b
    Example: fleetlens recurrence --component egr_valve
    """
    return recurrent_failures(asked.snapshot, filters=asked.filters)


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
