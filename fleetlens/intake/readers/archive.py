"""Zip files: what is in them, and whether it may be opened at all."""

import zipfile
from io import BytesIO
from pathlib import PurePosixPath, PureWindowsPath

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.content import BROKEN, LARGEST, RATIO, Content, broken, unzipped
from fleetlens.intake.readers.workbook import protected

__all__ = ["kind", "members"]

_MEMBERS = 10_000
_WORKBOOK = 1 << 30  # bytes that a workbook may unpack to
_ALWAYS = 64 << 20
_ASIDE = ("__MACOSX/", ".DS_Store", "Thumbs.db")


def kind(content: Content) -> str:
    """What a zip file is: "xlsx", "ods" or "zip"; proved to be no bomb, without a password, and to stay in its place.

    Raises FleetlensError where it is damaged or may not be opened.
    """
    listed = _listed(content)
    names = {member.filename.lstrip("/").replace("\\", "/") for member in listed}
    if "[Content_Types].xml" in names and any(name.startswith("xl/") for name in names):
        found = "xlsx"
    elif "content.xml" in names and "META-INF/manifest.xml" in names:
        found = "ods"
        if b"encryption-data" in _manifest(content):
            raise protected(content)
    else:
        found = "zip"
    _check(content, listed, LARGEST if found == "zip" else _WORKBOOK)
    return found


def members(content: Content) -> list[Content]:
    """The files in an archive, in the order of their names."""
    listed = sorted(_listed(content), key=lambda member: member.filename)
    files = [member for member in listed if not member.is_dir() and not member.filename.endswith(_ASIDE)]
    files = [member for member in files if not member.filename.startswith(_ASIDE)]
    return [unzipped(content.path, member) for member in files]


def _listed(content: Content) -> list[zipfile.ZipInfo]:
    try:
        with _opened(content) as archive:
            return archive.infolist()
    except BROKEN as error:
        raise broken(content.where, error) from None


def _opened(content: Content) -> zipfile.ZipFile:
    return zipfile.ZipFile(content.path if content.plain else BytesIO(content.whole()))


def _manifest(content: Content) -> bytes:
    try:
        with _opened(content) as archive, archive.open("META-INF/manifest.xml") as file:
            return file.read(1 << 20)
    except BROKEN as error:
        raise broken(content.where, error) from None


def _check(content: Content, listed: list[zipfile.ZipInfo], largest: int) -> None:
    """Raises FleetlensError where the archive is a bomb, locked, or names a place outside of itself."""
    where = content.where
    if len(listed) > _MEMBERS:
        raise FleetlensError(
            f"this archive holds more than {_MEMBERS:,} files", where=where, do="unpack it and load its folder"
        )
    for member in listed:
        posix, windows = PurePosixPath(member.filename), PureWindowsPath(member.filename)
        if posix.is_absolute() or windows.is_absolute() or windows.drive or ".." in (*posix.parts, *windows.parts):
            raise FleetlensError(
                f"this archive names a place outside of itself: {member.filename!r}",
                where=where,
                do="don't trust it; ask whoever made it for a proper one",
            )
        if member.flag_bits & 1:
            raise protected(content)
    unpacked, packed = sum(m.file_size for m in listed), sum(m.compress_size for m in listed)
    if unpacked > largest or (unpacked > _ALWAYS and unpacked > RATIO * max(packed, 1)):
        raise FleetlensError(
            f"this archive unpacks to {unpacked / 1e6:,.0f} MB, more than {RATIO} times its size "
            f"or more than {largest >> 30} GB",
            where=where,
            do="unpack it yourself, look at what is in it, and load that",
        )
