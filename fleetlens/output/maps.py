"""A suggested column map, for people: what was found, each column with its evidence, the questions, the first rows."""

from collections.abc import Mapping

import polars as pl
from rich.console import Console
from rich.text import Text

from fleetlens.intake.maps.suggest import Choice, Suggestion
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.output.columns import Column
from fleetlens.output.terminal import lines, tables
from fleetlens.output.words import UNKNOWN, harmless

_SURE, _LIKELY = 0.85, 0.65
_LONGEST = 40  # characters of a value that is shown


def show_suggestion(console: Console, sheet: Sheet, suggestion: Suggestion, rows: Mapping[str, pl.DataFrame]) -> None:
    """Print the suggestion. Names and values of the file are shown as they are, never as markup."""
    made = suggestion.column_map
    kind = "one table" if made.kind == "table" else "a wide export, a row of which is a line of a job"
    console.print(Text(f"{harmless(sheet.name)}: {kind}", style="bold"))
    console.print(Text(f"found: {harmless('; '.join(sheet.told)) or 'nothing out of the ordinary'}"))
    for table in tables(_choices(suggestion.choices), console.width):
        console.print(table)
    for title, said in (("Concluded", suggestion.conclusions), ("To be answered", suggestion.questions)):
        if said:
            console.print(Text(f"\n{title}", style="bold"))
            console.print(lines(("•", harmless(line)) for line in said))
    for name, shown in rows.items():
        console.print(Text(f"\nAs table {name} the first rows would be", style="bold"))
        if shown.is_empty():
            console.print(Text("no rows among those looked at"))
        for table in tables([_shown(shown[column]) for column in shown.columns], console.width):
            console.print(table)


def _choices(choices: tuple[Choice, ...]) -> list[Column]:
    return [
        Column("Column", tuple(harmless(choice.column) for choice in choices), key=True),
        Column("Taken for", tuple(", ".join(choice.ours) or "left aside" for choice in choices)),
        Column("How sure", tuple(_sure(choice) for choice in choices)),
        Column("Because", tuple(harmless("; ".join(choice.evidence)) for choice in choices)),
    ]


def _sure(choice: Choice) -> str:
    if not choice.ours:
        return UNKNOWN
    return "sure" if choice.confidence >= _SURE else "likely" if choice.confidence >= _LIKELY else "a guess"


def _shown(values: pl.Series) -> Column:
    cells = (UNKNOWN if value is None else harmless(str(value)[:_LONGEST]) for value in values)
    return Column(values.name, tuple(cells), key=values.name == "row")
