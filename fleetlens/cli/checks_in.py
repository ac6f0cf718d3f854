"""The command that checks files without loading them: what was found, what each rule would refuse, with examples."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from fleetlens.cli.options import STORE, AsJson, Maps, RefusedTo, Store, column_maps
from fleetlens.cli.progress import told
from fleetlens.cli.tables_in import refuse_nothing
from fleetlens.intake.load import load as load_files
from fleetlens.output.checks import broken_rules, show_check
from fleetlens.output.records import as_text


def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Folders or files, as for a load.")],
    *,
    store: Store = STORE,
    maps: Maps = None,
    refused_to: RefusedTo = None,
    as_json: AsJson = False,
) -> None:
    """Check files as a load would, and write nothing: rows in and out, and each rule's count with examples.

    \b
    Example: fleetlens check exports/march
    """
    with told() as progress:
        report = load_files(
            paths,
            store,
            maps=column_maps(maps),
            dry_run=True,
            refused_to=refused_to,
            progress=progress,
        )
    if as_json:
        typer.echo(as_text(report.to_json() | {"rules": broken_rules(report)}))
    else:
        show_check(report, Console())
    refuse_nothing(report)
