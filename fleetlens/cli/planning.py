"""The command that plans the cleanings of the coming weeks, and writes the plan in the form it is wanted."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated

import polars as pl
import typer
from rich.console import Console

from fleetlens.advice.planning.packing import SECONDS
from fleetlens.advice.planning.plan import PLAN_KEYS, Plan, cleaning_plan
from fleetlens.advice.planning.wishes import AGREED, EXCLUDE, PIN, Wish, parse, wishes_of
from fleetlens.cli.options import STORE, AsJson, Components, Depots, Duties, Models, Store, several
from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.output.files import check_target, put
from fleetlens.output.plan_files import PLAN_FORMATS, plan_content, plan_record
from fleetlens.output.records import as_text
from fleetlens.output.terminal import show
from fleetlens.store.reader import open_store

__all__ = ["plan"]

_SHOWN = (
    "week_from",
    "vehicle_id",
    "component",
    "position",
    "action",
    "hours",
    "due_on",
    "chance_before_service",
    "saving",
)


def plan(
    *,
    first: Annotated[
        datetime | None,
        typer.Option("--from", metavar="DATE", formats=["%Y-%m-%d"], help="First day; else the day after the record."),
    ] = None,
    weeks: Annotated[int | None, typer.Option("--weeks", help="Weeks to plan; else as the preferences say.")] = None,
    by: Annotated[
        str, typer.Option("--by", metavar="KEYS", help=f"Lives split by: {', '.join(PLAN_KEYS)}. Commas between.")
    ] = "model",
    pin: Annotated[
        list[str] | None,
        typer.Option("--pin", metavar="VEHICLE:COMPONENT=DATE", help="Do this in the week of that day (again)."),
    ] = None,
    exclude: Annotated[
        list[str] | None,
        typer.Option("--exclude", metavar="VEHICLE[:COMPONENT]", help="Leave this out of the plan (again)."),
    ] = None,
    agreed: Annotated[
        Path | None,
        typer.Option("--agreed", metavar="PLAN.csv", help="A plan written earlier: its dates are kept where they can."),
    ] = None,
    wishes: Annotated[
        Path | None,
        typer.Option("--wishes", metavar="FILE.csv", help="Columns vehicle_id, component, week_from, wish."),
    ] = None,
    seconds: Annotated[float, typer.Option(min=1, help="Time to look for a better plan.")] = SECONDS,
    component: Components = None,
    model: Models = None,
    duty: Duties = None,
    depot: Depots = None,
    store: Store = STORE,
    as_json: AsJson = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help=f"Write to FILE: {', '.join(PLAN_FORMATS)}.")
    ] = None,
) -> None:
    """Cleaning plan: which vehicles to bring in which week, for what, and why.

    \b
    Example: fleetlens plan --from 2026-07-06 --weeks 8 --out plan.xlsx
    Example: fleetlens plan --exclude V000012 --pin V000048:egr_valve=2026-07-13 --out plan.ics
    """
    if out is not None:
        check_target(out, PLAN_FORMATS)
    wanted = tuple(_wishes(pin, exclude, agreed, wishes))
    filters = Filters(several(model), several(duty), several(depot), several(component))
    with open_store(store) as snapshot:
        made = cleaning_plan(
            snapshot,
            first=first.date() if first else None,
            weeks=weeks,
            by=several([by]),
            filters=filters,
            wishes=wanted,
            seconds=seconds,
        )
    if out is not None:
        put(out, plan_content(made, out.suffix))
        typer.echo(f"{made.tasks.rows.height:,} tasks written to {out}", err=True)
    if as_json:
        typer.echo(as_text(plan_record(made)))
    elif out is None:
        _print(made)


def _print(made: Plan) -> None:
    console = Console()
    weeks = made.weeks
    told = "What is planned, of what there is room for."
    show(Finding(weeks.question, weeks.rows, told, weeks.period, weeks.snapshot), console)
    console.print()
    show(replace(made.tasks, rows=made.tasks.rows.select(_SHOWN)), console)


def _wishes(
    pin: list[str] | None, exclude: list[str] | None, agreed: Path | None, wishes: Path | None
) -> Iterator[Wish]:
    for kind, texts in ((PIN, pin), (EXCLUDE, exclude)):
        yield from (parse(kind, text) for text in texts or ())
    if agreed is not None:
        yield from wishes_of(_table(agreed), str(agreed), AGREED)
    if wishes is not None:
        yield from wishes_of(_table(wishes), str(wishes))


def _table(path: Path) -> pl.DataFrame:
    """A CSV of ours, as text."""
    try:
        return pl.read_csv(path, infer_schema=False, encoding="utf8")
    except FileNotFoundError:
        raise FleetlensError("there is no such file", where=str(path), do="check the path") from None
    except (pl.exceptions.PolarsError, OSError) as error:
        raise FleetlensError(
            f"this file can't be read: {str(error).splitlines()[0]}",
            where=str(path),
            do="give a CSV in UTF-8 with commas, as `fleetlens plan --out plan.csv` writes it",
        ) from None
