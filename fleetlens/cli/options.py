"""The options that commands share: each means the same wherever it stands."""

import csv
import io
import math
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.maps.written import read as read_map

STORE = Path("fleet-store")

Store = Annotated[
    Path,
    typer.Option("--store", metavar="FOLDER", envvar="FLEETLENS_STORE", help="Folder of the store.", show_default=True),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of tables.")]
Out = Annotated[
    Path | None, typer.Option("--out", metavar="FILE", help="Write to FILE: .csv, .parquet, .xlsx or .json.")
]
Rows = Annotated[bool, typer.Option("--rows", help="The job rows behind the figures instead of the figures.")]
WithoutText = Annotated[bool, typer.Option("--without-text", help="Leave out what was read from free text.")]
Models = Annotated[
    list[str] | None, typer.Option("--model", metavar="NAME", help="Only these models (again, or with commas).")
]
Duties = Annotated[
    list[str] | None, typer.Option("--duty", metavar="NAME", help="Only these duties (again, or with commas).")
]
Depots = Annotated[
    list[str] | None, typer.Option("--depot", metavar="NAME", help="Only these depots (again, or with commas).")
]
Components = Annotated[
    list[str] | None, typer.Option("--component", metavar="NAME", help="Only these components (again, or with commas).")
]
Port = Annotated[int, typer.Option("--port", min=1, max=65535, help="Port of the dashboard on this machine.")]


Maps = Annotated[
    list[str] | None,
    typer.Option(
        "--map",
        metavar="[FILE=]MAP.toml",
        help="Column map of an export, as `fleetlens map` writes it (again); with FILE= for that file only.",
    ),
]
RefusedTo = Annotated[
    Path | None,
    typer.Option("--refused-to", metavar="FOLDER", help="Write the refused rows there, to be corrected and loaded."),
]


def column_maps(values: list[str] | None) -> list[ColumnMap]:
    """The column maps named by --map. Raises FleetlensError for one that can't be read."""
    found = []
    for value in values or []:
        file, mark, path = ("", "", value) if Path(value).is_file() else value.rpartition("=")
        one = read_map(Path(path))
        found.append(replace(one, file=Path(file).name) if mark else one)
    return found


def several(values: list[str] | None) -> tuple[str, ...]:
    """The values of an option that may be given again and may hold commas; quotes keep a comma: '"Van, long"'."""
    parts = (
        part.strip()
        for value in values or []
        for line in csv.reader(io.StringIO(value, newline=""), skipinitialspace=True)
        for part in line
    )
    return tuple(dict.fromkeys(part for part in parts if part))


def distances(text: str) -> tuple[float, ...]:
    """The kilometres named in `text`, separated by commas. Raises FleetlensError for what is no distance."""
    return tuple(_distance(part) for part in several([text]))


def _distance(text: str) -> float:
    try:
        km = float(text)
    except ValueError:
        km = math.nan
    if not 0 < km < math.inf:
        raise FleetlensError(
            f"this distance can't be read: {text!r}", where="--at", do="km above 0, such as --at 50000,100000"
        )
    return km


def day(text: str | None, option: str = "--as-of") -> date | None:
    """The day named in `text`. Raises FleetlensError for what is no date."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise FleetlensError(
            f"this date can't be read: {text!r}", where=option, do="a date that exists, such as 2026-03-31"
        ) from None
