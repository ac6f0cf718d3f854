"""The command that suggests a column map for a workshop's own export, shows it and writes it."""

from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from fleetlens.cli.options import STORE, AsJson, Store
from fleetlens.errors import FleetlensError
from fleetlens.intake.maps import written
from fleetlens.intake.maps.preview import preview
from fleetlens.intake.maps.reading import line_reader
from fleetlens.intake.maps.suggest import Suggestion, suggest
from fleetlens.intake.readers.opening import open_file
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.output.maps import show_suggestion
from fleetlens.output.records import as_text
from fleetlens.store import snapshots
from fleetlens.store.reader import open_store


def suggest_map(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="An export of a workshop's own system.")],
    *,
    out: Annotated[Path | None, typer.Option("--out", metavar="MAP.toml", help="Write the map there.")] = None,
    sheet: Annotated[
        str | None, typer.Option("--sheet", metavar="NAME", help="The sheet of a workbook, or member of an archive.")
    ] = None,
    store: Store = STORE,
    as_json: AsJson = False,
) -> None:
    """Suggest which column of a file is which of ours, with the evidence, and show its first rows as they would load.

    \b
    Example: fleetlens map exports/march.csv --out march.toml
    """
    if not file.is_file():
        raise FleetlensError("there is no such file", where=str(file), do="check the path")
    sheets = _chosen(open_file(file), sheet, file)
    today = datetime.now().astimezone().date()
    known = _known_vehicles(store)
    read = line_reader(store)
    found = []
    for one in sheets:
        suggestion = suggest(one, today, known)
        shown = preview(one, suggestion.column_map, read, today)
        text = written.write(suggestion.column_map)
        where = _place(out, one, len(sheets) > 1)
        if where is not None:
            where.write_text(text, encoding="utf-8")
        found.append((one, suggestion, shown, text, where))
    if as_json:
        typer.echo(as_text({"sheets": [_as_json(*one) for one in found]}))
        return
    console = Console()
    for one, suggestion, shown, text, where in found:
        show_suggestion(console, one, suggestion, shown)
        if where is None:
            typer.echo(f"\n{text}")
        else:
            typer.echo(f"\nThe map is written to {where}.")
            typer.echo(f"{_first_step(suggestion)}load with: fleetlens load {file} --map {where}")


def _first_step(suggestion: Suggestion) -> str:
    return 'Write the answers in place of "?" there, then ' if suggestion.questions else "Look it over, then "


def _chosen(sheets: list[Sheet], wanted: str | None, file: Path) -> list[Sheet]:
    """The sheets to look at: the one asked for, else all that the workbook shows."""
    if wanted is None:
        return [sheet for sheet in sheets if not sheet.hidden] or sheets
    found = [sheet for sheet in sheets if sheet.part.casefold() == wanted.strip().casefold()]
    if not found:
        named = ", ".join(repr(sheet.part) for sheet in sheets if sheet.part)
        raise FleetlensError(
            f"there is no sheet {wanted!r}",
            where=str(file),
            do=f"name one of {named}" if named else "leave --sheet out: the file has only one",
        )
    return found


def _known_vehicles(store: Path) -> frozenset[str]:
    """The vehicles that the store holds; none where there is no store yet."""
    if snapshots.current(store) is None:
        return frozenset()
    with open_store(store) as snapshot:
        return frozenset(snapshot.frame("findings/vehicle_ids", models=None, duties=None, depots=None)["vehicle_id"])


def _place(out: Path | None, sheet: Sheet, several: bool) -> Path | None:
    """Where the map goes; of several sheets each has its own file, with the sheet's name in it."""
    if out is None or not several:
        return out
    part = "".join(letter if letter.isalnum() else "-" for letter in sheet.part)
    return out.with_name(f"{out.stem}-{part}{out.suffix}")


def _as_json(
    sheet: Sheet, suggestion: Suggestion, shown: dict[str, Any], text: str, where: Path | None
) -> dict[str, Any]:
    return {
        "file": str(sheet.path),
        "sheet": sheet.part,
        "found": list(sheet.told),
        "kind": suggestion.column_map.kind,
        "columns": [
            {
                "column": choice.column,
                "ours": list(choice.ours),
                "confidence": round(choice.confidence, 2),
                "evidence": list(choice.evidence),
            }
            for choice in suggestion.choices
        ],
        "conclusions": list(suggestion.conclusions),
        "questions": list(suggestion.questions),
        "preview": {table: rows.to_dicts() for table, rows in shown.items()},
        "map": text,
        "written_to": None if where is None else str(where),
    }
