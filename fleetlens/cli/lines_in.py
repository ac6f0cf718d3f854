"""The commands for job lines: what is read in them, and the fleet's own words to read them with."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from fleetlens.cli.options import STORE, AsJson, Store
from fleetlens.intake.lines.files import texts
from fleetlens.intake.lines.reader import LineReader, record
from fleetlens.intake.lines.starter import write_starter
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
    known_words = load_words(words or (in_store if in_store.is_file() else None))
    reader = LineReader(known_words)
    cells = texts(file, column)
    known = {cell: reader.read(cell) for cell in dict.fromkeys(cells)}
    if as_json:
        typer.echo(as_text({"rows": [record(known[cell]) for cell in cells]}))
    else:
        show_lines([known[cell] for cell in cells], known_words, Console())


def words(store: Store = STORE) -> None:
    """Start the file of your own words in the store, with examples; where there is one, check it.

    \b
    Example: fleetlens words
    """
    path = store / FILE_NAME
    if not path.exists():
        write_starter(path)
        typer.echo(f"Written: {path}. It holds examples only; open it and put your own words in.")
        return
    known = load_words(path)
    kinds = [kind for kind, _, _ in known.added]
    typer.echo(
        f"{path} is in order: words for components {kinds.count('C')}, actions {kinds.count('A')},"
        f" causes {kinds.count('K')}; codes {len(known.codes)}."
    )
