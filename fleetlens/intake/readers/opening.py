"""Any file as sheets: its kind by its first bytes, else by its ending."""

from dataclasses import replace
from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import archive, delimited, json_rows, parquet, workbook
from fleetlens.intake.readers.content import Content, of_file
from fleetlens.intake.readers.limits import empty
from fleetlens.intake.readers.sheet import Sheet

__all__ = ["ENDINGS", "can_open", "open_file"]

_TEXT = (".csv", ".tsv", ".tab", ".psv", ".txt")
_JSON = (".json", ".ndjson", ".jsonl")
_BOOKS = (".xlsx", ".xlsm", ".xls", ".ods")
ENDINGS = (*_TEXT, *_JSON, *_BOOKS, ".parquet")
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_START = 1 << 12


def can_open(path: Path) -> bool:
    """Whether the ending of the file is one that can be read; a packed one by what is in it."""
    suffix = path.suffix.lower()
    return suffix == ".zip" or (path.with_suffix("") if suffix == ".gz" else path).suffix.lower() in ENDINGS


def open_file(path: Path) -> list[Sheet]:
    """The sheets of a file, in their order; never none.

    Raises FleetlensError where it can't be read: what, where, and what to do.
    """
    if not can_open(path):
        raise FleetlensError(
            f"a file of this kind can't be loaded: {path.suffix or 'no ending'}",
            where=str(path),
            do="save it as CSV (UTF-8, commas) or as Parquet",
        )
    return _sheets(of_file(path))


def _sheets(content: Content, *, packed: bool = False) -> list[Sheet]:
    start = content.start(_START)
    if not start:
        raise empty(content.where)
    if start.startswith(_ZIP) and content.suffix != ".parquet":
        kind = archive.kind(content)
        if kind != "zip":
            return workbook.sheets(content, kind)
        return _in_archive(content, packed=packed)
    if start.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in content.whole():
            raise workbook.protected(content)
        return workbook.sheets(content, "xls")
    return _by_ending(content, start)


def _by_ending(content: Content, start: bytes) -> list[Sheet]:
    if content.suffix == ".parquet" or start.startswith(b"PAR1"):
        return [parquet.sheet(content)]
    if content.suffix in _JSON:
        return json_rows.sheets(content)
    if content.suffix in _TEXT:
        return [delimited.sheet(content)]
    return [_in_disguise(content, start)]


def _in_archive(content: Content, *, packed: bool) -> list[Sheet]:
    """The sheets of all members of a zip file; those that hold no table by their name are told of and left aside."""
    if packed or not content.plain:
        raise FleetlensError(
            "this archive is inside another one", where=content.where, do="unpack it and load what is in it"
        )
    members = archive.members(content)
    if nested := next((member for member in members if member.suffix in (".zip", ".gz", ".7z", ".rar", ".tar")), None):
        raise FleetlensError(
            "this archive is inside another one", where=nested.where, do="unpack it and load what is in it"
        )
    wanted = [member for member in members if member.suffix in ENDINGS]
    aside = [member.name for member in members if member.suffix not in ENDINGS]
    found = [sheet for member in wanted for sheet in _sheets(member, packed=True)]
    if not found:
        raise FleetlensError(
            "this archive holds no file that can be read",
            where=content.where,
            do="put CSV, JSON, Parquet or workbook files into it",
        )
    if aside:
        found[0] = replace(found[0], found=(*found[0].found, f"left aside in the archive: {', '.join(aside)}"))
    return found


def _in_disguise(content: Content, start: bytes) -> Sheet:
    """Text under the ending of a workbook, as many programs export it."""
    told = content.suffix[1:].upper()
    text = start.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if text.startswith(b"<"):
        raise FleetlensError(
            f"this is a web page or XML under the ending of {told}",
            where=content.where,
            do="open it in a spreadsheet program and save it as XLSX, or as CSV",
        )
    if text.startswith((b"PK", b"\xd0\xcf")) or content.suffix != ".xls":
        raise FleetlensError(
            f"this is no {told} file that can be read: it is damaged",
            where=content.where,
            do="copy it again, or save it again as XLSX or CSV",
        )
    sheet = delimited.sheet(content)
    return replace(sheet, found=(f"text under the ending of {told}", *sheet.found))
