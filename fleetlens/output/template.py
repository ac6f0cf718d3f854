"""A workbook for a workshop without a system: a sheet for each input table, to be filled in and loaded as it is."""

import io
from datetime import date, datetime
from typing import Any

import xlsxwriter

from fleetlens.vocabulary.components import components
from fleetlens.vocabulary.tables import EXAMPLE_MARK, Column, Table, tables

__all__ = ["template"]

_FIRST, _LISTS = "How to use", "Components"
_ROWS = 5_000  # rows of a sheet that are prepared: their lists and formats
_EXAMPLE, _LONGEST_LIST = 1, 255  # row of the example; characters of a list in a cell, ECMA-376
_SKIPPED = ("from_text",)  # what only a reader of text can say
_HELP = (
    "One sheet is one table. Fill in vehicles and jobs first, the others as far as you have something to tell.",
    "A heading in bold must have a value in every row; the rest may stay blank. Point at one to read its meaning.",
    "Dates are typed as dates, or as text: 2026-03-31, or 2026-03-31 14:30 with a time.",
    "Numbers have no unit: what ends in _km is in kilometres, what ends in _h in hours, costs in your one currency.",
    "An odometer in miles has mi in odometer_unit beside it; blank is km.",
    "An arrow beside a cell offers the values there are. The names of components stand on the sheet Components.",
    "A vehicle in jobs must stand in vehicles; a job in job_codes, job_actions and job_checks must stand in jobs.",
    f"Row 2 of each sheet is an example. It begins with {EXAMPLE_MARK}, so it is left out on load; delete it or not.",
    "The names of the sheets and the headings must stay as they are; columns that you don't need may be deleted.",
    "Look first:  fleetlens load NAME.xlsx --dry-run",
    "Load it:     fleetlens load NAME.xlsx",
)
_VEHICLE, _JOB = f"{EXAMPLE_MARK} V12", f"{EXAMPLE_MARK} 1047"
_EXAMPLES: dict[str, dict[str, Any]] = {
    "vehicles": {
        "vehicle_id": _VEHICLE,
        "registration": "OV1012",
        "make": "Kestrane",
        "model": "Skiff",
        "model_year": 2021,
        "fuel": "diesel",
        "duty": "multi-drop",
        "depot": "Wexmoor",
        "in_service_on": date(2021, 3, 1),
        "in_service_km": 12,
    },
    "fitted": {"model": f"{EXAMPLE_MARK} Skiff", "component": "egr_valve", "count": 1},
    "jobs": {
        "job_id": _JOB,
        "vehicle_id": _VEHICLE,
        "opened_at": datetime(2026, 3, 30, 8, 15),
        "closed_at": datetime(2026, 3, 31, 16, 0),
        "odometer": 148_220,
        "odometer_unit": "km",
        "reason": "defect",
        "complaint": "no power, engine light on",
        "workshop": "Harlbridge Lane",
        "downtime_h": 31.75,
    },
    "job_codes": {"job_id": _JOB, "code": "P0401", "status": "stored"},
    "job_actions": {
        "job_id": _JOB,
        "line": 1,
        "component": "egr_valve",
        "action": "clean",
        "cause": "carbon",
        "labour_h": 1.5,
        "labour_cost": 96,
        "parts_cost": 8.4,
    },
    "job_checks": {"job_id": _JOB, "component": "egr_valve", "check": "road_test", "passed": True},
    "odometer": {
        "vehicle_id": _VEHICLE,
        "read_at": date(2026, 3, 15),
        "odometer": 147_600,
        "odometer_unit": "km",
        "source": "fuel card",
    },
}


def template() -> bytes:
    """The workbook: a sheet that explains, a sheet for each table with its headings, lists and example, and a list."""
    held = io.BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as book:
        _explain(book)
        for table in tables().values():
            _sheet(book, table)
        _list_of_components(book)
    return held.getvalue()


