"""A command that answers one question: the shared options around it, and its finding handed to a renderer."""

import functools
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer
from rich.console import Console

from fleetlens.cli.options import (
    STORE,
    AsJson,
    Components,
    Depots,
    Duties,
    Models,
    Out,
    Rows,
    Store,
    WithoutText,
    several,
)
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.output.files import check_target, write
from fleetlens.output.records import as_text, record
from fleetlens.output.terminal import show
from fleetlens.store.reader import Snapshot, open_store


@dataclass(frozen=True, slots=True)
class Asked:
    """What every question gets: the open snapshot, the filters, and whether rows are wanted instead of figures."""

    snapshot: Snapshot
    filters: Filters
    rows: bool


def question(*, filtered: bool = True, opens: bool = True) -> Callable[[Callable[..., Finding]], Callable[..., None]]:
    """Make a command of a function `(asked, *, its own options) -> Finding`.

    It gets --store, --json and --out; with `filtered` the four filters and --without-text, with `opens` also --rows.
    """

    def made(function: Callable[..., Finding]) -> Callable[..., None]:
        @functools.wraps(function)
        def command(  # noqa: PLR0917 - called by name only
            store: Path,
            as_json: bool,
            out: Path | None,
            model: list[str] | None = None,
            duty: list[str] | None = None,
            depot: list[str] | None = None,
            component: list[str] | None = None,
            rows: bool = False,
            without_text: bool = False,
            **own: Any,
        ) -> None:
            if out is not None:
                check_target(out)
            filters = Filters(several(model), several(duty), several(depot), several(component))
            with open_store(store, text=not without_text) as snapshot:
                finding = function(Asked(snapshot, filters, rows), **own)
            give(finding, as_json=as_json, out=out)

        own = list(inspect.signature(function).parameters.values())[1:]
        command.__signature__ = inspect.Signature([*own, *_shared(filtered, opens)])  # type: ignore[attr-defined]
        return command

    return made


def give(finding: Finding, *, as_json: bool, out: Path | None) -> None:
    """Write the finding to the file, and print it where no file or JSON too is wanted."""
    if out is not None:
        write(finding, out)
        typer.echo(f"{finding.rows.height:,} rows written to {out}", err=True)
    if as_json:
        typer.echo(as_text(record(finding)))
    elif out is None:
        show(finding, Console())


def _shared(filtered: bool, opens: bool) -> Sequence[inspect.Parameter]:
    chosen: list[tuple[str, Any, Any]] = []
    if filtered:
        chosen += [("component", Components, None), ("model", Models, None)]
        chosen += [("duty", Duties, None), ("depot", Depots, None)]
        chosen += [("without_text", WithoutText, False)]
    if opens:
        chosen += [("rows", Rows, False)]
    chosen += [("store", Store, STORE), ("as_json", AsJson, False), ("out", Out, None)]
    return [
        inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)
        for name, kind, default in chosen
    ]
