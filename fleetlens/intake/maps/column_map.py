"""A column map: for one source, where each of our columns comes from and how it is read."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import Literal

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.shape import nearest, same
from fleetlens.vocabulary.tables import tables

__all__ = ["UNDECIDED", "ColumnMap", "Kind", "Origin"]

Kind = Literal["table", "wide"]

UNDECIDED = "?"  # what a suggestion writes where the file doesn't decide and a person has to
_FROM_COLUMN = "from column "


@dataclass(frozen=True, slots=True)
class Origin:
    """Where one of our columns comes from: one of `column`, `constant`, `made_from`, `counted`; and how it is read.

    `column`: the name in the file. `constant`: one value for all rows. `made_from`: our columns that a job number is
    built from. `counted`: lines are numbered in the order of the file, from 1 within each job.
    `unit`: "km", "mi" or "from column X". `date_order`: "day_first", "month_first" or "year_first". `decimal`: "," or
    ".". `currency`: the only one taken. `date_base`: 1904 where a spreadsheet counts its days from there. `zone`:
    where times with an offset are turned to. `mend_century`: a year before 1950 is moved by a hundred years.
    `values`: their values and ours. `split`: several values may stand in one cell. `text`: free text, from which codes
    and actions are read too.
    """

    column: str = ""
    constant: str = ""
    made_from: tuple[str, ...] = ()
    counted: bool = False
    unit: str = ""
    date_order: str = ""
    decimal: str = ""
    currency: str = ""
    date_base: int = 0
    zone: str = ""
    mend_century: bool = False
    values: Mapping[str, str] = field(default_factory=dict)
    split: bool = False
    text: bool = False

    @property
    def unit_column(self) -> str:
        """The file's column that holds the unit of each row; "" where there is none."""
        return self.unit.removeprefix(_FROM_COLUMN) if self.unit.startswith(_FROM_COLUMN) else ""

    @property
    def columns(self) -> tuple[str, ...]:
        """The file's columns that it reads."""
        return tuple(name for name in (self.column, self.unit_column) if name and name != UNDECIDED)

    @property
    def open_keys(self) -> tuple[str, ...]:
        """The keys that nobody has decided yet."""
        keys = ("column", "unit", "date_order", "decimal", "currency")
        asked = [key for key in keys if getattr(self, key) == UNDECIDED]
        return (*asked, *(["values"] if UNDECIDED in self.values.values() else []))


@dataclass(frozen=True, slots=True)
class ColumnMap:
    """The map of one source: a file, or one sheet of it.

    `kind`: "table" for one input table, "wide" for several in one file, a row of which is a line of a job.
    `header`: the names of the file it was made for. `file`, `sheet`: those it is meant for; "" for any. A file is
    named with or without * for any letters: north.csv, north-*.csv.
    `first_row_only`: what belongs to the job or the vehicle stands on the first row of a job only.
    `job_prefix`: stands before each number of a job, where another source has the same numbers.
    `ignore`: columns left aside on purpose. `tables`: our tables, and of each the columns with their origins.
    `where`: the map's file, or what it is called in errors.
    """

    name: str
    kind: Kind
    header: tuple[str, ...]
    tables: Mapping[str, Mapping[str, Origin]]
    file: str = ""
    sheet: str = ""
    first_row_only: bool = False
    job_prefix: str = ""
    ignore: tuple[str, ...] = ()
    where: str = "this column map"

    def origins(self, table: str) -> dict[str, Origin]:
        """The columns of one of its tables, with those that it shares with the map's jobs filled in."""
        mine = dict(self.tables[table])
        jobs = self.tables.get("jobs", {})
        for shared in ("job_id", "vehicle_id"):
            ours = {column.name for column in tables()[table].columns}
            if shared in ours and shared not in mine and shared in jobs:
                mine = {shared: jobs[shared]} | mine
        return mine

    @property
    def columns(self) -> tuple[str, ...]:
        """The file's columns that the map reads, each once."""
        found = (name for mine in self.tables.values() for origin in mine.values() for name in origin.columns)
        return tuple(dict.fromkeys(found))

    @property
    def open_questions(self) -> tuple[str, ...]:
        """What a person has to decide before a load, each with the key of the map that takes the answer."""
        return tuple(
            question(table, name, key, origin.column)
            for table, mine in self.tables.items()
            for name, origin in mine.items()
            for key in origin.open_keys
        )

    def meant_for(self, file: str, sheet: str) -> bool:
        """Whether it is meant for the sheet of the file, by their names; a file without sheets fits any."""
        named = not self.file or fnmatchcase(same(file), same(self.file))
        return named and (not self.sheet or not sheet or same(self.sheet) == same(sheet))

    def check_decided(self) -> None:
        """Raises FleetlensError that lists all that is undecided."""
        if asked := self.open_questions:
            listed = "\n".join(f"{number}. {one}" for number, one in enumerate(asked, 1))
            many = "s" if len(asked) > 1 else ""
            raise FleetlensError(
                f"this map leaves {len(asked)} question{many} open; nothing was loaded\n{listed}",
                where=self.where,
                do='write the answer in place of "?" in the map, and load again with --map',
            )

    def missing(self, header: Iterable[str]) -> tuple[str, ...]:
        """The columns it reads that `header` doesn't have; blanks and case don't matter."""
        there = {same(name) for name in header}
        return tuple(name for name in self.columns if same(name) not in there)

    def misfit(self, header: Sequence[str], file: str) -> FleetlensError | None:
        """The error for a file with these names that lacks a column which the map reads; None where it fits."""
        name = next(iter(self.missing(header)), None)
        if name is None:
            return None
        mine = {same(one) for one in self.columns}
        near = nearest(name, [other for other in header if same(other) not in mine])
        key = next(
            f"{table}.{ours}"
            for table, origins in self.tables.items()
            for ours, origin in origins.items()
            if name in origin.columns
        )
        return FleetlensError(
            f"the map reads {key} from the column {name!r}, which {file} doesn't have"
            + (f"; the nearest there is {near!r}" if near else ""),
            where=self.where,
            do=f"correct {key} in the map, or make a new one: fleetlens map FILE",
        )

    def check_fits(self, header: Sequence[str], file: str) -> None:
        """Raises FleetlensError where a file with these names lacks a column that the map reads."""
        if misfit := self.misfit(header, file):
            raise misfit


def question(table: str, name: str, key: str, column: str) -> str:
    """The sentence that asks for one key of the map."""
    asked = {
        "column": "which column of the file is it? Write its name",
        "currency": f'column {column!r}: which of its currencies is to be taken? Write currency = "EUR" or another',
        "date_order": f'column {column!r}: is the day or the month first? Write date_order = "day_first" '
        'or "month_first"',
        "decimal": f'column {column!r}: is the comma or the point the decimal mark? Write decimal = "," or "."',
        "values": f'column {column!r}: what do the words with "?" mean? Write one of our values for each',
        "unit": f'column {column!r}: kilometres or miles? Write unit = "km" or "mi"',
    }
    return f"{table}.{name}: {asked[key]}"
