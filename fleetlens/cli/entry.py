"""The entry point: all commands, and the one place where errors become words and an exit code."""

import contextlib
import importlib.metadata
import io
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Annotated

import typer

from fleetlens.cli import (
    advice_questions,
    backtesting,
    checks_in,
    code_questions,
    life_questions,
    lines_in,
    maps_in,
    planning,
    questions,
    repair_questions,
    showing,
    store_in,
    tables_in,
)
from fleetlens.errors import FleetlensError

USER_CAN_MEND, OUR_BUG, INTERRUPTED = 2, 1, 130
DEBUG = "FLEETLENS_DEBUG"

app = typer.Typer(
    name="fleetlens",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command in (
    *(tables_in.load, questions.codes, life_questions.lives),
    *(advice_questions.intervals, advice_questions.policies, advice_questions.choose, planning.plan),
    backtesting.backtest,
    *(checks_in.check, store_in.loads, store_in.undo, store_in.rules, store_in.rebuild),
    store_in.settings,
    *(repair_questions.comebacks, repair_questions.warranty, repair_questions.cost, repair_questions.campaign),
    *(code_questions.trends, code_questions.together),
    *(life_questions.causes, life_questions.measurements),
    *(lines_in.lines, lines_in.words, tables_in.template),
    *(questions.vehicle, life_questions.recurrence, tables_in.sample, showing.demo, showing.dashboard),
):
    app.command()(command)
app.command("map")(maps_in.suggest_map)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"fleetlens {importlib.metadata.version('fleetlens')}")
        raise typer.Exit


@app.callback()
def _top(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="The version.")] = False,
) -> None:
    """The view across workshop jobs: codes that recur, component life, comebacks, cleaning intervals."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and end the process.

    Exit code 0: done. 2: something that the user can mend, said on stderr. 1: a bug, said on stderr. 130: interrupted.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    try:
        app(arguments, prog_name="fleetlens")
    except FleetlensError as error:
        _end(str(error), USER_CAN_MEND)
    except (KeyboardInterrupt, typer.Abort):
        _end("stopped", INTERRUPTED)
    except OSError as error:  # a full disk, a folder that may not be written to
        refused = FleetlensError(
            f"the system refused: {error.strerror or error}",
            where=str(error.filename or ""),
            do="the same again when there is room and permission",
        )
        _end(str(refused), USER_CAN_MEND)
    except Exception as error:  # noqa: BLE001 - the last door: no traceback reaches a user who didn't ask
        if os.environ.get(DEBUG):
            traceback.print_exc()
        _end(
            f"this is a bug in fleetlens ({type(error).__name__}: {error})\n"
            f"  try: the same again with {DEBUG}=1 set, and report what it prints",
            OUR_BUG,
        )


def _end(words: str, code: int) -> None:
    with contextlib.suppress(OSError):  # nobody may be reading any more
        typer.echo(words, err=True)
    sys.exit(code)
