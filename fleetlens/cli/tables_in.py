"""The commands that bring tables: a load into the store, and an invented fleet to try things on."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from fleetlens.cli.options import STORE, AsJson, Maps, RefusedTo, Store, column_maps, day
from fleetlens.cli.progress import told
from fleetlens.errors import FleetlensError
from fleetlens.intake.completeness import Origin
from fleetlens.intake.load import load as load_files
from fleetlens.intake.report import LoadReport
from fleetlens.output.loads import show_load
from fleetlens.output.records import as_text
from fleetlens.output.template import template as workbook_template
from fleetlens.sample.make import make_sample


def load(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Folders or files of the input tables.")],
    *,
    store: Store = STORE,
    maps: Maps = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check everything and change nothing.")] = False,
    as_of: Annotated[
        str | None, typer.Option("--as-of", metavar="DATE", help="Last day of the record from now on.")
    ] = None,
    odometer_proposals: Annotated[
        str | None,
        typer.Option(
            "--odometer-proposals",
            metavar="propose|apply",
            help="List the distances proposed for contradicting readings, or use them, from now on.",
        ),
    ] = None,
    source: Annotated[
        str | None, typer.Option("--source", metavar="NAME", help="Where the files come from, such as a workshop.")
    ] = None,
    complete: Annotated[
        str | None,
        typer.Option(
            "--complete",
            metavar="FROM..TO",
            help="The files hold every job of --source opened in this period: those gone from them are removed.",
        ),
    ] = None,
    refused_to: RefusedTo = None,
    as_json: AsJson = False,
) -> None:
    """Load input tables into the store; rows that break a rule are refused and listed.

    \b
    Example: fleetlens load exports/march --store fleet-store
    """
    with told() as progress:
        report = load_files(
            paths,
            store,
            maps=column_maps(maps),
            dry_run=dry_run,
            as_of=day(as_of),
            odometer_proposals=odometer_proposals,
            origin=_origin(source, complete),
            refused_to=refused_to,
            progress=progress,
        )
    if as_json:
        typer.echo(as_text(report.to_json()))
    else:
        show_load(report, Console(), dry_run=dry_run)
    refuse_nothing(report)


def _origin(source: str | None, complete: str | None) -> Origin | None:
    """Where the files come from, as the two options say."""
    if source is None:
        if complete is not None:
            raise FleetlensError("--complete needs to know of which source", do="name it with --source")
        return None
    if complete is None:
        return Origin(source)
    start, mark, end = complete.partition("..")
    if not mark:
        raise FleetlensError(
            f"this period can't be read: {complete!r}",
            where="--complete",
            do="two dates, such as 2026-05-01..2026-05-31",
        )
    return Origin(source, day(start, "--complete"), day(end, "--complete"))


def refuse_nothing(report: LoadReport) -> None:
    """Raise FleetlensError where rows came and not one was of use."""
    if report.rows_in and not report.accepted + report.repeated:
        raise FleetlensError(
            f"nothing could be loaded: all {report.rows_in:,} rows were refused", do="mend the rows listed, load again"
        )


def template(
    out: Annotated[Path, typer.Argument(metavar="OUT.xlsx", help="The workbook to write.")],
) -> None:
    """Write a workbook to fill in by hand: a sheet for each table, with lists to choose from and an example row.

    \b
    Example: fleetlens template our_vans.xlsx
    """
    if out.suffix.lower() != ".xlsx":
        raise FleetlensError(f"a template is a workbook: {out.suffix or 'no ending'} is none", do="name a file .xlsx")
    if out.exists():
        raise FleetlensError(
            "there is such a file already", where=str(out), do="name another one: yours may be filled in"
        )
    out.write_bytes(workbook_template())
    typer.echo(f"Fill in {out}, then load it with: fleetlens load {out}")


def sample(
    out: Annotated[Path, typer.Argument(metavar="OUT", help="Folder for the files.")],
    *,
    vehicles: Annotated[int, typer.Option(help="How many, 1 to 200,000.")] = 400,
    seed: Annotated[int, typer.Option(help="The same seed makes the same bytes.")] = 1,
    file_format: Annotated[str, typer.Option("--format", help="csv or parquet.")] = "csv",
    as_json: AsJson = False,
) -> None:
    """Make an invented fleet of any size, with the truth it was made from beside it.

    \b
    Example: fleetlens sample invented --vehicles 50 --seed 7
    """
    with told() as progress:
        made = make_sample(out, vehicles=vehicles, seed=seed, file_format=file_format, progress=progress)  # type: ignore[arg-type] # it checks the name itself
    if as_json:
        rows, files = dict(made.rows), [str(file) for file in made.files]
        typer.echo(as_text({"folder": str(made.folder), "rows": rows, "files": files}))
        return
    for table, rows_made in made.rows.items():
        typer.echo(f"{table}: {rows_made:,} rows")
    typer.echo(f"An invented fleet stands in {made.folder}. Load it with: fleetlens load {made.folder}")