def _explain(book: xlsxwriter.Workbook) -> None:
    sheet = book.add_worksheet(_FIRST)
    title, wrapped = (
        book.add_format({"bold": True, "font_size": 14}),
        book.add_format({"text_wrap": True, "valign": "top"}),
    )
    sheet.set_column(0, 0, 110)
    sheet.write_string(0, 0, "How to use this workbook", title)
    for row, line in enumerate(_HELP, start=2):
        sheet.write_string(row, 0, line, wrapped)
    for row, table in enumerate(tables().values(), start=len(_HELP) + 3):
        sheet.write_string(row, 0, f"{table.name}: {table.description}", wrapped)


def _sheet(book: xlsxwriter.Workbook, table: Table) -> None:
    """One table: headings with what they mean, formats, lists, and the example in row 2."""
    sheet = book.add_worksheet(table.name)
    plain, needed = ({"bottom": 1, "text_wrap": True, "valign": "top"} | more for more in ({}, {"bold": True}))
    heads = {False: book.add_format(plain), True: book.add_format(needed)}
    columns = [column for column in table.columns if column.name not in _SKIPPED]
    for at, column in enumerate(columns):
        looks = _number_format(column)
        sheet.set_column(at, at, max(12, len(column.name) + 2), book.add_format({"num_format": looks}))
        sheet.write_string(0, at, column.name, heads[column.required])
        sheet.write_comment(0, at, _meaning(column), {"x_scale": 2})
        if rule := _rule(table, column):
            sheet.data_validation(1, at, _ROWS, at, rule)
        value = _EXAMPLES[table.name].get(column.name)
        if value is not None:
            _write(sheet, at, value, book.add_format({"num_format": looks, "italic": True, "font_color": "#6b6b6b"}))
    sheet.freeze_panes(1, 1)


def _meaning(column: Column) -> str:
    unit = f" Unit: {column.unit.replace('_', ' ')}." if column.unit else ""
    needed = " Needed in every row." if column.required else ""
    return f"{column.description}{unit}{needed}"


def _number_format(column: Column) -> str:
    return {"date": "yyyy-mm-dd", "datetime": "yyyy-mm-dd hh:mm", "string": "@"}.get(column.type, "General")


def _rule(table: Table, column: Column) -> dict[str, Any] | None:
    """The list that a cell offers. Values from elsewhere in the workbook may be overruled, those of ours may not."""
    there = next((reference for reference in table.references if reference.column == column.name), None)
    if there is not None:
        place = f"={there.table}!$A${_EXAMPLE + 2}:$A${_ROWS + 1}"
        return {"validate": "list", "source": place, "error_type": "information"}
    if column.name == "component":
        return {"validate": "list", "source": f"={_LISTS}!$A$2:$A${len(_parts()) + 1}", "error_type": "information"}
    allowed = ("true", "false") if column.type == "boolean" else column.allowed
    if not allowed:
        return None
    if sum(len(value) + 1 for value in allowed) > _LONGEST_LIST:
        last = len(allowed) + 1
        return {"validate": "list", "source": f"={_LISTS}!$D$2:$D${last}"}
    return {"validate": "list", "source": list(allowed)}


def _parts() -> list[tuple[str, str]]:
    return [*((part.name, part.label) for part in components().values()), ("vehicle", "the vehicle as a whole")]


def _list_of_components(book: xlsxwriter.Workbook) -> None:
    """The names of components, and of actions, which are too long a list for a cell."""
    sheet = book.add_worksheet(_LISTS)
    bold = book.add_format({"bold": True})
    sheet.set_column(0, 1, 34)
    allowed = next(column.allowed for column in tables()["job_actions"].columns if column.name == "action")
    for at, (title, values) in {
        0: ("Name to write", [name for name, _ in _parts()]),
        1: ("What it is", [label for _, label in _parts()]),
        3: ("Actions", list(allowed)),
    }.items():
        sheet.write_string(0, at, title, bold)
        sheet.write_column(1, at, values)
    sheet.freeze_panes(1, 0)


def _write(sheet: Any, at: int, value: Any, look: Any) -> None:
    if isinstance(value, bool):
        sheet.write_string(_EXAMPLE, at, str(value).lower(), look)
    elif isinstance(value, date):
        sheet.write_datetime(_EXAMPLE, at, value, look)
    else:
        sheet.write(_EXAMPLE, at, value, look)
