"""The commands about how parts live and fail: lives, repeat failures, causes and measurements."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Annotated, Any, TypeVar

import typer

from fleetlens.advice.bench import PARTS, cause_split
from fleetlens.cli.answers import Asked, question
from fleetlens.cli.options import distances, several
from fleetlens.errors import FleetlensError
from fleetlens.findings import drift as drifting
from fleetlens.findings.b_lives import b_lives
from fleetlens.findings.causes import cause_rows
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.fates import fates
from fleetlens.findings.finding import Finding
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.life_fit import cumulative_hazards, life_fit, probability_points
from fleetlens.findings.lives import LIFE_KEYS, component_lives, life_rows
from fleetlens.findings.measurements import check_rows
from fleetlens.findings.measurements import measurements as measured
from fleetlens.findings.recurrence import recurrence_difference, recurrent_failures
from fleetlens.findings.vehicle_failures import VEHICLE_KEYS, failure_rows

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
            help="figures: lives, fit and B10; b-lives: any share, few failures too; fates: failed, renewed in time, "
            "still in use; comparison: whether the groups fail alike; difference: two groups by distance; fit: whether "
            "one Weibull describes the lives; points: the probability plot; hazard: the cumulative hazard."
        ),
    ] = "figures",
    at: Annotated[str, typer.Option(metavar="KM", help="Distances (km) at which to tell shares; commas between.")] = "",
    share: Annotated[
        str, typer.Option(metavar="SHARES", help="With --show b-lives: the shares failed; commas between.")
    ] = "0.1,0.5",
    shape: Annotated[
        float | None, typer.Option(help="With --show b-lives: this Weibull shape instead of a fitted one.")
    ] = None,
    shape_from: Annotated[
        str, typer.Option(metavar="KEY=GROUP", help="With --show b-lives: the shape of this group; commas between.")
    ] = "",
    within: Annotated[
        str, typer.Option(metavar="KEYS", help="With --show comparison: compare only within the same of these keys.")
    ] = "",
    between: Between = "",
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Component life: how far a part runs before it fails.

    \b
    Example: fleetlens lives --component egr_valve --by model,duty --at 50000,100000
    Example: fleetlens lives --component egr_valve --show b-lives --share 0.01,0.1 --shape-from model=Fell
    Example: fleetlens lives --component egr_valve --show fates
    Example: fleetlens lives --component egr_valve --by model --show comparison --within duty
    Example: fleetlens lives --component egr_valve --by duty --show difference --between motorway,multi-drop
    Example: fleetlens lives --component egr_valve --by '' --show fit
    """
    snapshot, keys = asked.snapshot, several([by])
    given: dict[str, Any] = {"filters": asked.filters, "unknown_start": unknown_start}
    answers: Mapping[str, Callable[[], Finding]] = {
        "figures": lambda: component_lives(snapshot, by=keys, at=distances(at), **given),
        "b-lives": lambda: b_lives(
            snapshot, by=keys, shares=_shares(share), shape=shape, shape_from=_groups(shape_from), **given
        ),
        "fates": lambda: fates(snapshot, by=keys, at=distances(at), **given),
        "comparison": lambda: compared_lives(snapshot, by=keys, within=several([within]), **given),
        "difference": lambda: two_groups(snapshot, None, *_pair(keys, between), at=distances(at), **given),
        "fit": lambda: life_fit(snapshot, by=keys, **given),
        "points": lambda: probability_points(snapshot, by=keys, **given),
        "hazard": lambda: cumulative_hazards(snapshot, by=keys, **given),
    }
    answer = _chosen(show, answers)
    return life_rows(snapshot, **given) if asked.rows else answer()


def _shares(text: str) -> tuple[float, ...]:
    """The shares named in `text`. Raises FleetlensError for what is no number."""
    try:
        return tuple(float(part) for part in several([text]))
    except ValueError:
        raise FleetlensError(f"these aren't shares: {text!r}", where="--share", do="such as 0.1,0.5") from None


def _groups(text: str) -> dict[str, str]:
    """The keys and groups named in `text`. Raises FleetlensError for a part without both."""
    pairs = [part.partition("=") for part in several([text])]
    if not all(key and mark and group for key, mark, group in pairs):
        raise FleetlensError(f"this names no group: {text!r}", where="--shape-from", do="such as model=Fell")
    return {key.strip(): group.strip() for key, _, group in pairs}


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


@question()
def recurrence(
    asked: Asked,
    *,
    by: Annotated[
        str,
        typer.Option("--by", metavar="KEYS", help=f"Split by: {', '.join(VEHICLE_KEYS)}. Commas between; '' for none."),
    ] = "",
    show: Annotated[
        str,
        typer.Option(
            help="curve: mean failures per vehicle; trend: whether they come ever more often; difference: two groups."
        ),
    ] = "curve",
    at: Annotated[
        str, typer.Option(metavar="KM", help="With --show difference: at which distances (km); commas between.")
    ] = "",
    between: Between = "",
) -> Finding:
    """Recurrent failures: the mean number of failures per vehicle by odometer.

    \b
    Example: fleetlens recurrence --component egr_valve
    Example: fleetlens recurrence --show trend --by duty
    Example: fleetlens recurrence --component egr_valve --by depot --show difference --between Osmere,Sandreth
    """
    snapshot, filters, keys = asked.snapshot, asked.filters, several([by])
    answers: Mapping[str, Callable[[], Finding]] = {
        "curve": lambda: recurrent_failures(snapshot, filters=filters, by=keys),
        "trend": lambda: failure_trends(snapshot, filters=filters, by=keys),
        "difference": lambda: recurrence_difference(
            snapshot, None, *_pair(keys, between), at=distances(at), filters=filters
        ),
    }
    answer = _chosen(show, answers)
    return failure_rows(snapshot, filters=filters, by=keys) if asked.rows else answer()


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
    ] = drifting.WITHIN_KM,
) -> Finding:
    """Measurements: checks against the limits of their job, and values on the way to a failure.

    \b
    Example: fleetlens measurements --component egr_valve
    Example: fleetlens measurements --component brakes --show drift --within 40000
    """
    given: dict[str, Any] = {"snapshot": asked.snapshot, "filters": asked.filters}
    near: dict[str, Any] = {**given, "within_km": within}
    answers: Mapping[str, tuple[Callable[[], Finding], Callable[[], Finding]]] = {
        "limits": (partial(measured, **given), partial(check_rows, **given)),
        "drift": (partial(drifting.drift, **near), partial(drifting.drift_rows, **near)),
        "distance": (partial(drifting.drift_by_distance, **near), partial(drifting.drift_rows, **near)),
    }
    figures, rows = _chosen(show, answers)
    return rows() if asked.rows else figures()


def _chosen(show: str, answers: Mapping[str, T]) -> T:
    """The answer that --show names. Raises FleetlensError for another word."""
    if show not in answers:
        raise FleetlensError(
            f"there is nothing to show as {show!r}", where="--show", do=f"one of: {', '.join(answers)}"
        )
    return answers[show]
