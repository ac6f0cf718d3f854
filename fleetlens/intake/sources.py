"""The files of a load: which ones are meant, which table each holds, and whether they can be read at all."""

import difflib
import hashlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Protocol

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers.opening import can_open, open_file
from fleetlens.intake.readers.sheet import Batch, Sheet
from fleetlens.vocabulary.tables import EXAMPLE_MARK, Table, tables

__all__ = ["Source", "find", "open_all"]

_QUIET = ("datapackage.json", "truth.json", "readme")  # they travel with a data package and hold no rows
_AFTER_NAME = "-_. "


@dataclass(frozen=True, slots=True)
class Source:
    """Rows for one input table: a file, or one sheet of it.

    `sha256` stands for the content: the same content gives the same rows. `batches` gives them from the start, each
    time it is called, as text under the names of the table's columns. `remarks` are what opening it gave to tell.
    `state` is that of the file when it was opened. `told` gives what reading its rows gave to tell.
    `partial`: it tells of vehicles by the way only, so what it leaves blank isn't said, and others come before it.
    `bare`: people are told its name without its folder, which is of no meaning to them.
    """

    path: Path
    table: Table
    sha256: str
    batches: Callable[[], Iterator[Batch]] = field(repr=False)
    state: tuple[int, int]
    remarks: tuple[str, ...] = ()
    sheet: Sheet | None = None
    told: Callable[[], tuple[str, ...]] = tuple
    partial: bool = False
    bare: bool = False

    @property
    def place(self) -> Path:
        """The file with the sheet in it, as people are told: book.xlsx [Jobs]."""
        place = self.path if self.sheet is None else self.path.with_name(self.sheet.name)
        return Path(place.name) if self.bare else place

    @property
    def notes(self) -> tuple[str, ...]:
        """What there is to tell of it; all of it only after its rows were read."""
        found = self.sheet.remarkable if self.sheet is not None else ()
        return (*self.remarks, *((f"{self.place.name}: {', '.join(found)}",) if found else ()), *self.told())

    def check_unchanged(self) -> None:
        """Raises FleetlensError where the file isn't what it was when its hash was taken."""
        if _state(self.path) != self.state:
            raise FleetlensError(
                "this file changed while it was being read",
                where=str(self.path),
                do="load it again when it is complete",
            )


def find(paths: Sequence[Path]) -> tuple[list[Path], list[str]]:
    """The files that `paths` (files and folders) mean, each once, and notes on what was left aside.

    In a folder: its files that can be read, in the order of their names, but for plain .txt and what describes a data
    package; it isn't searched further down.
    Raises FleetlensError where a path isn't there or a folder holds no table.
    """
    found: dict[Path, Path] = {}
    notes = []
    for path in paths:
        if not path.exists():
            raise FleetlensError("there is no such file or folder", where=str(path), do="check the path")
        inside = sorted(path.iterdir()) if path.is_dir() else [path]
        wanted = [entry for entry in inside if entry.is_file() and (entry == path or _is_table(entry))]
        if not wanted:
            raise FleetlensError(
                "this folder holds no table",
                where=str(path),
                do=f"name a folder with CSV, JSON, Parquet or workbook files of these tables: {', '.join(tables())}",
            )
        for entry in wanted:
            found.setdefault(entry.resolve(), entry)
        aside = [e for e in inside if e not in wanted and not _is_quiet(e)]
        for told, names in (
            ("no table by its ending", [e.name for e in aside if not e.is_dir()]),
            ("folders in a folder aren't searched", [e.name for e in aside if e.is_dir()]),
        ):
            if names:
                notes.append(f"{path}: left aside, {told}: {', '.join(names)}")
    if not found:
        raise FleetlensError("no file was named", do="name the files or folders to load")
    return list(found.values()), notes


