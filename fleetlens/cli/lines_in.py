"""The command that shows what is read in job lines, before anything is loaded."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from fleetlens.cli.options import STORE, AsJson, Store
from fleetlens.intake.lines.files import texts
from fleetlens.intake.lines.reader import LineReader, record
from fleetlens.intake.lines.words import FILE_NAME, load_words
from fleetlens.output.lines import show_lines
from fleetlens.output.records import as_text


def lines(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or Parquet file with job lines in a column.")],
    *,
    column: Annotated[str, typer.Option("--column", metavar="NAME", help="The column that holds the lines.")],
    words: Annotated[
        Path | None,
        typer.Option("--words", metavar="FILE", help="Words of your own, TOML; else words.toml in the store."),
    ] = None,
    store: Store = STORE,
    as_json: AsJson = False,
) -> None:
    """Show what is read in each job line: codes, work done and not done, causes, and the words that say so.

    \b
    Example: fleetlens lines exports/march/jobs.csv --column complaint
    """
    in_store = store / FILE_NAME
    reader = LineReader(load_words(words or (in_store if in_store.is_file() else None)))
    cells = texts(file, column)
    known = {cell: reader.read(cell) for cell in dict.fromkeys(cells)}
    if as_json:
        typer.echo(as_text({"rows": [record(known[cell]) for cell in cells]}))
    else:
        show_lines([known[cell] for cell in cells], Console())
