"""One workbook with a sheet for each thing, made for the eye: titles, merged cells, two rows of headings, a total."""

import io
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from fleetlens.sample.exports import office
from fleetlens.sample.exports.histories import Tables, jobs, one_of, to_cents

__all__ = ["files"]

VEHICLES = (
    *(
        "Van",
        "Reg mark",
        "Chassis",
        "Make",
        "Type",
        "Year",
        "Engine",
        "Fuel",
        "Work",
        "Home",
        "In service",
        "Clock then",
    ),
    *("Records from", "Left"),
)
VISITS = (
    (
        "Visit",
        ("No", "Van", "Date in", "Date out", "Clock", "Unit", "Kind", "Driver says", "Shop", "Fitter", "Hours"),
    ),
    ("Codes", ("Read",)),
    ("Work", ("Line", "Part", "Done", "Found", "Place", "No", "Grade", "Qty", "Hours")),
    ("Cost", ("Labour", "Parts")),
    ("Notes", ("Remark",)),
)
MERGED = (0, 1, 2, 6)  # columns of a visit whose cells are merged over its lines
CHECKS = ("Visit no", "Part", "Check", "Measured", "Measure", "Min", "Max", "OK")
READINGS = ("Van", "Read on", "Clock", "Unit", "From")
FITTED = ("Type", "Part", "Per van")


def files(tables: Tables) -> dict[str, bytes]:
    """The workbook."""
    held = io.BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True}) as book:
        book.set_properties({"title": "Vans of the Osmere fleet", "created": datetime(2026, 7, 1)})
        pens = _Pens(book)
        _vehicles(book.add_worksheet("Vans"), tables, pens)
        _visits(book.add_worksheet("Visits"), tables, pens)
        _table(book.add_worksheet("Checks"), CHECKS, _checks(tables), pens)
        _table(book.add_worksheet("Clock readings"), READINGS, _readings(tables), pens)
        _table(book.add_worksheet("Fitted"), FITTED, _fitted(tables), pens)
        lists = book.add_worksheet("Lists")
        _table(lists, ("Kinds", "Done"), zip(office.REASONS.values(), office.ACTIONS.values(), strict=False), pens)
        lists.hide()
    return {"Fleet book.xlsx": held.getvalue()}


class _Pens:
    """The formats of the book."""

    def __init__(self, book: Any) -> None:
        self.title: Format = book.add_format({"bold": True, "font_size": 14})
        self.head: Format = book.add_format({"bold": True, "bottom": 1, "align": "center"})
        self.moment: Format = book.add_format({"num_format": "dd/mm/yyyy hh:mm", "valign": "top"})
        self.day: Format = book.add_format({"num_format": "dd/mm/yyyy"})
        self.money: Format = book.add_format({"num_format": "#,##0.00"})
        self.top: Format = book.add_format({"valign": "top"})


def _write(sheet: Worksheet, row: int, column: int, value: Any, pens: _Pens) -> None:
    """One cell; dates as the numbers that a workbook has for them."""
    if value is None:
        return
    if hasattr(value, "hour"):
        sheet.write_datetime(row, column, value, pens.moment)
    elif hasattr(value, "year"):
        sheet.write_datetime(row, column, value, pens.day)
    elif isinstance(value, str):
        sheet.write_string(row, column, value)
    else:
        sheet.write_number(row, column, value)


def _table(sheet: Worksheet, header: tuple[str, ...], rows: Iterable[Iterable[Any]], pens: _Pens, top: int = 0) -> None:
    """A header and rows below it; `top`: the row of the header, from 0."""
    sheet.write_row(top, 0, header, pens.head)
    for number, row in enumerate(rows, top + 1):
        for column, value in enumerate(row):
            _write(sheet, number, column, value, pens)


def _vehicles(sheet: Worksheet, tables: Tables, pens: _Pens) -> None:
    sheet.merge_range(0, 0, 0, len(VEHICLES) - 1, "Vans on the books", pens.title)
    rows = []
    for number, row in enumerate(tables["vehicles"].iter_rows(named=True)):
        spelt = one_of((row["model"], f"{row['model'].upper()} VAN"), "model spelt", number)
        rows.append([value if name != "model" else spelt for name, value in row.items()])
    _table(sheet, VEHICLES, rows, pens, top=2)


def _visits(sheet: Worksheet, tables: Tables, pens: _Pens) -> None:
    width = sum(len(names) for _, names in VISITS)
    sheet.merge_range(0, 0, 0, width - 1, "Workshop visits, all vans", pens.title)
    sheet.write_string(1, 0, "Kept by the fleet office")
    left = 0
    for group, names in VISITS:
        if len(names) > 1:
            sheet.merge_range(3, left, 3, left + len(names) - 1, group, pens.head)
        else:
            sheet.write_string(3, left, group, pens.head)
        sheet.write_row(4, left, names, pens.head)
        left += len(names)
    row = 5
    for job, codes, lines in jobs(tables):
        for offset, line in enumerate(lines):
            for column, value in enumerate([*_visit(job, codes), *_work(line)]):
                if column not in MERGED or len(lines) == 1:
                    _write(sheet, row + offset, column, value, pens)
        if len(lines) > 1:
            _merge(sheet, row, row + len(lines) - 1, _visit(job, codes), pens)
        row += len(lines)
    _total(sheet, row, width, tables, pens)


def _merge(sheet: Worksheet, first: int, last: int, visit: list[Any], pens: _Pens) -> None:
    for column in MERGED:
        pen = pens.moment if hasattr(visit[column], "hour") else pens.top
        sheet.merge_range(first, column, last, column, "", pen)
        _write(sheet, first, column, visit[column], pens)


def _total(sheet: Worksheet, row: int, width: int, tables: Tables, pens: _Pens) -> None:
    """The sums of hours and costs, as formulas with the values they had."""
    sheet.write_string(row, 0, "Total")
    for back, name in ((4, "labour_h"), (3, "labour_cost"), (2, "parts_cost")):
        column = width - back
        letter = chr(ord("A") + column)
        value = to_cents(tables["job_actions"][name].to_list())
        sheet.write_formula(row, column, f"=SUM({letter}6:{letter}{row})", pens.money, value)


def _visit(job: Mapping[str, Any], codes: list[str]) -> list[Any]:
    kept = ("job_id", "vehicle_id", "opened_at", "closed_at", "odometer", "odometer_unit")
    told = [job[name] for name in ("complaint", "workshop", "technician", "downtime_h")]
    return [*(job[name] for name in kept), office.REASONS[job["reason"]], *told, " ".join(codes) or None]


def _work(line: Mapping[str, Any]) -> list[Any]:
    kept = (
        "cause",
        "position",
        "part_number",
        "part_grade",
        "quantity",
        "labour_h",
        "labour_cost",
        "parts_cost",
        "note",
    )
    named = [office.component(line["component"]), office.ACTIONS[line["action"]]]
    return [line["line"], *named, *(line[name] for name in kept)]


def _checks(tables: Tables) -> Iterable[list[Any]]:
    words = {True: "Yes", False: "No", None: None}
    for row in tables["job_checks"].iter_rows(named=True):
        limits = [row[name] for name in ("check", "value", "unit", "low", "high")]
        yield [row["job_id"], office.component(row["component"]), *limits, words[row["passed"]]]


def _readings(tables: Tables) -> Iterable[Iterable[Any]]:
    return tables["odometer"].iter_rows()


def _fitted(tables: Tables) -> Iterable[list[Any]]:
    for model, component, count in tables["fitted"].iter_rows():
        yield [model, office.component(component), count]
