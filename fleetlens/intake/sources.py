"""The files of a load: which ones are meant, which table each holds, and whether they can be read at all."""

import codecs
import difflib
import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from fleetlens.errors import FleetlensError
from fleetlens.intake import reading
from fleetlens.intake.readers.sheet import Batch, Sheet
from fleetlens.vocabulary.tables import Table, tables

__all__ = ["Source", "find", "open_all"]

SUFFIXES = (".csv", ".parquet")
_QUIET = ("datapackage.json", "truth.json", "readme")  # they travel with a data package and hold no rows
_AFTER_NAME = "-_. "
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Source:
    """Rows for one input table: a file, or one sheet of it.

    `sha256` stands for the content: the same content gives the same rows. `batches` gives them from the start, each
    time it is called, as text under the names of the table's columns. `remarks` are what opening it gave to tell.
    `state` is that of the file when it was opened.
    """

    path: Path
    table: Table
    sha256: str
    batches: Callable[[], Iterator[Batch]] = field(repr=False)
    state: tuple[int, int]
    remarks: tuple[str, ...] = ()
    sheet: Sheet | None = None

    @property
    def place(self) -> Path:
        """The file with the sheet in it, as people are told: book.xlsx [Jobs]."""
        return self.path if self.sheet is None else self.path.with_name(self.sheet.name)

    @property
    def notes(self) -> tuple[str, ...]:
        """What there is to tell of it; all of it only after its rows were read."""
        return self.remarks

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

    In a folder: its CSV and Parquet files in the order of their names; it isn't searched further down.
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
                do=f"name a folder with CSV or Parquet files of these tables: {', '.join(tables())}",
            )
        for entry in wanted:
            found.setdefault(entry.resolve(), entry)
        aside = [e.name for e in inside if e not in wanted and not e.name.lower().startswith((".", *_QUIET))]
        if aside:
            notes.append(f"{path}: left aside, not a CSV or Parquet file: {', '.join(aside)}")
    if not found:
        raise FleetlensError("no file was named", do="name the files or folders to load")
    return list(found.values()), notes


def open_all(paths: Sequence[Path], progress: Callable[[float], None]) -> list[Source]:
    """What each file holds, parents first: the tables in their order, files of one table as they come.

    Raises one FleetlensError that lists the faults of all files.
    """
    sources, faults = [], []
    for number, path in enumerate(paths):
        try:
            sources.append(_open(path))
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
    return sorted(sources, key=lambda source: order.index(source.table.name))


def _is_table(path: Path) -> bool:
    return path.suffix.lower() in SUFFIXES


def _open(path: Path) -> Source:
    if not _is_table(path):
        raise FleetlensError(
            f"a file of this kind can't be loaded: {path.suffix or 'no ending'}",
            where=str(path),
            do="save it as CSV (UTF-8, commas) or as Parquet",
        )
    if path.stat().st_size == 0:
        raise reading.empty(path)
    state = _state(path)
    csv = path.suffix.lower() == ".csv"
    sha256, odd = _examine_csv(path) if csv else (_examine(path, lambda _: None), False)
    names = reading.header(path)
    table = _table_of(path, names)
    columns, notes = _columns(path, table, names)
    if odd and reading.ends_inside_quotes(path):
        raise FleetlensError(
            "a quotation mark is opened and never closed: all that follows would be one value",
            where=str(path),
            do="look for a quotation mark too many or too few",
        )
    return Source(path, table, sha256, partial(reading.batches, path, columns), state, notes)


def _state(path: Path) -> tuple[int, int]:
    """Size and time of the last change: enough to notice a file that is still being written."""
    found = path.stat()
    return found.st_size, found.st_mtime_ns


def _examine(path: Path, look: Callable[[bytes], None]) -> str:
    """The SHA-256 of the file; `look` sees every block of it."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
            look(block)
    return digest.hexdigest()


def _examine_csv(path: Path) -> tuple[str, bool]:
    """The SHA-256 of a text file, and whether its quotation marks are odd; proved to be UTF-8 without NUL."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    line, marks = 1, 0

    def look(block: bytes) -> None:
        nonlocal line, marks
        if b"\0" in block:
            raise FleetlensError(
                "this is not a text file", where=str(path), do="save it as CSV (UTF-8, commas) or as Parquet"
            )
        try:
            decoder.decode(block)
        except UnicodeDecodeError as error:
            line += block[: max(error.start, 0)].count(b"\n")
            raise FleetlensError(
                "this file is not in UTF-8",
                where=f"{path}, line {line}",
                do="save it again as CSV with the encoding UTF-8",
            ) from None
        line += block.count(b"\n")
        marks += block.count(b'"')

    sha256 = _examine(path, look)
    try:
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        raise FleetlensError(
            "this file ends in the middle of a character",
            where=f"{path}, line {line}",
            do="copy or save it again: it was cut off",
        ) from None
    return sha256, marks % 2 == 1


def _same(name: str) -> str:
    """A column name as it is compared: case and blanks don't matter."""
    return "_".join(name.strip().lower().split())


def _table_of(path: Path, names: Iterable[str]) -> Table:
    """The table by the file's name, else by its header."""
    stem = path.stem.lower()
    named = [
        table
        for name, table in tables().items()
        if stem == name or (stem.startswith(name) and stem[len(name)] in _AFTER_NAME)
    ]
    if named:
        return max(named, key=lambda table: len(table.name))  # job_codes is no jobs, whatever the mark between
    there = {_same(name) for name in names}
    fitting = {
        table.name: sum(column.name in there for column in table.columns)
        for table in tables().values()
        if there.issuperset(table.required)
    }
    best = [name for name, count in fitting.items() if count == max(fitting.values())]
    if len(best) != 1:
        raise FleetlensError(
            f"this file fits several tables: {', '.join(best)}"
            if best
            else "this file fits no table, by its name or its columns",
            where=str(path),
            do=f"name it after its table, such as jobs.csv or jobs-2024.csv; the tables are {', '.join(tables())}",
        )
    return tables()[best[0]]


def _columns(path: Path, table: Table, names: Sequence[str]) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """The columns that are ours, and notes on the others."""
    where = f"{path}, row 1"
    ours = [column.name for column in table.columns]
    tidy = [_same(name) for name in names]
    twice = sorted({name for name in tidy if name and tidy.count(name) > 1})
    if twice:
        raise FleetlensError(
            f"the column {twice[0]!r} is there twice", where=where, do="keep one of them, or rename the other"
        )
    for missing in (name for name in table.required if name not in tidy):
        spare = [name for name in tidy if name not in ours]
        near = difflib.get_close_matches(missing, spare, n=1)
        do = f"rename {near[0]!r} to {missing!r}" if near else f"add a column {missing!r}"
        if len(names) == 1 and (mark := next((mark for mark in ";\t|" if mark in names[0]), None)):
            do = f"save it with commas between the columns: this file has {mark!r}"
        raise FleetlensError(
            f"the column {missing!r} is missing, and {table.name} can't be read without it", where=where, do=do
        )
    mine = tuple((name, same) for name, same in zip(names, tidy, strict=True) if same in ours)
    others = (
        repr(name) if same else "without a name" for name, same in zip(names, tidy, strict=True) if same not in ours
    )
    return mine, tuple(f"{path.name}: column {other} isn't in table {table.name}: left aside" for other in others)
