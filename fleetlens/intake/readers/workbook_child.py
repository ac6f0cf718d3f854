"""A program of its own: the sheets of a workbook as Arrow files, with what its markup says beside the values.

Run as `python -I workbook_child.py BOOK FOLDER KIND`, in a process whose memory is bounded: whatever a damaged or
hostile workbook does to the libraries that read it, it does there. It writes FOLDER/book.json; a fault that it
understands stands there too.
"""

import json
import re
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import fastexcel
import pyarrow as pa
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import ParseError, fromstring, iterparse

try:
    import resource
except ImportError:  # not on this system: the bound on the file's size must do
    resource = None  # type: ignore[assignment]

MEMORY = 2 << 30  # bytes of address space
CELLS = 30_000_000  # of one sheet, counted as the rectangle that they span
_NAMED = 5  # places that are named
_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_STRICT_RELATION = "{http://purl.oclc.org/ooxml/officeDocument/relationships}id"


class BookError(Exception):
    """What is wrong with the workbook, in words."""


def main(book: Path, folder: Path, kind: str) -> None:
    """Write what is in the workbook."""
    if resource is not None:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        told: dict[str, Any] = {"sheets": _sheets(book, folder, kind)}
    except BookError as fault:
        told = {"fault": str(fault)}
    except DefusedXmlException:
        told = {"fault": "it declares entities or a document type, which no workbook needs"}
    except (ParseError, zipfile.BadZipFile, EOFError, KeyError, ValueError) as error:
        told = {"fault": f"it is damaged: {str(error).splitlines()[0] if str(error) else type(error).__name__}"}
    except fastexcel.FastExcelError as error:
        text = str(error)
        protected = re.search("(?i)password|encrypt", text) is not None
        told = {"protected": True} if protected else {"fault": f"it is damaged: {text.splitlines()[0]}"}
    (folder / "book.json").write_text(json.dumps(told), encoding="utf-8")


def _sheets(book: Path, folder: Path, kind: str) -> list[dict[str, Any]]:
    markup = {"xlsx": _of_xlsx, "ods": _of_ods}.get(kind, lambda _: {})(book)
    # By its ending, where that is right, since only then does the library say what is wrong; else by its content.
    reader = fastexcel.read_excel(str(book) if book.suffix.lower() == f".{kind}" else book.read_bytes())
    found = []
    for number, name in enumerate(reader.sheet_names):
        sheet = reader.load_sheet(number, header_row=None, skip_rows=0, dtypes="string")
        if sheet.height * sheet.width > CELLS:
            raise BookError(f"sheet {name!r} spans more than {CELLS:,} cells")
        facts = markup.get(name, {}) | {"name": name, "hidden": sheet.visible != "visible", "first": 0}
        if sheet.width:
            facts["first"] = sheet.available_columns()[0].absolute_index
            batch = sheet.to_arrow()
            with pa.OSFile(str(folder / f"{number}.arrow"), "wb") as file, pa.ipc.new_file(file, batch.schema) as out:
                out.write_batch(batch)
        found.append(facts)
    return found


def _of_xlsx(book: Path) -> dict[str, dict[str, Any]]:
    """What the markup of each sheet says; all of the markup is proved to be well formed and without entities."""
    with zipfile.ZipFile(book) as archive:
        parts = {name.lstrip("/"): name for name in archive.namelist()}
        paths = _xlsx_paths(archive, parts)
        told = {}
        for part, member in parts.items():
            if not part.lower().endswith((".xml", ".rels", ".vml")):
                continue
            with archive.open(member) as file:
                if part in paths:
                    told[paths[part]] = _xlsx_sheet(file, paths[part])
                else:
                    for _, element in iterparse(file, forbid_dtd=True):
                        element.clear()
    return told


def _xlsx_paths(archive: zipfile.ZipFile, parts: dict[str, str]) -> dict[str, str]:
    """The sheets' names by their parts."""
    if "xl/workbook.xml" not in parts or "xl/_rels/workbook.xml.rels" not in parts:
        return {}  # kept elsewhere, or binary
    relations = fromstring(archive.read(parts["xl/_rels/workbook.xml.rels"]), forbid_dtd=True)
    targets = {one.get("Id"): str(one.get("Target", "")) for one in relations}
    found = {}
    for element in fromstring(archive.read(parts["xl/workbook.xml"]), forbid_dtd=True).iter():
        if _tag(element) == "sheet":
            target = targets.get(element.get(_RELATION) or element.get(_STRICT_RELATION), "")
            path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            found[path] = str(element.get("name"))
    return found


def _xlsx_sheet(file: Any, name: str) -> dict[str, Any]:
    found = _Xlsx()
    data = None
    for event, element in iterparse(file, events=("start", "end"), forbid_dtd=True):
        tag = _tag(element)
        if event == "start":
            data = element if tag == "sheetData" else data
        elif tag == "c":
            found.cell(element)
        elif tag == "row" and data is not None:
            found.hidden_rows += element.get("hidden") in ("1", "true")
            data.clear()
        elif tag == "mergeCell":
            found.merged(element.get("ref", ""))
    if found.lowest * found.rightmost > CELLS:
        raise BookError(f"sheet {name!r} spans more than {CELLS:,} cells")
    return _facts(found.merges, found.errors, found.bare, found.hidden_rows)


