"""The commands that ask the store a question."""

from typing import Annotated

import typer

from fleetlens.cli.answers import Asked, question
from fleetlens.errors import FleetlensError
from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.findings.finding import Finding
from fleetlens.findings.vehicles import vehicle_history


@question()
def codes(
    asked: Asked,
    *,
    code: Annotated[str | None, typer.Option(help="With --rows: the code whose events to show.")] = None,
) -> Finding:
    """Recurring codes: episodes, vehicles, and the rate per 100,000 km with its interval.

    \b
    Example: fleetlens codes --depot Osmere --out codes.xlsx
    Example: fleetlens codes --rows --code P0401
    """
    if asked.rows and not code:
        raise FleetlensError("--rows needs a code to open", do="fleetlens codes --rows --code P0401")
    if code and not asked.rows:
        raise FleetlensError("--code opens the rows of a code", do=f"fleetlens codes --rows --code {code}")
    return code_rows(asked.snapshot, code, asked.filters) if code else recurring_codes(asked.snapshot, asked.filters)


@question(filtered=False, opens=False)
def vehicle(asked: Asked, *, vehicle_id: Annotated[str, typer.Argument(metavar="ID", help="The vehicle.")]) -> Finding:
    """Vehicle history: what was found and done on one vehicle, visit by visit.

    \b
    Example: fleetlens vehicle V000001
    """
    return vehicle_history(asked.snapshot, vehicle_id)
