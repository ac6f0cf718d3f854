"""Workbooks made for tests, by libraries that fleetlens itself doesn't use to read."""

from collections.abc import Sequence
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P

Cells = Sequence[Sequence[object]]


def xlsx(path: Path, sheets: dict[str, Cells], merges: Sequence[str] = ()) -> Path:
    """A workbook; `merges` are areas of its first sheet, such as "A2:A4"."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, cells in sheets.items():
        sheet = book.create_sheet(name)
        for row in cells:
            sheet.append(list(row))
    for area in merges:
        book.worksheets[0].merge_cells(area)
    book.save(path)
    return path


def xls(path: Path, sheets: dict[str, Cells]) -> Path:
    """A workbook of the old binary kind; dates are given as such."""
    book = xlwt.Workbook()
    day = xlwt.easyxf(num_format_str="YYYY-MM-DD")
    for name, cells in sheets.items():
        sheet = book.add_sheet(name)
        for number, row in enumerate(cells):
            for place, value in enumerate(row):
                if value is not None:
                    sheet.write(number, place, value, *([day] if hasattr(value, "year") else []))
    book.save(str(path))
    return path


def ods(path: Path, sheets: dict[str, Cells]) -> Path:
    """An open document; a value ("text", 2) is a cell over two rows, "=..." a formula without a value."""
    book = OpenDocumentSpreadsheet()
    for name, cells in sheets.items():
        table = Table(name=name)
        for row in cells:
            line = TableRow()
            for value in row:
                line.addElement(_ods_cell(value))
            table.addElement(line)
        table.addElement(TableRow(numberrowsrepeated="1000000"))
        book.spreadsheet.addElement(table)
    book.save(str(path))
    return path


def _ods_cell(value: object) -> TableCell:
    if value is None:
        return TableCell()
    if value is ...:
        return CoveredTableCell()
    if isinstance(value, tuple):
        cell = TableCell(valuetype="string", numberrowsspanned=str(value[1]), numbercolumnsspanned="1")
        value = value[0]
    elif hasattr(value, "hour") and not hasattr(value, "year"):
        cell = TableCell(valuetype="time", timevalue=f"PT{value:%H}H{value:%M}M{value:%S}S")
    elif hasattr(value, "year"):
        cell = TableCell(valuetype="date", datevalue=value.isoformat())
    elif isinstance(value, int | float):
        cell = TableCell(valuetype="float", value=str(value))
    elif str(value).startswith("="):
        return TableCell(formula=f"of:{value}")
    else:
        cell = TableCell(valuetype="string")
    cell.addElement(P(text=str(value)))
    return cell


def replace_in(path: Path, member: str, old: bytes, new: bytes) -> Path:
    """Change bytes of one member of a workbook."""
    with ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    assert old in members[member]
    members[member] = members[member].replace(old, new)
    with ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path