class Maps(Protocol):
    """What knows the column maps of a load."""

    def sources(self, sheet: Sheet, sha256: str, state: tuple[int, int]) -> "list[Source] | None":
        """The sources of a sheet that a map is meant for; None where none is. `sha256` stands for its content."""

    def outdated(self, sheet: Sheet) -> FleetlensError | None:
        """The error for a sheet that a map was meant for before its columns changed; None where there was none."""

    def unknown(self, sheet: Sheet) -> FleetlensError:
        """The error for a sheet that no map is meant for and that fits no table."""


def open_all(paths: Sequence[Path], maps: Maps, progress: Callable[[float], None]) -> list[Source]:
    """What each file holds, parents first: the tables in their order, files of one table as they come.

    A sheet is read through its map where it has one, else by its names, which are ours.
    Raises one FleetlensError that lists the faults of all files.
    """
    sources, faults = [], []
    for number, path in enumerate(paths):
        try:
            sources += _open(path, maps)
        except FleetlensError as fault:
            faults.append(fault)
        except OSError as error:
            do = "check that you may read it, and that no other program holds it"
            faults.append(FleetlensError(f"this file can't be opened: {error.strerror}", where=str(path), do=do))
        progress((number + 1) / len(paths))
    if len(faults) == 1:
        raise faults[0]
    if faults:
        listed = "\n".join(f"{number}. {fault}" for number, fault in enumerate(faults, 1))
        raise FleetlensError(f"{len(faults)} files can't be read; nothing was loaded\n{listed}")
    order = list(tables())
    return sorted(sources, key=lambda source: (order.index(source.table.name), source.partial))


def _is_quiet(path: Path) -> bool:
    return path.name.lower().startswith((".", *_QUIET)) or path.suffix.lower() == ".toml"


def _is_table(path: Path) -> bool:
    return can_open(path) and path.suffix.lower() != ".txt" and not path.name.lower().startswith((".", *_QUIET))


def _open(path: Path, maps: Maps) -> list[Source]:
    """The sheets of the file that hold a table of ours; of several, those that hold none are told of and left aside."""
    state = _state(path)
    with ThreadPoolExecutor(1) as thread:
        hashing = thread.submit(_digest, path)  # another look at all its bytes, at the same time
        sheets = open_file(path)
        content = hashing.result()
    shown = [sheet for sheet in sheets if not sheet.hidden]
    aside = [f"{path.name}: hidden sheet {sheet.label!r} left aside" for sheet in sheets if sheet.hidden]
    if len(sheets) == 1 and shown:
        mapped = maps.sources(shown[0], content, state)
        return [_source(shown[0], _table_of(shown[0], maps), content, state)] if mapped is None else mapped
    found: list[Source] = []
    for sheet in shown:
        mine = hashlib.sha256(f"{content} {sheet.part}".encode()).hexdigest()
        table = _table_in(sheet)
        if (mapped := maps.sources(sheet, mine, state)) is not None:
            found += mapped
        elif table is None and (outdated := maps.outdated(sheet)):
            raise outdated
        elif table is None:
            aside.append(f"{sheet.name}: fits no table, by its name or its columns: left aside")
        else:
            found.append(_source(sheet, table, mine, state))
    if not found:
        raise FleetlensError(
            "no sheet of this file fits a table, by its name or its columns",
            where=str(path),
            do=f"suggest maps for its sheets: fleetlens map {path} --out map.toml; or name them after their tables",
        )
    return [replace(found[0], remarks=(*aside, *found[0].remarks)), *found[1:]]


def _source(sheet: Sheet, table: Table, sha256: str, state: tuple[int, int]) -> Source:
    columns, notes = _columns(sheet, table)
    batches = partial(_renamed, sheet, columns)
    return Source(sheet.path, table, sha256, batches, state, notes, sheet)


def _renamed(sheet: Sheet, columns: Sequence[tuple[str, str]]) -> Iterator[Batch]:
    """The rows under our names; `columns` are (name in the file, our name)."""
    first = sheet.columns[0]
    for batch in sheet.read(tuple(name for name, _ in columns)):
        rows = batch.rows
        if sheet.part and first in rows.columns:
            example = rows[first].str.starts_with(EXAMPLE_MARK).fill_null(False)
            sheet.tally["example row"] += int(example.sum())
            rows = rows.filter(~example)
        yield Batch(rows.rename(dict(columns)), batch.ragged, batch.share)