class _Xlsx:
    """What the cells of a sheet say beside their values."""

    def __init__(self) -> None:
        self.merges: list[list[int]] = []
        self.errors: list[str] = []
        self.bare: list[str] = []
        self.hidden_rows = self.lowest = self.rightmost = 0

    def cell(self, element: Any) -> None:
        """An error, a formula without a value; how far the sheet reaches."""
        place = element.get("r", "")
        value, formula = _child(element, "v"), _child(element, "f")
        if element.get("t") == "e":
            self.errors.append(place)
        elif formula is not None and element.get("t") != "str" and (value is None or not value.text):
            self.bare.append(place)
        if found := _REFERENCE.fullmatch(place):
            self.lowest, self.rightmost = max(self.lowest, int(found[2])), max(self.rightmost, _column(found[1]))

    def merged(self, reference: str) -> None:
        """An area of cells that are one."""
        corners = [_REFERENCE.fullmatch(corner) for corner in reference.split(":")]
        if len(corners) == 2 and corners[0] and corners[1]:
            top, bottom = corners[0], corners[1]
            self.merges.append([int(top[2]), _column(top[1]), int(bottom[2]), _column(bottom[1])])


def _of_ods(book: Path) -> dict[str, dict[str, Any]]:
    """What the markup of each sheet says, as for XLSX."""
    told = {}
    with zipfile.ZipFile(book) as archive:
        for member in archive.namelist():
            if member.lower().endswith((".xml", ".rdf")) and member != "content.xml":
                with archive.open(member) as file:
                    for _, element in iterparse(file, forbid_dtd=True):
                        element.clear()
        with archive.open("content.xml") as file:
            for name, facts in _ods_sheets(file):
                told[name] = facts
    return told


def _ods_sheets(file: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    found = _Ods("")
    for event, element in iterparse(file, events=("start", "end"), forbid_dtd=True):
        tag = _tag(element)
        if event == "start":
            if tag == "table":
                found = _Ods(_get(element, "name", ""))
            elif tag == "table-row":
                found.begin_row(element)
        elif tag in ("table-cell", "covered-table-cell"):
            found.cell(element)
            element.clear()
        elif tag == "table-row":
            found.row += found.repeated
            element.clear()
        elif tag == "table":
            yield found.name, _facts(found.merges, [], found.bare, found.hidden_rows) | {"times": found.times}
            element.clear()


class _Ods:
    """What the cells of a sheet say beside their values. A row and a cell may stand for several."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.row = self.column = self.cells = self.hidden_rows = 0
        self.repeated = 1
        self.merges: list[list[int]] = []
        self.bare: list[str] = []
        self.times: dict[str, str] = {}

    def begin_row(self, element: Any) -> None:
        """A row, or many like it."""
        self.repeated, self.column = _number(element, "number-rows-repeated"), 0
        if _get(element, "visibility", "visible") != "visible" and self.repeated < 1000:
            self.hidden_rows += self.repeated

    def cell(self, element: Any) -> None:
        """A merged area, a time of day, a formula without a value; how many cells there are."""
        across = _number(element, "number-columns-repeated")
        wide, high = _number(element, "number-columns-spanned"), _number(element, "number-rows-spanned")
        kind = _get(element, "value-type", "")
        if wide > 1 or high > 1:
            self.merges.append([self.row + 1, self.column + 1, self.row + high, self.column + wide])
        if kind == "time":
            self.times[f"{self.row + 1},{self.column + 1}"] = _get(element, "time-value", "")
        elif _get(element, "formula", "") and not kind:
            self.bare.append(f"{_letters(self.column + 1)}{self.row + 1}")
        self.cells += across * self.repeated if kind else 0
        if self.cells > CELLS:
            raise BookError(f"sheet {self.name!r} has more than {CELLS:,} cells")
        self.column += across


def _facts(merges: list[list[int]], errors: list[str], bare: list[str], hidden_rows: int) -> dict[str, Any]:
    return {
        "merges": merges,
        "errors": [len(errors), errors[:_NAMED]],
        "bare": [len(bare), bare[:_NAMED]],
        "hidden_rows": hidden_rows,
    }


def _tag(element: Any) -> str:
    """The name without its namespace."""
    return str(element.tag).rpartition("}")[2]


def _child(element: Any, tag: str) -> Any:
    return next((child for child in element if _tag(child) == tag), None)


def _get(element: Any, name: str, default: str) -> str:
    return next((str(value) for key, value in element.items() if key.rpartition("}")[2] == name), default)


def _number(element: Any, name: str) -> int:
    text = _get(element, name, "1")
    return int(text) if text.isdecimal() and len(text) < 9 else 1


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def _letters(column: int) -> str:
    found = ""
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(65 + rest) + found
    return found


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