def _state(path: Path) -> tuple[int, int]:
    """Size and time of the last change: enough to notice a file that is still being written."""
    found = path.stat()
    return found.st_size, found.st_mtime_ns


def _digest(path: Path) -> str:
    """The SHA-256 of the file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _same(name: str) -> str:
    """A column name as it is compared: case and blanks don't matter."""
    return "_".join(name.strip().lower().split())


def _named(label: str) -> Table | None:
    """The table that a file or sheet is named after: jobs, jobs-2024, jobs (2)."""
    label = label.strip().lower()
    named = [
        table
        for name, table in tables().items()
        if label == name or (label.startswith(name) and label[len(name)] in _AFTER_NAME)
    ]
    return max(
        named, key=lambda table: len(table.name), default=None
    )  # job_codes is no jobs, whatever the mark between


def _fitting(sheet: Sheet) -> list[str]:
    """The tables whose needed columns are all there; of them those that explain most columns."""
    there = {_same(name) for name in sheet.written}
    fitting = {
        table.name: sum(column.name in there for column in table.columns)
        for table in tables().values()
        if there.issuperset(table.required)
    }
    return [name for name, count in fitting.items() if count == max(fitting.values())]


def _table_in(sheet: Sheet) -> Table | None:
    """The table of one of several sheets, by its own name, else by its header, else by the file's name; or none."""
    fitting = _fitting(sheet)
    by_file = _named(_stem(sheet.path))
    if (named := _named(sheet.label)) is not None:
        return named
    if by_file is not None and by_file.name in fitting:
        return by_file
    return tables()[fitting[0]] if len(fitting) == 1 else None


def _table_of(sheet: Sheet, maps: Maps) -> Table:
    """The table of a file's only sheet, by the sheet's name, else by the file's name, else by its header."""
    if (named := _named(sheet.label) or _named(_stem(sheet.path))) is not None:
        return named
    best = _fitting(sheet)
    if not best:
        raise maps.unknown(sheet)
    if len(best) != 1:
        raise FleetlensError(
            f"this file fits several tables: {', '.join(best)}",
            where=str(sheet.path),
            do=f"name it after its table, such as jobs.csv or jobs-2024.csv; the tables are {', '.join(tables())}",
        )
    return tables()[best[0]]


def _stem(path: Path) -> str:
    return path.name.split(".")[0]


def _columns(sheet: Sheet, table: Table) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """The columns that are ours, and notes on the others."""
    place = sheet.path.with_name(sheet.name)
    where = f"{place}, row {sheet.header_row}" if sheet.header_row else str(place)
    ours = [column.name for column in table.columns]
    tidy = [_same(name) for name in sheet.written]
    twice = sorted({name for name in tidy if name and tidy.count(name) > 1})
    if twice:
        raise FleetlensError(
            f"the column {twice[0]!r} is there twice", where=where, do="keep one of them, or rename the other"
        )
    for missing in (name for name in table.required if name not in tidy):
        spare = [name for name in tidy if name not in ours]
        near = difflib.get_close_matches(missing, spare, n=1)
        raise FleetlensError(
            f"the column {missing!r} is missing, and {table.name} can't be read without it",
            where=where,
            do=(f"rename {near[0]!r} to {missing!r}" if near else f"add a column {missing!r}")
            + ", or suggest a map for other names: fleetlens map FILE",
        )
    named = tuple(zip(sheet.columns, sheet.written, tidy, strict=True))
    others = (repr(written) if same else "without a name" for _, written, same in named if same not in ours)
    notes = tuple(f"{sheet.name}: column {other} isn't in table {table.name}: left aside" for other in others)
    return tuple((name, same) for name, _, same in named if same in ours), notes
